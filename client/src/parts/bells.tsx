/** What stands above everything while alarms may not reach anybody: nobody rings them, or some were missed. */

import { syncState } from "../store/syncState.ts";
import { missedIn, missedNotice } from "../store/told.ts";
import { say } from "../words/index.ts";
import { Icon } from "./icon.tsx";
import { isOwner } from "./know.ts";
import { to } from "./router.ts";

export function Bells() {
  const silent = syncState.value.nobody_rings;
  return (
    <>
      <div role="alert">{silent && <Silence />}</div>
      <MissedLine />
    </>
  );
}

function Silence() {
  return (
    <section class="bells" data-tone="gone" data-testid="nobody-rings">
      <p class="bells-what">
        <Icon name="bell" />
        {say("bell.nobody")}
      </p>
      <p>{say("bell.keep_open")}</p>
      {isOwner() && (
        <a class="button" href={to("alarms", "health")}>
          {say("bell.look")}
        </a>
      )}
    </section>
  );
}

function MissedLine() {
  const notice = missedNotice.value;
  if (!notice) return null;
  const n = Number(notice.params.missed_n ?? missedIn(notice).length);
  return (
    <section class="bells" data-tone="closing" data-testid="missed-line">
      <p class="bells-what">
        <Icon name="bell" />
        {say("bell.missed", { n })}
      </p>
      <a class="button" href={to("alarms")}>
        {say("bell.see_missed")}
      </a>
    </section>
  );
}
