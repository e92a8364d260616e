/** What only a person can settle: two values, two records of one coat, what the server did not take. And the sending. */
import { useState } from "preact/hooks";
import { Icon } from "../parts/icon.tsx";
import { authorName, isOwner, item, stampMs, stepName, text, when } from "../parts/know.ts";
import { Ask, PageHead, Slab } from "../parts/page.tsx";
import { PhotoBar } from "../parts/photobar.tsx";
import { inWords } from "../parts/records.tsx";
import { attempt, problemInWords } from "../parts/said.tsx";
import { syncWords } from "../parts/syncline.tsx";
import { actionsInWords, nameOf, valueInWords } from "../parts/valuewords.ts";
import { answerQuestion, dealWithRefused, settle } from "../store/acts/index.ts";
import { differences, type Question, questions, stranded } from "../store/derived.ts";
import { refusedPhotos } from "../store/photos.ts";
import { syncNow, syncState } from "../store/syncState.ts";
import {
  type Difference,
  type Json,
  me,
  type RecordRow,
  type Refused,
  view,
} from "../store/view.ts";
import { say, sayOf } from "../words/index.ts";
import { StrandedWork } from "./settlegone.tsx";
import { RefusedPhotos } from "./settlephotos.tsx";

export function SettleScreen(_: { path: string[] }) {
  const groups = byField(differences.value);
  const refused = view.value.refused;
  const asked = questions.value;
  const others = asked.length + stranded.value.length + refusedPhotos().length;
  const none = groups.length + refused.length + others === 0;
  const looksOn = me.value?.role === "viewer";
  return (
    <>
      <PageHead title={say("settle.title")} otherwise={["now"]} />
      <div class="columns columns-two">
        <div>
          {none && (
            <section class="empty" data-testid="settle-none">
              <h2>{say("settle.none")}</h2>
              <p>{say("settle.none_why")}</p>
            </section>
          )}
          {refused.length > 0 && (
            <Slab title={say("settle.refused")} testid="refused">
              {refused.map((one) => (
                <RefusedOne key={one.n} one={one} />
              ))}
            </Slab>
          )}
          <RefusedPhotos />
          <StrandedWork />
          {asked.length > 0 && (
            <Slab title={say("settle.questions")} testid="questions">
              {asked.map((one) => (
                <QuestionOne key={one.first.id + one.second.id} one={one} may={!looksOn} />
              ))}
            </Slab>
          )}
          {groups.length > 0 && (
            <Slab title={say("settle.differences")} testid="differences">
              {groups.map((group) => (
                <Group
                  key={group[0]?.id}
                  group={group}
                  may={group[0]?.field === "gone" ? isOwner() : !looksOn}
                />
              ))}
            </Slab>
          )}
        </div>
        <div>
          <Sending />
        </div>
      </div>
    </>
  );
}

/** Differences of one field stand together: one choice closes them all. */
function byField(rows: Difference[]): Difference[][] {
  const groups = new Map<string, Difference[]>();
  for (const row of rows) {
    const key = `${row.kind} ${row.item_id} ${row.field}`;
    groups.set(key, [...(groups.get(key) ?? []), row]);
  }
  return [...groups.values()];
}

interface Option {
  value: Json;
  at: string;
  label: string;
}

function Group({ group, may }: { group: Difference[]; may: boolean }) {
  const [first] = group;
  if (!first) return null;
  const { kind, item_id, field, kept } = first;
  const what = nameOf(kind, item_id);
  const options: Option[] = [
    { ...kept, label: say("settle.value_now") },
    ...group.map((row) => ({ ...row.lost, label: say("settle.value_other") })),
  ];
  const choose = (value: Json) =>
    attempt(
      () =>
        settle(
          group.map((row) => row.id),
          kind,
          item_id,
          field,
          value,
        ),
      say("said.settled"),
    );
  return (
    <article class="matter" data-testid="difference" data-field={field}>
      <h3>
        {field === "gone"
          ? say("settle.gone_of", { what })
          : say("settle.difference", { field: sayOf("field", field), what })}
      </h3>
      {field === "gone" && <p>{say("settle.gone_now")}</p>}
      {field === "gone" && !may && <p class="quiet">{say("settle.owner_decides")}</p>}
      <ul class="values">
        {options.map((option) => (
          <li key={option.at + option.label}>
            <p class="quiet">{option.label}</p>
            <p class="value">{valueInWords(kind, field, option.value)}</p>
            <p class="quiet figures">
              {say("settle.by", { name: authorName(option.at), when: when(stampMs(option.at)) })}
            </p>
            {may && (
              <button
                type="button"
                class="button button-wide"
                data-testid="choose"
                onClick={() => choose(option.value)}
              >
                {field === "gone"
                  ? say(option.value === true ? "settle.gone_drop" : "settle.gone_keep")
                  : say("settle.keep")}
              </button>
            )}
          </li>
        ))}
      </ul>
    </article>
  );
}

