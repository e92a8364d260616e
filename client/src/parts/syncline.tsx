/** How the sending stands, always in sight and always in words. A tap leads to what needs a person. */
import { syncState } from "../store/syncState.ts";
import { say } from "../words/index.ts";
import { Icon } from "./icon.tsx";
import { to } from "./router.ts";

type State = typeof syncState.value;

/** What waits, in words: a key that is withdrawn sends nothing, signal or not. */
function waitingWords({ waiting, online, running, trouble }: State): string {
  if (trouble === "revoked") return say("sync.kept", { n: waiting });
  return say(running && online && trouble === "" ? "sync.sending" : "sync.waiting", { n: waiting });
}

/** Until the refit has come for the first time there is nothing to be called sent. */
function comingWords({ entries, parts, parts_here, online }: State): string {
  if (!online) return say("sync.not_here");
  if (parts > 1) return say("sync.coming_part", { part: parts_here, of: parts });
  return entries > 0 ? say("sync.coming_so_far", { n: entries }) : say("sync.coming");
}

/** The state in words, and the colour of its meaning. */
export function syncWords(): { words: string[]; tone: string } {
  const state = syncState.value;
  const {
    waiting,
    need_you,
    photos_waiting,
    photo_pct,
    photos_refused,
    online,
    trouble,
    met,
    full,
  } = state;
  const stopped = trouble === "revoked" || trouble === "too_old";
  const words: string[] = [];
  if (full) words.push(say("sync.full"));
  if (stopped) words.push(say(`sync.${trouble}`));
  if (!met && !stopped) words.push(comingWords(state));
  if (waiting > 0) words.push(waitingWords(state));
  if (photos_waiting > 0) words.push(say("sync.photos", { n: photos_waiting }));
  if (photo_pct !== null) words.push(say("sync.photo_part", { n: photo_pct }));
  if (photos_refused > 0) words.push(say("sync.photos_refused", { n: photos_refused }));
  if (trouble === "server") words.push(say("sync.server"));
  if (words.length === 0) words.push(say("sync.all_sent"));
  if (!online && met && waiting === 0) words.push(say("sync.no_signal"));
  if (need_you > 0) words.push(say("sync.need_you", { n: need_you }));
  const bad = full || need_you > 0 || stopped;
  return { words, tone: bad ? "gone" : waiting > 0 || !met ? "waiting" : "plain" };
}

export function SyncLine() {
  const { words, tone } = syncWords();
  return (
    <a
      class="sync"
      href={to("settle")}
      data-tone={tone}
      data-met={syncState.value.last_at !== null}
      data-testid="sync-state"
    >
      <Icon name="send" />
      <span class="sync-words">
        <span class="unseen">{say("sync.label")}: </span>
        {words.join(", ")}
      </span>
    </a>
  );
}
