/** Whether this phone can ring, a test that a person hears, and a plain word about what it cannot. */
import { useState } from "preact/hooks";
import { Icon } from "../../parts/icon.tsx";
import { when } from "../../parts/know.ts";
import { Slab } from "../../parts/page.tsx";
import { attempt } from "../../parts/said.tsx";
import { heardAt, setHeard } from "../../ring/heard.ts";
import { getReady } from "../../ring/ring.ts";
import { ringState } from "../../ring/state.ts";
import { say, sayOf } from "../../words/index.ts";

type Stage = "idle" | "ringing" | "asked" | "not_heard";

export function ThisPhoneRings() {
  const [stage, setStage] = useState<Stage>("idle");
  const { sound_ready, notifications, push, wake_lock } = ringState.value;
  const heard = heardAt.value;
  const lines: [string, string, boolean][] = [
    [say("crew.sound"), say(sound_ready ? "crew.sound_on" : "crew.sound_off"), sound_ready],
    [say("crew.notices"), sayOf("crew", `notices_${notifications}`), notifications === "granted"],
    [say("crew.push"), say(push ? "crew.push_on" : "crew.push_off"), push],
    [say("crew.awake"), say(wake_lock ? "crew.awake_on" : "crew.awake_off"), wake_lock],
    [
      say("ring.heard_title"),
      heard ? say("ring.heard_on", { when: when(heard) }) : say("ring.heard_never"),
      Boolean(heard),
    ],
  ];
  const ring = async () => {
    setStage("ringing");
    await attempt(getReady, "");
    setStage("asked");
  };
  const answer = async (yes: boolean) => {
    await attempt(() => setHeard(yes), "");
    setStage(yes ? "idle" : "not_heard");
  };
  return (
    <Slab title={say("crew.alarms")} testid="alarms-check">
      <dl class="facts">
        {lines.map(([name, value, good]) => (
          <div key={name} data-tone={good ? "open" : "closing"}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      <button
        type="button"
        class="button button-main"
        data-testid="get-ready"
        disabled={stage === "ringing"}
        onClick={ring}
      >
        <Icon name="bell" />
        {say("crew.test_ring")}
      </button>
      {stage === "asked" && (
        <fieldset class="ask" data-testid="heard">
          <h3>{say("ring.heard")}</h3>
          <div class="buttons">
            <button
              type="button"
              class="button"
              data-testid="heard-yes"
              onClick={() => answer(true)}
            >
              {say("ring.heard_yes")}
            </button>
            <button
              type="button"
              class="button"
              data-testid="heard-no"
              onClick={() => answer(false)}
            >
              {say("ring.heard_no")}
            </button>
          </div>
        </fieldset>
      )}
      {stage === "not_heard" && <WhatToTry denied={notifications === "denied"} />}
      <p class="slab-note">{say("crew.plain")}</p>
      {!push && (
        <p class="slab-note strong" data-testid="cannot-push">
          {say("ring.cannot_push")}
        </p>
      )}
    </Slab>
  );
}

function WhatToTry({ denied }: { denied: boolean }) {
  return (
    <div role="status" data-testid="heard-try">
      <ol class="slab-note">
        <li>{say("ring.try_volume")}</li>
        <li>{say("ring.try_ears")}</li>
        <li>{say("ring.try_quiet")}</li>
        {denied && <li>{say("ring.try_notices")}</li>}
        <li>{say("ring.try_again")}</li>
      </ol>
    </div>
  );
}
