/** How a person is rung: few choices, each written down when it is tapped. */
import { useState } from "preact/hooks";
import { Choices, More, Pick, TextField, Tick } from "../../parts/fields.tsx";
import { isOwner, text, yardZone } from "../../parts/know.ts";
import { Slab } from "../../parts/page.tsx";
import { attempt } from "../../parts/said.tsx";
import { setFields } from "../../store/acts/index.ts";
import { me, view } from "../../store/view.ts";
import { say, sayOf } from "../../words/index.ts";
import {
  ALARM_KINDS,
  inWords,
  leadsOf,
  put,
  resolved,
  saidBy,
  usualLead,
  type WarningKind,
} from "./scope.ts";

const NIGHTS = ["21:00-06:00", "22:00-07:00"];
const WALKS_MIN = [0, 10, 30, 60];
const UNSEEN_MIN = [5, 15, 30];

const general = (member_id: string) => ({ member_id, step_id: null, kind: null });

export function How() {
  const [whom, setWhom] = useState(me.value?.member_id ?? "");
  const crew = view.value
    .items("member")
    .map((row) => ({ value: row.id, label: text(row, "name") }));
  return (
    <Slab title={say("ring.how")} testid="ring-how">
      <div class="form slab-note">
        {isOwner() && crew.length > 1 && (
          <Pick
            label={say("ring.for")}
            value={whom}
            options={crew}
            onPick={setWhom}
            testid="ring-for"
          />
        )}
        <Quiet key={`quiet ${whom}`} whom={whom} />
        <Unseen whom={whom} />
        <Walk whom={whom} />
        <Ways whom={whom} />
        <More label={say("ring.kinds")} testid="ring-kinds">
          {ALARM_KINDS.map((kind) => (
            <Kind key={kind} whom={whom} kind={kind} />
          ))}
        </More>
      </div>
    </Slab>
  );
}

function Quiet({ whom }: { whom: string }) {
  const scope = general(whom);
  const from = String(saidBy(scope, "quiet_from") ?? "");
  const to = String(saidBy(scope, "quiet_to") ?? "");
  const said = from && to && from !== to ? `${from}-${to}` : "";
  const [own, setOwn] = useState(said !== "" && !NIGHTS.includes(said));
  const pick = (value: string) => {
    setOwn(value === "own");
    if (value === "own") return;
    const [quiet_from = null, quiet_to = null] = value ? value.split("-") : [];
    put(scope, { quiet_from, quiet_to });
  };
  return (
    <>
      <Choices
        label={say("ring.quiet")}
        value={own ? "own" : said}
        options={[
          { value: "", label: say("ring.quiet_none") },
          ...NIGHTS.map((value) => ({ value, label: value.replace("-", " – ") })),
          { value: "own", label: say("ring.quiet_own") },
        ]}
        onPick={pick}
        testid="ring-quiet"
      />
      {own && (
        <div class="numbers">
          <TextField
            type="time"
            label={say("ring.quiet_from")}
            value={from}
            onInput={(quiet_from) => quiet_from && put(scope, { quiet_from })}
            testid="ring-quiet-from"
          />
          <TextField
            type="time"
            label={say("ring.quiet_to")}
            value={to}
            onInput={(quiet_to) => quiet_to && put(scope, { quiet_to })}
            testid="ring-quiet-to"
          />
        </div>
      )}
      <p class="field-hint">{say("ring.quiet_why")}</p>
      <Zone whom={whom} />
    </>
  );
}

/** By whose clock the quiet hours go: the yard's, or one's own, where that is another. */
function Zone({ whom }: { whom: string }) {
  const member = view.value.item("member", whom);
  const said = text(member, "time_zone");
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const own = whom === me.value?.member_id ? here : said;
  const yard = yardZone();
  const zones = [...new Set([said, own].filter((zone) => zone && zone !== yard))];
  if (zones.length === 0) return null;
  return (
    <Choices
      column
      label={say("ring.zone")}
      value={said === yard ? "" : said}
      options={[
        { value: "", label: say("ring.zone_yard", { zone: yard }) },
        ...zones.map((zone) => ({ value: zone, label: say("ring.zone_own", { zone }) })),
      ]}
      onPick={(time_zone) =>
        void attempt(
          () => setFields("member", whom, { time_zone: time_zone || null }),
          say("said.saved"),
        )
      }
      testid="ring-zone"
    />
  );
}

