/** How the sending stands, always in sight and always in words. A tap leads to what needs a person. */
import { syncState } from "../store/syncState.ts";
import { say } from "../words/index.ts";
import { Icon } from "./icon.tsx";
import { to } from "./router.ts";

/** The state in words, and the colour of its meaning. */
export function syncWords(): { words: string[]; tone: string } {
  const { waiting, need_you, photos_waiting, online, running, last_at, trouble } = syncState.value;
  const words: string[] = [];
  let tone = "plain";
  if (trouble === "revoked") words.push(say("sync.revoked"));
  if (trouble === "too_old") words.push(say("sync.too_old"));
  if (waiting > 0) {
    const sending = running && online && trouble === "";
    words.push(say(sending ? "sync.sending" : "sync.waiting", { n: waiting }));
    tone = "waiting";
  }
  if (photos_waiting > 0) words.push(say("sync.photos", { n: photos_waiting }));
  if (trouble === "server") words.push(say("sync.server"));
  if (words.length === 0) words.push(say(last_at === null ? "sync.never" : "sync.all_sent"));
  if (!online && waiting === 0) words.push(say("sync.no_signal"));
  if (need_you > 0) words.push(say("sync.need_you", { n: need_you }));
  if (need_you > 0 || trouble === "revoked" || trouble === "too_old") tone = "gone";
  return { words, tone };
}

export function SyncLine() {
  const { words, tone } = syncWords();
  return (
    <a class="sync" href={to("settle")} data-tone={tone} data-testid="sync-state">
      <Icon name="send" />
      <span class="sync-words">
        <span class="unseen">{say("sync.label")}: </span>
        {words.join(", ")}
      </span>
    </a>
  );
}
