/** Photos: taken or chosen, and shown from this phone or when they arrive. */
import { useEffect, useId, useState } from "preact/hooks";
import { photoUrl, unsent } from "../store/photos.ts";
import type { RecordRow } from "../store/view.ts";
import { say } from "../words/index.ts";
import { Icon } from "./icon.tsx";
import { stampMs, when } from "./know.ts";
import { PhotoBar } from "./photobar.tsx";
import { to } from "./router.ts";

/** Two buttons over two hidden inputs: the camera, and what is already on the phone. */
export function PhotoPick({
  onPhoto,
  testid,
}: {
  onPhoto: (photo: File) => void;
  testid?: string;
}) {
  return (
    <div class="buttons">
      <OnePick camera label={say("photo.take")} onPhoto={onPhoto} testid={testid} />
      <OnePick
        label={say("photo.choose")}
        onPhoto={onPhoto}
        testid={testid && `${testid}-choose`}
      />
    </div>
  );
}

function OnePick(props: {
  camera?: boolean;
  label: string;
  onPhoto: (photo: File) => void;
  testid?: string | undefined;
}) {
  const id = useId();
  return (
    <span class="photo-pick">
      <input
        id={id}
        type="file"
        accept="image/*"
        {...(props.camera ? { capture: "environment" } : {})}
        data-testid={props.testid}
        onChange={(event) => {
          const photo = event.currentTarget.files?.[0];
          if (photo) props.onPhoto(photo);
          event.currentTarget.value = "";
        }}
      />
      <label for={id} class="button">
        <Icon name={props.camera ? "photo" : "add"} />
        {props.label}
      </label>
    </span>
  );
}

/** A photo that was taken and is not saved yet. */
export function PhotoDraft({ photo, onDrop }: { photo: File; onDrop: () => void }) {
  const [url, setUrl] = useState("");
  useEffect(() => {
    const made = URL.createObjectURL(photo);
    setUrl(made);
    return () => URL.revokeObjectURL(made);
  }, [photo]);
  return (
    <figure class="photo">
      {url && <img src={url} alt={say("photo.ready")} />}
      <figcaption>
        {say("photo.ready")}
        <button type="button" class="button" onClick={onDrop}>
          {say("photo.without")}
        </button>
      </figcaption>
    </figure>
  );
}

/** Small in a list; a tap fetches the whole one and shows it large. */
export function Photo({ row }: { row: RecordRow }) {
  const [large, setLarge] = useState(false);
  const sha256 = String(row.body.sha256);
  const whole = large ? photoUrl(sha256, "whole").value : null;
  const url = whole ?? photoUrl(sha256, "small").value;
  const words = String(row.body.text ?? "");
  const taken = when(String(row.body.taken_at ?? new Date(stampMs(row.at)).toISOString()));
  const alt = words ? say("photo.alt", { what: words }) : say("photo.alt_none", { when: taken });
  return (
    <figure class={large ? "photo photo-large" : "photo"} data-testid="photo">
      {url ? (
        <button
          type="button"
          class="photo-button"
          aria-expanded={large}
          onClick={() => setLarge(!large)}
        >
          <img src={url} alt={alt} loading="lazy" />
          <span class="unseen">{say(large ? "photo.smaller" : "photo.bigger")}</span>
        </button>
      ) : (
        <p class="photo-coming">{say("photo.coming")}</p>
      )}
      {url && large && !whole && (
        <p class="strong" role="status">
          {say("photo.whole_coming")}
        </p>
      )}
      {words && <figcaption>{words}</figcaption>}
      <PhotoState sha256={sha256} />
    </figure>
  );
}

/** Whether a picture of this phone is on the server, as long as it is not. */
function PhotoState({ sha256 }: { sha256: string }) {
  const one = unsent.value.get(sha256);
  if (!one) return null;
  if (one.problem)
    return (
      <p class="photo-state" data-testid="photo-refused">
        <a class="line-link" href={to("settle")}>
          {say("photo.refused")}
        </a>
      </p>
    );
  return (
    <div class="photo-state" data-testid="photo-waits">
      <PhotoBar sha256={sha256}>{say("photo.waits")}</PhotoBar>
    </div>
  );
}
