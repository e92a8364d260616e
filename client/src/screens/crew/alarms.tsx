/** Whether this phone can ring, and a plain word about what it cannot. */
import { useState } from "preact/hooks";
import { Icon } from "../../parts/icon.tsx";
import { Slab } from "../../parts/page.tsx";
import { attempt } from "../../parts/said.tsx";
import { getReady, ringState } from "../../ring/ring.ts";
import { say, sayOf } from "../../words/index.ts";

export function Alarms() {
  const [busy, setBusy] = useState(false);
  const { sound_ready, notifications, push, wake_lock } = ringState.value;
  const lines: [string, string, boolean][] = [
    [say("crew.sound"), say(sound_ready ? "crew.sound_on" : "crew.sound_off"), sound_ready],
    [say("crew.notices"), sayOf("crew", `notices_${notifications}`), notifications === "granted"],
    [say("crew.push"), say(push ? "crew.push_on" : "crew.push_off"), push],
    [say("crew.awake"), say(wake_lock ? "crew.awake_on" : "crew.awake_off"), wake_lock],
  ];
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
        disabled={busy}
        onClick={async () => {
          setBusy(true);
          await attempt(getReady, "");
          setBusy(false);
        }}
      >
        <Icon name="bell" />
        {say("crew.test_ring")}
      </button>
      <p class="slab-note">{say("crew.plain")}</p>
    </Slab>
  );
}
