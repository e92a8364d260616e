/** What a phone had sent before it was lost or wiped: so that its person knows what to write again. */
import { useEffect, useState } from "preact/hooks";
import { stampMs, when } from "../../parts/know.ts";
import { whyNot } from "../../parts/said.tsx";
import { actionsInWords } from "../../parts/valuewords.ts";
import { type DeviceSent, sentByDevice } from "../../store/acts/index.ts";
import { say, sayOf } from "../../words/index.ts";

type Operation = DeviceSent["operations"][number];

export function WhatWasSent({ device_id }: { device_id: string }) {
  const [pages, setPages] = useState<DeviceSent[]>([]);
  const [wrong, setWrong] = useState("");
  const [busy, setBusy] = useState(false);
  const last = pages.at(-1);
  const more = async () => {
    setBusy(true);
    setWrong("");
    try {
      const page = await sentByDevice(device_id, last?.operations.at(-1)?.n);
      setPages((known) => [...known, page]);
    } catch (error) {
      setWrong(whyNot(error));
    }
    setBusy(false);
  };
  useEffect(() => void more(), [device_id]);
  const [first] = pages;
  return (
    <div class="ask" data-testid="sent" data-device={device_id}>
      {first && <p class="strong">{lastInWords(first)}</p>}
      {first && <p>{say("phone.sent_why")}</p>}
      {first?.missing.map((run) => (
        <p key={run.from} class="problem" data-testid="sent-missing">
          {say("phone.sent_missing", run)}
        </p>
      ))}
      <ol class="lines">
        {pages
          .flatMap((page) => page.operations)
          .map((one) => (
            <One key={one.n} one={one} />
          ))}
      </ol>
      {wrong && (
        <p class="problem" role="alert">
          {wrong}
        </p>
      )}
      {(last?.more || wrong) && (
        <button
          type="button"
          class="button button-wide"
          disabled={busy}
          onClick={more}
          data-testid="sent-more"
        >
          {say(wrong ? "phone.sent_again" : "phone.sent_more")}
        </button>
      )}
    </div>
  );
}

function lastInWords({ last_n, last_received_at }: DeviceSent): string {
  if (last_received_at === null) return say("phone.sent_none");
  return say("phone.sent_last", { n: last_n, when: when(last_received_at) });
}

/** One act, as it was written down, and whether the server took it. */
function One({ one }: { one: Operation }) {
  return (
    <li class="line" data-testid="sent-one" data-n={one.n}>
      <p class="strong">
        {sayOf("act", one.act)}
        <span class="quiet figures"> · {when(stampMs(one.at))}</span>
      </p>
      {one.problem && <p class="problem">{say("settle.refused")}</p>}
      <dl class="facts">
        {actionsInWords(one.actions).map(([name, value]) => (
          <div key={name + value}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </li>
  );
}
