/** What a person does: each act is one operation that can take effect. */
import assert from "node:assert/strict";
import { test } from "node:test";
import {
  addStep,
  answerQuestion,
  assign,
  correct,
  createJob,
  createZone,
  drop,
  endCoat,
  holdStep,
  logMix,
  logNote,
  logReading,
  markSeen,
  mirrorJob,
  moveStep,
  releaseStep,
  setFields,
  startCoat,
  unassign,
  voidRecord,
} from "../../src/store/acts/index.ts";
import { newId } from "../../src/store/ids.ts";
import { commit } from "../../src/store/local.ts";
import { view } from "../../src/store/view.ts";
import { MEMBER } from "../support/server.ts";
import { onStage, row, written } from "../support/stage.ts";

onStage();

async function product(): Promise<string> {
  const id = newId();
  const fields = { name: "Primer", profile: { stages: {} } };
  await commit("test", [{ do: "create", kind: "product", id, fields, sets: {} }]);
  return id;
}

const titles = (job_id: string): string[] =>
  view
    .peek()
    .items("step")
    .filter((step) => step.fields.job_id === job_id)
    .map((step) => step.fields.title as string);

test("a job comes with its steps, linked where they follow one another, in one operation", async () => {
  const job = await createJob({
    title: "Barrier coat",
    steps: [
      { kind: "sand", title: "Key" },
      { kind: "coat", title: "Coat 1", follows: true },
      { kind: "coat", title: "Coat 2", follows: true, by_cure: true },
    ],
  });
  assert.equal((await written()).length, 1);
  assert.deepEqual(titles(job), ["Key", "Coat 1", "Coat 2"]);
  const links = view.peek().items("link");
  assert.deepEqual(
    links.map((link) => link.fields.by_cure ?? false),
    [false, true],
  );
});

test("a job is mirrored to the twin zone with its steps and links", async () => {
  const port = await createZone({ name: "Port" });
  const starboard = await createZone({ name: "Starboard", twin_id: port });
  assert.equal(row("zone", port).fields.twin_id, starboard, "twins know each other");
  const steps = [
    { kind: "grind", title: "Open" },
    { kind: "laminate", title: "Close", follows: true },
  ];
  const twin = await mirrorJob(await createJob({ title: "Soft spot", zone_id: port, steps }));
  assert.equal(row("job", twin).fields.zone_id, starboard);
  assert.deepEqual(titles(twin), ["Open", "Close"]);
  const [link] = view.peek().items("link").slice(1);
  assert.equal(row("step", link?.fields.step_id as string).fields.job_id, twin);
});

test("steps are moved past their neighbours, also where no room is left between ranks", async () => {
  const job = await createJob({ title: "Deck" });
  const ids: string[] = [];
  for (const title of ["a", "b", "c"]) ids.push(await addStep(job, { kind: "fit", title }));
  const [a = "", b = "", c = ""] = ids;
  await moveStep(c, -1);
  assert.deepEqual(titles(job), ["a", "c", "b"]);
  await moveStep(a, 1);
  assert.deepEqual(titles(job), ["c", "a", "b"]);
  await moveStep(a, 1);
  assert.deepEqual(titles(job), ["c", "b", "a"]);
  for (const id of [a, b, c]) await setFields("step", id, { rank: 7 });
  const before = titles(job);
  await moveStep(a, before[0] === "a" ? 1 : -1);
  assert.notDeepEqual(titles(job), before);
});

test("what is set names the version that was seen", async () => {
  const zone = await createZone({ name: "Bow" });
  await setFields("zone", zone, { name: "Stem" });
  await setFields("zone", zone, { name: "Fore" });
  const [made, first, second] = await written();
  assert.deepEqual(first?.actions[0]?.seen, { name: made?.at });
  assert.deepEqual(second?.actions[0]?.seen, { name: first?.at });
  await drop("zone", zone);
  assert.deepEqual(view.peek().items("zone"), []);
});

test("people are put on a step and taken off, and a step is held and released", async () => {
  const step = await addStep(await createJob({ title: "Keel" }), { kind: "survey" });
  await assign(step, MEMBER);
  assert.deepEqual(view.peek().members(row("step", step), "assignees"), [MEMBER]);
  await unassign(step, MEMBER);
  assert.deepEqual(view.peek().members(row("step", step), "assignees"), []);
  await holdStep(step, "parts", "bolts");
  assert.equal(row("step", step).fields.held, "parts");
  await releaseStep(step);
  assert.equal(view.peek().field(row("step", step), "held"), null);
});

test("the end of a coat corrects the coat and keeps the id of its beginning", async () => {
  const zone_id = await createZone({ name: "Port hull" });
  const job = await createJob({ title: "Primer", zone_id });
  const step = await addStep(job, { kind: "coat" });
  const root = await startCoat(step, { product_id: await product() });
  await endCoat(root);
  const [coat] = view.peek().records("application");
  assert.equal(coat?.root_id, root);
  assert.equal(coat?.body.zone_id, zone_id, "the zone is that of the job");
  assert.deepEqual(coat?.body.profile, { stages: {} }, "the tin's numbers are kept with it");
  assert.ok(coat?.body.end_at);
  assert.equal(view.peek().records("application").length, 1);
});

test("a record is corrected part by part, and taken back without being lost", async () => {
  const id = await logReading({ air_c: 14.5, rh_pct: 70 });
  const corrected = await correct("reading", id, { air_c: 15 });
  const [reading] = view.peek().records("reading");
  assert.equal(reading?.body.air_c, 15);
  assert.equal(reading?.body.rh_pct, 70);
  await voidRecord("reading", corrected);
  assert.deepEqual(view.peek().records("reading"), []);
  assert.equal(view.peek().allRecords("reading").length, 3);
});

test("an answer names the first records of both coats, whatever was corrected since", async () => {
  const step = await addStep(await createJob({ title: "Primer" }), { kind: "coat" });
  const product_id = await product();
  const one = await startCoat(step, { product_id });
  const two = await startCoat(step, { product_id });
  const ended = await endCoat(one);
  await answerQuestion(ended, two, "one_coat");
  const body = view.peek().records("answer")[0]?.body;
  assert.deepEqual([body?.first_id, body?.second_id], [one, two]);
});

test("seeing an alarm twice in a minute makes one record", async () => {
  await markSeen("a.recoat_closing");
  await markSeen("a.recoat_closing");
  await markSeen("a.pot_life_over");
  assert.equal(view.peek().records("seen").length, 2);
});

test("a person's entry that is wrong is refused at once, with its field", async () => {
  await assert.rejects(logNote({ text: " " }), { field: "actions[0].body.text" });
  await assert.rejects(logMix({ product_id: "nobody-knows" }), /no such product|needed/);
  assert.equal((await written()).length, 0);
});
