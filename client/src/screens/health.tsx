/** For the owner, in plain words: is anybody ringing the alarms, what was sent on which way, how late, what failed. */
import { useEffect, useState } from "preact/hooks";
import { isOwner, when } from "../parts/know.ts";
import { PageHead, Slab } from "../parts/page.tsx";
import { askHealth, type ChannelHealth, health, type RefitHealth } from "../store/health.ts";
import { span } from "../words/dates.ts";
import { say, sayOf } from "../words/index.ts";

const ASK_EVERY_MS = 30_000;

export function HealthScreen() {
  const [answered, setAnswered] = useState(true);
  const kept = health.value;
  const ask = async () => setAnswered(await askHealth());
  useEffect(() => {
    void ask();
    const timer = setInterval(ask, ASK_EVERY_MS);
    return () => clearInterval(timer);
  }, []);
  return (
    <>
      <PageHead title={say("health.title")} otherwise={["alarms"]} />
      {!isOwner() && <p class="slab-note">{say("health.owners")}</p>}
      {isOwner() && !answered && (
        <p class="slab-note strong" role="status" data-testid="health-old">
          {kept ? say("health.old", { when: when(kept.at) }) : say("health.unknown")}
        </p>
      )}
      {isOwner() && kept && <Told found={kept.said} />}
    </>
  );
}

function Told({ found }: { found: RefitHealth }) {
  return (
    <>
      <Ringing found={found} />
      <Slab title={say("health.week", { when: when(found.since) })} testid="health-week">
        <dl class="facts">
          <Fact name={say("health.told")} value={String(found.told)} />
          <Fact
            name={say("health.missed")}
            value={String(found.missed)}
            tone={found.missed > 0 ? "gone" : undefined}
          />
        </dl>
      </Slab>
      {found.channels.map((one) => (
        <Channel key={one.channel} one={one} />
      ))}
    </>
  );
}

function Ringing({ found }: { found: RefitHealth }) {
  const alive = found.bells.filter((one) => one.alive);
  const last = found.bells[0];
  const { due, overdue, retrying, to_come } = found.waiting;
  return (
    <Slab title={say("health.now")} testid="health-now">
      <p class="health-answer" data-tone={found.rings ? "open" : "gone"} data-testid="health-rings">
        {say(found.rings ? "health.rings" : "bell.nobody")}
      </p>
      {!found.rings && <p class="slab-note strong">{say("bell.keep_open")}</p>}
      <dl class="facts">
        <Fact
          name={say("health.processes")}
          value={String(alive.length)}
          tone={alive.length > 0 ? undefined : "gone"}
        />
        {last && <Fact name={say("health.heard")} value={when(last.beat_at)} />}
        {last && found.rings && <Fact name={say("health.next")} value={when(last.next_beat_by)} />}
        <Fact name={say("health.to_come")} value={String(to_come)} />
        <Fact name={say("health.due")} value={String(due)} />
        <Fact
          name={say("health.overdue")}
          value={String(overdue)}
          tone={overdue > 0 ? "gone" : undefined}
        />
        <Fact name={say("health.retrying")} value={String(retrying)} />
      </dl>
    </Slab>
  );
}

function Channel({ one }: { one: ChannelHealth }) {
  const { channel, sent, failed, refused, dropped, late_mean_s, late_up_to } = one;
  const tried = sent + failed + refused + dropped > 0;
  const soon = late_up_to["5"] ?? 0;
  const minute = late_up_to["60"] ?? 0;
  const bad = (n: number) => (n > 0 ? "closing" : undefined);
  return (
    <Slab title={sayOf("health", `channel_${channel}`)} testid={`health-${channel}`}>
      {!tried && <p class="slab-note">{say("health.nothing")}</p>}
      {tried && (
        <dl class="facts">
          <Fact name={say("health.sent")} value={String(sent)} />
          {late_mean_s !== null && <Fact name={say("health.late")} value={howLate(late_mean_s)} />}
          <Fact name={say("health.within_5_s")} value={String(soon)} />
          <Fact name={say("health.within_minute")} value={String(minute)} />
          <Fact
            name={say("health.later")}
            value={String(sent - minute)}
            tone={bad(sent - minute)}
          />
          <Fact name={say("health.failed")} value={String(failed)} tone={bad(failed)} />
          <Fact name={say("health.refused")} value={String(refused)} tone={bad(refused)} />
          <Fact name={say("health.dropped")} value={String(dropped)} tone={bad(dropped)} />
        </dl>
      )}
    </Slab>
  );
}

const howLate = (late_s: number): string =>
  late_s < 120 ? say("health.seconds", { n: Math.round(late_s) }) : span(late_s * 1000);

function Fact({ name, value, tone }: { name: string; value: string; tone?: string | undefined }) {
  return (
    <div data-tone={tone}>
      <dt>{name}</dt>
      <dd class="figures">{value}</dd>
    </div>
  );
}
