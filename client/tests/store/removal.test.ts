/** A deletion meets work that was done unseen: the work is found, and a person brings it back or lets it go. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import type { Action } from "../../src/merge/state.ts";
import {
  addStep,
  assign,
  bringBack,
  createJob,
  drop,
  keepStranded,
  letStrandedGo,
  linkSteps,
  logNote,
  markStep,
  setFields,
  settle,
} from "../../src/store/acts/index.ts";
import { differences, stranded } from "../../src/store/derived.ts";
import { openCopy, publish } from "../../src/store/local.ts";
import { findStranded, lastTouch } from "../../src/store/reckon/stranded.ts";
import { view } from "../../src/store/view.ts";
import { sync } from "../support/phone.ts";
import { MEMBER, OTHER, Server, stamp } from "../support/server.ts";
import { onStage, row, written } from "../support/stage.ts";

onStage();

let server: Server;

beforeEach(() => {
  server = new Server();
  server.epoch = "e";
});

async function meet(): Promise<void> {
  const copy = openCopy();
  if (copy) await sync(copy, server);
  publish();
}

const live = (kind: string): string[] =>
  view
    .peek()
    .items(kind)
    .map((one) => one.id)
    .sort();

/** A job of two steps, the second after the first. */
async function twoSteps(): Promise<{ job: string; steps: string[]; link: string }> {
  const steps = [
    { kind: "sand", title: "Key" },
    { kind: "coat", title: "Coat", follows: true },
  ];
  const job = await createJob({ title: "Barrier", steps });
  const ids = view
    .peek()
    .items("step")
    .filter((step) => step.fields.job_id === job)
    .map((step) => step.id);
  return { job, steps: ids, link: view.peek().items("link").at(-1)?.id ?? "" };
}

let second = 0;
/** Another phone does something that does not know of what happened here since. */
const other = (...actions: Action[]): string => {
  second += 60;
  const at = stamp(Math.floor(Date.now() / 1000) - 1_700_000_000 + second);
  server.act({ at, actions });
  return at;
};

/** The stamp of an item here, as it was made. */
const made = (id: string): string =>
  view.peek().item("step", id)?.at ?? view.peek().item("job", id)?.at ?? "";

const newStep = (job_id: string, id = "new-step"): Action => ({
  ...{ do: "create", kind: "step", id, sets: {} },
  fields: { job_id, kind: "coat", title: "Second coat" },
});

const edit = (id: string): Action => ({
  ...{ do: "set", kind: "step", id, fields: { title: "Coat, thinned" }, seen: { title: made(id) } },
});

test("a job goes with its steps and their links in one operation, each with what was seen of it", async () => {
  const { job, steps, link } = await twoSteps();
  await assign(steps[0] ?? "", MEMBER);
  const before = (await written()).length;
  await drop("job", job);
  const [made, ...more] = (await written()).slice(before);
  assert.deepEqual(more, []);
  assert.deepEqual(made?.actions.map((one) => one.id).sort(), [job, ...steps, link].sort());
  const first = made?.actions.find((one) => one.id === steps[0]) as unknown as { seen: object };
  assert.ok("assignees" in first.seen);
  assert.deepEqual([live("job"), live("step"), live("link")], [[], [], []]);
});

test("a step goes with the links at both of its ends, and what stands beside it stays", async () => {
  const { steps, link } = await twoSteps();
  const [first = "", last = ""] = steps;
  const third = await addStep(row("step", last).fields.job_id as string, {
    ...{ kind: "coat", after_id: last },
  });
  await drop("step", last);
  assert.deepEqual(live("step"), [first, third].sort());
  assert.deepEqual(live("link"), []);
  assert.equal(row("link", link).fields.gone, true);
});

test("more than one operation can hold is deleted by several, the job with the last", async () => {
  const job = await createJob({ title: "Long" });
  for (let n = 0; n < 3; n += 1) {
    const steps = Array.from({ length: 170 }, (_, i) => newStep(job, `s${n}-${i}`));
    const copy = openCopy();
    await copy?.commit("test", steps);
  }
  publish();
  const before = (await written()).length;
  await drop("job", job);
  const made = (await written()).slice(before).map((one) => one.actions);
  assert.deepEqual(
    made.map((actions) => actions.length),
    [11, 500],
  );
  assert.equal(made.at(-1)?.at(-1)?.id, job);
  assert.deepEqual(live("step"), []);
});

for (const first of ["deletion", "work"]) {
  test(`a step that was added unseen waits for a person, the ${first} first at the server`, async () => {
    const { job, steps, link } = await twoSteps();
    await meet();
    if (first === "deletion") {
      await drop("job", job);
      await meet();
    }
    const at = other(newStep(job));
    if (first === "work") await drop("job", job);
    await meet();
    const [one] = stranded.peek();
    assert.equal(one?.job?.id, job);
    assert.deepEqual(one?.steps.map(lastTouch), [at]);
    assert.deepEqual(differences.peek(), []);

    await keepStranded(one as NonNullable<typeof one>, "");
    await meet();
    assert.deepEqual(stranded.peek(), []);
    assert.deepEqual(live("job"), [job]);
    assert.deepEqual(live("step"), [...steps, "new-step"].sort());
    assert.deepEqual(live("link"), [link]);
  });

  test(`a step that was changed unseen is one question with its job, the ${first} first`, async () => {
    const { job, steps } = await twoSteps();
    const [step = ""] = steps;
    await meet();
    if (first === "deletion") {
      await drop("job", job);
      await meet();
    }
    other(edit(step));
    if (first === "work") await drop("job", job);
    await meet();
    const [one] = stranded.peek();
    assert.deepEqual(
      one?.steps.map((found) => found.id),
      [step],
    );
    assert.equal(one?.differences.length, 1);
    assert.deepEqual(differences.peek(), []);

    await letStrandedGo(one as NonNullable<typeof one>);
    await meet();
    assert.deepEqual(stranded.peek(), []);
    assert.deepEqual(view.peek().differences, []);
    assert.deepEqual([live("job"), live("step")], [[], []]);
    await bringBack("job", job);
    assert.deepEqual(live("step"), [...steps].sort(), "with what was let go since");
  });
}

