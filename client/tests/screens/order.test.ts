/** The order of a job's steps against the table: as it stands, as a draft would make it, and after it was mended. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { putBefore } from "../../src/screens/job/first.tsx";
import {
  findingsIn,
  madeWrong,
  movedIn,
  orderOf,
  type Planned,
  plannedIn,
  withStep,
} from "../../src/screens/job/order.ts";
import { holdAll, holdOf } from "../../src/screens/job/orderfound.tsx";
import { sumNamed } from "../../src/screens/sums/registry.ts";
import { startOf } from "../../src/screens/sums/start.ts";
import { addStep, createJob, markStep } from "../../src/store/acts/index.ts";
import { stepsOf } from "../../src/store/acts/steps.ts";
import { newId } from "../../src/store/ids.ts";
import { commit } from "../../src/store/local.ts";
import { onStage, row, written } from "../support/stage.ts";

onStage();

async function product(product_class: string): Promise<string> {
  const id = newId();
  const fields = { name: product_class, profile: { product_class } };
  await commit("test", [{ do: "create", kind: "product", id, fields, sets: {} } as never]);
  return id;
}

/** A job of an epoxy primer and an antifouling on it. */
async function bottom(links: object = { by_cure: true }) {
  const primer = await product("epoxy_barrier_primer");
  const antifouling = await product("antifouling_hard");
  const job_id = await createJob({ title: "Bottom" });
  const first = await addStep(job_id, { kind: "coat", product_id: primer });
  const body = { kind: "coat", product_id: antifouling, after_id: first, ...links };
  return { job_id, first, second: await addStep(job_id, body), primer, antifouling };
}

const codes = (steps: readonly Planned[]) =>
  findingsIn(steps).map((one) => [one.step_id, one.verdict, one.reasons.at(-1)?.code]);

// NAVFAC MO-124 and TB 43-0144: antifouling goes on epoxy while that is tacky; past the window on a sanded coat
// (MIL-HDBK-1110, 2.3.4).
test("antifouling in the window of the epoxy is right, and past it asks for sanding, by MO-124", async () => {
  const near = await bottom();
  assert.deepEqual(codes(plannedIn(near.job_id)), []);
  const limit = await bottom({ max_gap_s: 3600 });
  assert.deepEqual(codes(plannedIn(limit.job_id)), []);
  const far = await bottom({});
  assert.deepEqual(codes(plannedIn(far.job_id)), [[far.second, "only_if", "epoxy_past_window"]]);
});

test("one operation puts the mend before the step, and then it is right", async () => {
  const { job_id, second } = await bottom({});
  const [finding] = findingsIn(plannedIn(job_id));
  const before = (await written()).length;
  await putBefore(second, finding?.proposals ?? []);
  assert.equal((await written()).length, before + 1);
  assert.deepEqual(
    stepsOf(job_id).map((step) => step.fields.kind),
    ["coat", "sand", "coat"],
  );
  assert.deepEqual(codes(plannedIn(job_id)), []);
});

// Common practice, no source: polyester and gelcoat do not hold on epoxy.
test("a draft that the table refuses is told at the new step alone, common practice", async () => {
  const gelcoat = await product("gelcoat");
  const draft = { id: "new", name: "", kind: "coat", product_id: gelcoat, before: [] };
  const alone = await createJob({ title: "Deck" });
  const resin = await product("laminating_epoxy");
  const below = await addStep(alone, { kind: "laminate", product_id: resin });
  const steps = plannedIn(alone);
  const then = withStep(steps, { ...draft, before: [{ after_id: below, close: true }] });
  const found = madeWrong(steps, then);
  assert.deepEqual(
    found.map((one) => [one.step_id, one.verdict, one.proposals.length]),
    [["new", "no", 0]],
  );
  assert.ok(found[0]?.reasons[0]?.contested); // somebody says otherwise: the work may go on with a question
  assert.match(holdOf(found, "new")?.held_text ?? "", /epoxy/i);
  assert.equal(holdOf(found, below), null);
});

test("a change that makes another step wrong names that one, and what was wrong before is not told again", async () => {
  const { job_id, first, second } = await bottom();
  const one_part = await product("topcoat_one_part");
  const now = plannedIn(job_id);
  const [one] = now;
  const then = withStep(now, { ...(one as Planned), product_id: one_part });
  const found = madeWrong(now, then);
  assert.deepEqual(
    found.map((finding) => [finding.step_id, finding.verdict]),
    [[second, "no"]],
  );
  assert.deepEqual(madeWrong(then, then), []);
  await holdAll(found);
  assert.equal(row("step", second).fields.held, "question");
  assert.equal(row("step", first).fields.held ?? null, null);
});

test("a move is held against the table before it is made", async () => {
  const { job_id, first, second } = await bottom();
  const now = plannedIn(job_id);
  const found = madeWrong(now, movedIn(now, second, -1));
  assert.deepEqual(
    found.map((finding) => [finding.step_id, finding.reasons[0]?.code]),
    [[first, "paint_on_antifouling"]],
  );
  assert.deepEqual(movedIn(now, first, -1), now);
});

test("what is done is not told any more, and a step without a product says nothing", async () => {
  const { job_id, second } = await bottom({});
  await markStep(second, "finished");
  assert.deepEqual(codes(plannedIn(job_id)), []);
  const bare = await addStep(job_id, { kind: "coat" });
  assert.equal(orderOf(plannedIn(job_id)).find((one) => one.step_id === bare)?.material, null);
});

test("the sum of the order starts with the windows that the job has", async () => {
  const { second } = await bottom();
  const sum = sumNamed("job_order");
  assert.ok(sum);
  const { steps } = startOf(sum, second, "");
  assert.deepEqual(
    (steps as { material: string; in_window: boolean }[]).map((one) => [
      one.material,
      one.in_window,
    ]),
    [
      ["epoxy_paint", false],
      ["antifouling_hard", true],
    ],
  );
});
