/** Steps that are put before one: in their order, with what it came after, in one operation. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { addStep, createJob, prepareStep } from "../../src/store/acts/index.ts";
import { stepsOf } from "../../src/store/acts/steps.ts";
import { view } from "../../src/store/view.ts";
import { onStage, written } from "../support/stage.ts";

onStage();

const links = () =>
  view
    .peek()
    .items("link")
    .map(({ fields }) => [fields.after_id, fields.step_id, fields.by_cure ?? false]);

async function twoCoats() {
  const job_id = await createJob({ title: "Hull" });
  const first = await addStep(job_id, { kind: "coat" });
  const second = await addStep(job_id, { kind: "coat", after_id: first, by_cure: true });
  return { job_id, first, second };
}

test("sanding goes between two coats, by the cure of the first, in one operation", async () => {
  const { job_id, first, second } = await twoCoats();
  const before = (await written()).length;
  await prepareStep(second, [{ kind: "sand", labour_h: 2 }, { kind: "clean" }]);
  const steps = stepsOf(job_id);
  assert.deepEqual(
    steps.map((step) => step.fields.kind),
    ["coat", "sand", "clean", "coat"],
  );
  const [, sand, clean] = steps.map((step) => step.id);
  assert.deepEqual(
    new Set(links().map(String)),
    new Set([
      String([first, sand, true]),
      String([sand, clean, false]),
      String([clean, second, false]),
    ]),
  );
  assert.equal(steps[1]?.fields.labour_h, 2);
  assert.equal((await written()).length, before + 1);
});

test("cleaning first does not go by the cure, and nothing is written for no steps", async () => {
  const { second } = await twoCoats();
  const before = (await written()).length;
  await prepareStep(second, []);
  assert.equal((await written()).length, before);
  await prepareStep(second, [{ kind: "clean" }]);
  assert.deepEqual(
    links().map(([, , by_cure]) => by_cure),
    [false, false],
  );
});