test("a job that two people differ about comes back with the steps that went with it", async () => {
  const { job, steps, link } = await twoSteps();
  const earlier = await addStep(job, { kind: "clean" });
  await drop("step", earlier);
  await meet();
  other({
    do: "set",
    kind: "job",
    id: job,
    fields: { title: "Barrier, port" },
    seen: { title: made(job) },
  });
  await drop("job", job);
  await meet();
  assert.deepEqual([live("job"), live("step")], [[job], []]);
  const [asked] = differences.peek();
  await settle([asked?.id ?? ""], "job", job, "gone", false);
  await meet();
  assert.deepEqual(live("step"), [...steps].sort(), "not the one that was deleted before");
  assert.deepEqual(live("link"), [link]);
  assert.deepEqual(view.peek().differences, []);
});

test("a job that two people differ about goes with its steps where a person says so", async () => {
  const { job } = await twoSteps();
  await drop("job", job);
  await meet();
  other({
    do: "set",
    kind: "job",
    id: job,
    fields: { title: "Barrier, port" },
    seen: { title: made(job) },
  });
  other(newStep(job));
  await meet();
  assert.deepEqual([live("job"), live("step")], [[job], ["new-step"]]);
  const [asked] = differences.peek();
  await settle([asked?.id ?? ""], "job", job, "gone", true);
  await meet();
  assert.deepEqual([live("job"), live("step")], [[], []]);
  assert.deepEqual([stranded.peek(), view.peek().differences], [[], []]);
});

test("a deletion is taken back with all that went with it, and no more", async () => {
  const { job, steps, link } = await twoSteps();
  const earlier = await addStep(job, { kind: "clean" });
  await drop("step", earlier);
  await drop("job", job);
  await bringBack("job", job);
  assert.deepEqual([live("job"), live("step")], [[job], [...steps].sort()]);
  assert.deepEqual(live("link"), [link]);
});

test("work under a job that is not on this phone goes into a job of its own", async () => {
  const { job, steps } = await twoSteps();
  const all = view.peek();
  const [one] = findStranded({
    ...all,
    item: (kind, id) => (kind === "job" ? undefined : all.item(kind, id)),
  });
  assert.deepEqual(
    [one?.job, one?.steps.map((step) => step.id).sort()],
    [undefined, [...steps].sort()],
  );
  await keepStranded(one as NonNullable<typeof one>, "Key");
  const houses = steps.map((step) => row("step", step).fields.job_id as string);
  assert.notEqual(houses[0], job);
  assert.equal(houses[0], houses[1]);
  assert.equal(row("job", houses[0] ?? "").fields.title, "Key");
});

test("what is logged on a step or job, or comes after a step, touches it; on what is gone it does not", async () => {
  const { job, steps } = await twoSteps();
  const [first = "", last = ""] = steps;
  const touched = async (act: () => Promise<unknown>): Promise<string[]> => {
    const before = (await written()).length;
    await act();
    const [made] = (await written()).slice(before);
    return (made?.actions ?? []).flatMap((one) => (one.do === "set" ? [one.id as string] : []));
  };
  assert.deepEqual(await touched(() => markStep(first, "started")), [first]);
  assert.deepEqual(await touched(() => logNote({ text: "n", step_id: last })), [last]);
  assert.deepEqual(await touched(() => logNote({ text: "n", job_id: job })), [job]);
  assert.deepEqual(await touched(() => linkSteps(first, last)), [first, last]);
  assert.deepEqual(await touched(() => addStep(job, { kind: "fit", after_id: last })), [last]);
  await setFields("step", first, { gone: true });
  assert.deepEqual(await touched(() => logNote({ text: "late", step_id: first })), []);
  assert.equal(row("step", first).fields.gone, true);
});

test("a note that somebody wrote unseen keeps its step from going out of sight", async () => {
  const { job, steps } = await twoSteps();
  const [step = ""] = steps;
  await meet();
  other(
    {
      do: "record",
      kind: "note",
      id: "n1",
      body: { text: "soft here", step_id: step },
      replaces: null,
      void: false,
    },
    {
      do: "set",
      kind: "step",
      id: step,
      fields: { job_id: job },
      seen: { job_id: row("step", step).at },
    },
  );
  await drop("job", job);
  await meet();
  const [one] = stranded.peek();
  assert.deepEqual(
    one?.steps.map((found) => found.id),
    [step],
  );
  assert.ok(lastTouch(row("step", step)).endsWith(OTHER));
});
