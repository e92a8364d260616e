/** My phone's own calendar: a link to subscribe to, shown once, and one alarm as a file. */
import { useState } from "preact/hooks";
import { when } from "../../parts/know.ts";
import { attempt } from "../../parts/said.tsx";
import { type CalendarLink, calendarFile, makeCalendar } from "../../store/addresses.ts";
import { say } from "../../words/index.ts";
import { type OneAddress, Standing } from "./addresses.tsx";

export function CalendarAddress({ own, again }: OneAddress) {
  const [link, setLink] = useState<CalendarLink | null>(null);
  const make = () =>
    attempt(async () => {
      setLink(await makeCalendar());
      await again();
    }, "");
  const gone = async () => {
    setLink(null);
    await again();
  };
  return (
    <>
      <p class="field-hint">{say("reach.calendar_why")}</p>
      <Standing own={own} again={gone}>
        {say("reach.calendar_on", { when: own ? when(own.made_at) : "" })}
      </Standing>
      {link && <Link link={link} />}
      <button type="button" class="button" onClick={make} data-testid="reach-make">
        {say(own ? "reach.calendar_anew" : "reach.calendar_make")}
      </button>
    </>
  );
}

function Link({ link }: { link: CalendarLink }) {
  const copy = () => attempt(() => navigator.clipboard.writeText(link.url), say("reach.copied"));
  return (
    <div class="ask" data-testid="reach-link">
      <p>{say("reach.once")}</p>
      <a class="button button-main" href={link.webcal_url} data-testid="reach-subscribe">
        {say("reach.subscribe")}
      </a>
      <button type="button" class="button" onClick={copy} data-testid="reach-copy">
        {say("reach.copy")}
      </button>
    </div>
  );
}

/** One alarm for the phone's own calendar. */
export function KeepAlarm({ alarm_id }: { alarm_id: string }) {
  const keep = () =>
    attempt(async () => {
      const place = URL.createObjectURL(await calendarFile(alarm_id));
      const link = document.createElement("a");
      link.href = place;
      link.download = "alarm.ics";
      link.click();
      setTimeout(() => URL.revokeObjectURL(place), 60_000);
    }, "");
  return (
    <button type="button" class="button" onClick={keep} data-testid="ring-keep">
      {say("reach.keep")}
    </button>
  );
}
