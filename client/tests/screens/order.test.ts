/** The order of a job's steps against the table: as it stands, as a draft would make it, and after it was mended. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { TACK_COAT } from "../../src/clocks/tack_coat.ts";
import { item, linksTo } from "../../src/parts/know.ts";
import { fitting, proposalInWords, putBefore, tackInWords } from "../../src/screens/job/first.tsx";
import {
  belowJob,
  findingsIn,
  isToldByOrder,
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
import {
  addStep,
  createJob,
  drop,
  linkSteps,
  logCoat,
  markStep,
  setFields,
} from "../../src/store/acts/index.ts";
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

/** A product that is taken off the board is offered no more. */
async function dropAll(ids: string[]): Promise<void> {
  for (const id of ids) await drop("product", id);
}

const creating = (kind: string, id: string, fields: object) =>
  ({ do: "create", kind, id, fields, sets: {} }) as never;

const wrongIn = (job_id: string) =>
  findingsIn(plannedIn(job_id), belowJob(job_id)).map((one) => [
    ...[one.step_id, one.verdict, one.reasons.at(-1)?.code],
  ]);

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
  const draft = { id: "new", name: "", kind: "coat", product_id: gelcoat, tack: false, before: [] };
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

// Soundings magazine: epoxy bonds to all laminates, on a face that was ground clean; washed and sanded first.
test("the first coat of a job is held against the ground of its zone, or of the zone around it", async () => {
  const { job_id, first } = await bottom();
  assert.deepEqual(wrongIn(job_id), []);
  const [hull, aft] = [newId(), newId()];
  await commit("test", [
    creating("zone", hull, { name: "Hull", ground: "bare_laminate" }),
    creating("zone", aft, { name: "Aft", parent_id: hull }),
  ]);
  await setFields("job", job_id, { zone_id: aft });
  assert.deepEqual(wrongIn(job_id), [[first, "only_if", "bare_untouched"]]);
  const [finding] = findingsIn(plannedIn(job_id), belowJob(job_id));
  await putBefore(first, finding?.proposals ?? []);
  assert.deepEqual(wrongIn(job_id), []);
  await setFields("zone", aft, { ground: "antifouling_soft" });
  assert.deepEqual(wrongIn(job_id), [[first, "no", "paint_on_antifouling"]]);
});

// MIL-HDBK-1110, 2.3.4: epoxy past its window is sanded, or takes a tack coat.
test("what another job laid on the zone lies below the first coat, and hides the ground", async () => {
  const { job_id, first, primer } = await bottom();
  const other = await bottom();
  const zone_id = newId();
  await commit("test", [creating("zone", zone_id, { name: "Z", ground: "antifouling_soft" })]);
  await setFields("job", job_id, { zone_id });
  await setFields("job", other.job_id, { zone_id });
  const at = (hour: string) => `2026-03-02T${hour}:00:00.000Z`;
  await logCoat(other.first, { product_id: primer, start_at: at("08"), end_at: at("09") });
  assert.deepEqual(wrongIn(job_id), [[first, "only_if", "epoxy_past_window"]]);
  await linkSteps(first, other.first, { by_cure: true });
  assert.deepEqual(wrongIn(job_id), []);
});

// UFGS-09971, 3.7.1.4: 25 to 50 um wet, 25 % thinner; TB 43-0144: 4 h until the full coat.
test("a tack coat is put in with the one product that fits, its wait, and is itself right", async () => {
  const { job_id, second, primer } = await bottom({});
  const [finding] = findingsIn(plannedIn(job_id));
  const tack = finding?.or_else ?? [];
  assert.equal(tack[0]?.tack?.wait_h, 4);
  assert.match(tackInWords(TACK_COAT), /25 to 50 µm.*25 %.*4 h/);
  const fit = fitting(tack[0] as never).map((row) => row.id);
  await dropAll(fit.filter((id) => id !== primer));
  await putBefore(second, tack);
  const [, put] = stepsOf(job_id);
  assert.deepEqual([put?.fields.tack, put?.fields.product_id], [true, primer]);
  const link = linksTo(second)[0]?.fields;
  assert.deepEqual([link?.after_id, link?.min_gap_s, link?.by_cure], [put?.id, 4 * 3600, true]);
  assert.deepEqual(codes(plannedIn(job_id)), []);
});

test("where two products fit a proposal, or none, a step has what a person chose", async () => {
  const { job_id, second, primer } = await bottom({});
  const tack = findingsIn(plannedIn(job_id))[0]?.or_else ?? [];
  const another = await product("epoxy_barrier_primer");
  assert.ok(fitting(tack[0] as never).length > 1);
  await putBefore(second, tack, { 0: another });
  await putBefore(second, tack, { 0: "later" });
  await dropAll(fitting(tack[0] as never).map((row) => row.id));
  assert.deepEqual(fitting(tack[0] as never), []);
  await putBefore(second, tack);
  const put = stepsOf(job_id).slice(1, -1);
  assert.deepEqual(
    put.map((step) => step.fields.product_id ?? null),
    [another, null, null],
  );
  assert.ok(primer);
});

test("the answer to a coat leaves its mends to the order where that offers them, or another coat comes first", async () => {
  const { job_id, first, second } = await bottom();
  const told = (id: string) => isToldByOrder(item("step", id) as never);
  assert.deepEqual([told(first), told(second)], [false, true]); // the primer is not laid yet
  await markStep(first, "finished");
  assert.equal(told(second), false);
  const [link] = linksTo(second);
  await setFields("link", link?.id as string, { by_cure: false });
  assert.deepEqual(codes(plannedIn(job_id)).length, 1);
  assert.equal(told(second), true);
});

test("a proposal in one line says its labour and how a tack coat is laid", () => {
  const plain = { kind: "sand", title_key: "mend.sand", material: null, labour_h: 2, tack: null };
  assert.equal(proposalInWords(plain as never), "Sand (2 h of work)");
  const tack = { ...plain, kind: "coat", title_key: "mend.tack_coat", labour_h: null };
  assert.match(
    proposalInWords({ ...tack, tack: TACK_COAT } as never),
    /^A thin tack coat\. 25 to 50/,
  );
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