function Unseen({ whom }: { whom: string }) {
  const scope = general(whom);
  const said = saidBy(scope, "unseen_min");
  const others = view.value
    .items("member")
    .filter((row) => row.id !== whom)
    .map((row) => ({ value: row.id, label: text(row, "name") }));
  return (
    <>
      <Choices
        label={say("ring.unseen")}
        value={said === null ? "" : String(said)}
        options={[
          { value: "", label: say("ring.unseen_usual") },
          ...UNSEEN_MIN.map((n) => ({ value: String(n), label: say("ring.unseen_after", { n }) })),
          { value: "0", label: say("ring.unseen_never") },
        ]}
        onPick={(value) => put(scope, { unseen_min: value === "" ? null : Number(value) })}
        testid="ring-unseen"
      />
      {said !== 0 && others.length > 0 && (
        <Pick
          label={say("ring.next")}
          value={String(saidBy(scope, "next_member_id") ?? "")}
          options={others}
          none={say(isOwnerToo(whom) ? "ring.next_nobody" : "ring.next_owner")}
          onPick={(id) => put(scope, { next_member_id: id || null })}
          testid="ring-next"
        />
      )}
    </>
  );
}

const isOwnerToo = (id: string) => text(view.value.item("member", id), "role") === "owner";

function Walk({ whom }: { whom: string }) {
  const ring = resolved(whom, "recoat_closing");
  return (
    <>
      <Choices
        label={say("ring.walk")}
        value={String((ring?.walk_s ?? 0) / 60)}
        options={WALKS_MIN.map((n) => ({ value: String(n), label: inWords(n) }))}
        onPick={(value) => put(general(whom), { walk_min: Number(value) })}
        testid="ring-walk"
      />
      <p class="field-hint">{say("ring.walk_why")}</p>
    </>
  );
}

const WAYS = ["by_push", "by_mail", "by_webhook"] as const;

function Ways({ whom }: { whom: string }) {
  const ring = resolved(whom, "recoat_open");
  return (
    <fieldset class="field">
      <legend>{say("ring.ways")}</legend>
      <p class="field-hint">{say("ring.by_page")}</p>
      {WAYS.map((way) => (
        <Tick
          key={way}
          label={say(`ring.${way}`)}
          checked={ring?.[way] === true}
          onTick={(checked) => put(general(whom), { [way]: checked })}
          testid={`ring-${way}`}
        />
      ))}
    </fieldset>
  );
}

/** One kind: whether it rings, and how long before. */
function Kind({ whom, kind }: { whom: string; kind: WarningKind }) {
  const scope = { member_id: whom, step_id: null, kind };
  const ring = resolved(whom, kind);
  return (
    <fieldset class="field" data-testid="ring-kind" data-kind={kind}>
      <legend>{sayOf("ring", `kind_${kind}`)}</legend>
      <Tick
        label={say("ring.on")}
        checked={ring?.off === false}
        onTick={(on) => put(scope, { off: !on })}
        testid="ring-on"
      />
      {ring?.off === false && leadsOf(kind).length > 0 && <Lead scope={scope} kind={kind} />}
    </fieldset>
  );
}

export function Lead({ scope, kind }: { scope: Parameters<typeof put>[0]; kind: WarningKind }) {
  const lead_s = resolved(scope.member_id, kind, scope.step_id)?.lead_s ?? 0;
  const known = leadsOf(kind);
  const choices = known.includes(lead_s / 60) ? known : [...known, lead_s / 60];
  return (
    <>
      <Choices
        label={say(kind === "step_late" ? "ring.late" : "ring.lead")}
        value={String(lead_s / 60)}
        options={choices.map((n) => ({ value: String(n), label: inWords(n) }))}
        onPick={(value) => put(scope, { lead_min: Number(value) })}
        testid="ring-lead"
      />
      <p class="field-hint">{say("ring.usual", { span: inWords(usualLead(kind)) })}</p>
    </>
  );
}
