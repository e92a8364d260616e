/** How one step rings for me: as everything else, silent, or also where I have nothing to do with it. */
import { Choices, Pick } from "../../parts/fields.tsx";
import { item, live, stepName, text } from "../../parts/know.ts";
import { PageHead, Slab } from "../../parts/page.tsx";
import { me, view } from "../../store/view.ts";
import { say, sayOf } from "../../words/index.ts";
import { Lead } from "./how.tsx";
import { put, saidBy, type WarningKind } from "./scope.ts";

const LED: readonly WarningKind[] = ["step_due", "recoat_closing"];

export function OfStep({ id }: { id: string }) {
  const step = live("step", id);
  const job = item("job", text(step, "job_id"));
  const scope = { member_id: me.value?.member_id ?? "", step_id: id, kind: null };
  const said = saidBy(scope, "off");
  const others = view.value
    .items("member")
    .filter((row) => row.id !== scope.member_id)
    .map((row) => ({ value: row.id, label: text(row, "name") }));
  return (
    <>
      <PageHead title={say("ring.step_title")} otherwise={["job", text(step, "job_id")]} />
      <p class="strong">{[text(job, "title"), stepName(step)].filter(Boolean).join(": ")}</p>
      <Slab title={say("ring.how")} testid="ring-step">
        <div class="form slab-note">
          <Choices
            column
            label={say("ring.on")}
            value={said === null ? "" : said ? "off" : "on"}
            options={[
              { value: "", label: say("ring.step_usual") },
              { value: "on", label: say("ring.step_on") },
              { value: "off", label: say("ring.step_off") },
            ]}
            onPick={(value) => put(scope, { off: value === "" ? null : value === "off" })}
            testid="ring-step-on"
          />
          {said !== true && (
            <>
              {LED.map((kind) => (
                <fieldset class="field" key={kind} data-testid="ring-kind" data-kind={kind}>
                  <legend>{sayOf("ring", `kind_${kind}`)}</legend>
                  <Lead scope={{ ...scope, kind }} kind={kind} />
                </fieldset>
              ))}
              {others.length > 0 && (
                <Pick
                  label={`${say("ring.unseen")} ${say("ring.next")}`}
                  value={String(saidBy(scope, "next_member_id") ?? "")}
                  options={others}
                  none={say("ring.step_usual")}
                  onPick={(next) => put(scope, { next_member_id: next || null })}
                  testid="ring-next"
                />
              )}
            </>
          )}
        </div>
      </Slab>
    </>
  );
}
