/** What this phone holds, whether there is room, and whether the browser promised to keep it. */
import { useEffect, useState } from "preact/hooks";
import { Slab } from "../../parts/page.tsx";
import { askToKeep, lookAtRoom, room } from "../../store/room.ts";
import { syncState } from "../../store/syncState.ts";
import { me, view } from "../../store/view.ts";
import { region, say } from "../../words/index.ts";

const MB = 1e6;

/** `12 MB`, `3.4 GB`: decimal units, as phones count. */
function sizeInWords(bytes: number): string {
  const large = bytes >= 1000 * MB;
  return new Intl.NumberFormat(region(), {
    style: "unit",
    unit: large ? "gigabyte" : "megabyte",
    maximumFractionDigits: large || bytes < 10 * MB ? 1 : 0,
  }).format(bytes / (large ? 1000 * MB : MB));
}

/** Whether the same person has, or had, another phone. */
const hasOtherPhones = (): boolean =>
  view.value
    .items("device")
    .some((row) => row.fields.member_id === me.value?.member_id && row.id !== me.value?.device_id);

export function ThisPhone() {
  const [asked, setAsked] = useState(false);
  const { waiting, photos_waiting, full } = syncState.value;
  useEffect(() => void lookAtRoom(), [waiting, photos_waiting, full]);
  const { used_b, left_b, kept } = room.value;
  const size = (bytes: number | null) =>
    bytes === null ? say("phone.not_said") : sizeInWords(bytes);
  const promise = kept === null ? "phone.not_said" : kept ? "phone.kept" : "phone.not_kept";
  const lines: [string, string, string, string][] = [
    ["used", say("phone.used"), size(used_b), "plain"],
    ["left", say("phone.left"), size(left_b), full ? "gone" : "plain"],
    ["keeps", say("phone.keeps"), say(promise), kept ? "open" : "closing"],
  ];
  return (
    <Slab title={say("phone.title")} testid="this-phone">
      <dl class="facts">
        {lines.map(([name, title, value, tone]) => (
          <div key={name} data-tone={tone} data-testid={`phone-${name}`}>
            <dt>{title}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      {full && <p class="problem">{say("why.phone_full")}</p>}
      {kept !== true && (
        <>
          <p class="slab-note">{say("phone.not_kept_why")}</p>
          <button
            type="button"
            class="button button-wide"
            data-testid="phone-ask"
            onClick={async () => {
              await askToKeep(true);
              setAsked(true);
            }}
          >
            {say("phone.ask")}
          </button>
          {asked && (
            <p class="slab-note strong" role="status">
              {say("phone.asked_in_vain")}
            </p>
          )}
        </>
      )}
      <p class="slab-note">{say("phone.what_goes")}</p>
      {hasOtherPhones() && <p class="slab-note">{say("phone.was_wiped")}</p>}
    </Slab>
  );
}