function QuestionOne({ one, may }: { one: Question; may: boolean }) {
  const step = item("step", String(one.first.body.step_id));
  const answer = (what: "one_coat" | "two_coats") =>
    attempt(() => answerQuestion(one.first.id, one.second.id, what), say("said.answered"));
  const side = (row: RecordRow) => (
    <li key={row.id}>
      <p class="value figures">{inWords(row)}</p>
      <p class="quiet">
        {say("record.by", { name: authorName(row.at), when: when(stampMs(row.at)) })}
      </p>
    </li>
  );
  return (
    <article class="matter" data-testid="question">
      <h3>
        {[text(item("job", text(step, "job_id")), "title"), stepName(step)]
          .filter(Boolean)
          .join(": ")}
      </h3>
      <p>{say("settle.question_why")}</p>
      <ul class="values">{[side(one.first), side(one.second)]}</ul>
      {may && (
        <div class="buttons">
          <button
            type="button"
            class="button"
            onClick={() => answer("one_coat")}
            data-testid="one-coat"
          >
            {say("settle.one_coat")}
          </button>
          <button
            type="button"
            class="button"
            onClick={() => answer("two_coats")}
            data-testid="two-coats"
          >
            {say("settle.two_coats")}
          </button>
        </div>
      )}
    </article>
  );
}

function RefusedOne({ one }: { one: Refused }) {
  const [asking, setAsking] = useState(false);
  const deal = (how: "drop" | "again") =>
    attempt(() => dealWithRefused(one.n, how), how === "again" ? say("said.saved") : "");
  return (
    <article class="matter" data-testid="refused-one" data-n={one.n}>
      <h3>{sayOf("act", one.act)}</h3>
      <p class="quiet figures">{say("settle.refused_at", { when: when(stampMs(one.at)) })}</p>
      <p class="problem">{say("settle.refused_why", { why: problemInWords(one.problem) })}</p>
      <dl class="facts">
        {actionsInWords(one.actions).map(([name, value]) => (
          <div key={name + value}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      {asking ? (
        <Ask
          question={say("settle.let_go_sure")}
          yes={say("settle.let_go")}
          testid="let-go"
          onYes={() => deal("drop")}
          onNo={() => setAsking(false)}
        />
      ) : (
        <div class="buttons">
          <button type="button" class="button" onClick={() => deal("again")} data-testid="again">
            {say("settle.again")}
          </button>
          <button
            type="button"
            class="button"
            onClick={() => setAsking(true)}
            data-testid="drop-refused"
          >
            {say("settle.let_go")}
          </button>
        </div>
      )}
    </article>
  );
}

function Sending() {
  const { last_at, trouble, running } = syncState.value;
  return (
    <Slab title={say("sync.label")} testid="sending">
      <ul class="slab-note strong">
        {syncWords().words.map((words) => (
          <li key={words}>{words}</li>
        ))}
      </ul>
      <PhotoBar />
      {trouble === "revoked" && <p class="problem">{say("sync.revoked_why")}</p>}
      {trouble === "too_old" && <p class="problem">{say("sync.too_old_why")}</p>}
      {last_at !== null && <p class="figures">{say("sync.last", { when: when(last_at) })}</p>}
      <button
        type="button"
        class="button button-wide"
        disabled={running}
        onClick={() => syncNow()}
        data-testid="sync-now"
      >
        <Icon name="send" />
        {say("sync.now")}
      </button>
    </Slab>
  );
}
