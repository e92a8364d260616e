/** Who took something off the board and when, and the way back for those who may. */
import { bringBack } from "../store/acts/index.ts";
import type { ItemRow } from "../store/view.ts";
import { say } from "../words/index.ts";
import { authorName, isOwner, stampMs, when } from "./know.ts";
import { attempt } from "./said.tsx";

/** `Taken off the board by Olga, today 14:20`. */
export function goneInWords(row: ItemRow): string {
  const at = row.stamps.gone ?? row.at;
  return say("settle.gone_by", { name: authorName(at), when: when(stampMs(at)) });
}

export function Gone({ row }: { row: ItemRow }) {
  return (
    <>
      <p data-testid="gone-by">{goneInWords(row)}</p>
      {isOwner() && (
        <button
          type="button"
          class="button button-main"
          data-testid="bring-back"
          onClick={() => attempt(() => bringBack(row.kind, row.id), say("said.back"))}
        >
          {say("job.bring_back")}
        </button>
      )}
    </>
  );
}
