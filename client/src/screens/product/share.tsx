/** One product as a file: given out, and taken in. The format is that of docs/profiles.md. */
import { signal } from "@preact/signals";
import { useId, useState } from "preact/hooks";
import { tell } from "../../handbook/index.ts";
import { Icon } from "../../parts/icon.tsx";
import { go } from "../../parts/router.ts";
import type { ProfileJson } from "./bundled.ts";
import { SheetError } from "./check.ts";
import { tellWrong } from "./draft.ts";
import { profileIn, profileOut } from "./file.ts";

const MOST_B = 100_000;

/** What was taken in from a file and is not saved yet. */
export const takenIn = signal<ProfileJson | null>(null);

export function GiveOut({ profile }: { profile: ProfileJson }) {
  const give = () => {
    const blob = new Blob([profileOut(profile)], { type: "application/json" });
    const link = document.createElement("a");
    link.href = URL.createObjectURL(blob);
    link.download = `${String(profile.id)}.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  };
  return (
    <button type="button" class="button" onClick={give} data-testid="product-out">
      <Icon name="send" />
      {tell("product.out")}
    </button>
  );
}

export function TakeIn() {
  const id = useId();
  const [wrong, setWrong] = useState("");
  const take = async (file: File) => {
    try {
      takenIn.value = profileIn(file.size > MOST_B ? "" : await file.text());
      setWrong("");
      go("product", "new", "file");
    } catch (error) {
      if (!(error instanceof SheetError)) throw error;
      setWrong(tell("product.in_wrong", { field: error.field, why: tellWrong(error) }));
    }
  };
  return (
    <>
      <span class="photo-pick">
        <input
          id={id}
          type="file"
          accept="application/json,.json"
          data-testid="product-in"
          onChange={(event) => {
            const file = event.currentTarget.files?.[0];
            if (file) take(file);
            event.currentTarget.value = "";
          }}
        />
        <label for={id} class="button">
          <Icon name="add" />
          {tell("product.in")}
        </label>
      </span>
      {wrong && (
        <p class="problem" role="alert" data-testid="product-in-wrong">
          {wrong}
        </p>
      )}
    </>
  );
}
