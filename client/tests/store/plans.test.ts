/** The last plan on the phone: asked for by its mark, kept for when there is no signal, each person's under their key. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { openAccounts } from "../../src/store/accounts.ts";
import { home } from "../../src/store/home.ts";
import { openCopy, useCopy } from "../../src/store/local.ts";
import {
  askForPlan,
  askPlans,
  failedPlan,
  planHeads,
  plansKnownAt,
  publishPlan,
  readPlans,
  wholePlan,
} from "../../src/store/plans.ts";
import { currentAccount } from "../../src/store/session.ts";
import { DEVICE, OTHER } from "../support/server.ts";
import { onStage } from "../support/stage.ts";

onStage();

const HEAD = { plan_id: "p1", state: "ready", asked_at: "2026-03-02T08:00:00Z", why: ["asked"] };
const asked: { method: string; path: string; mark: string | null; body: string | null }[] = [];
let answers: Record<string, unknown> = {};
let offline = false;

/** A server that knows plans and their marks, and nothing else. */
async function serve(url: string | URL | Request, init: RequestInit = {}): Promise<Response> {
  if (offline) throw new TypeError("no network");
  const path = String(url).split("/plans")[1] ?? "";
  const mark = new Headers(init.headers).get("If-None-Match");
  asked.push({ method: init.method ?? "GET", path, mark, body: (init.body as string) ?? null });
  if (init.method === "POST") return new Response("{}", { status: 202 });
  const text = JSON.stringify(answers[path] ?? null);
  const etag = `"${text.length}-${text.slice(-40)}"`;
  if (text === "null") return new Response("{}", { status: 404 });
  if (mark === etag) return new Response(null, { status: 304, headers: { ETag: etag } });
  return new Response(text, { status: 200, headers: { ETag: etag } });
}

beforeEach(async () => {
  asked.length = 0;
  offline = false;
  answers = {
    "": { plans: [HEAD] },
    "/p1": { ...HEAD, proposals: [], cannot: [], forecast: null },
  };
  globalThis.fetch = serve as typeof fetch;
  const account = currentAccount();
  assert.ok(account);
  const db = await home();
  await db.clear("accounts");
  await db.put("accounts", account);
  await db.put("settings", { name: "current", value: DEVICE });
  await openAccounts();
  await forgetInMemory();
});

/** What is in memory is somebody else's for a moment, so that the disk is read again. */
async function forgetInMemory(): Promise<void> {
  await useCopy(OTHER);
  await readPlans();
  await useCopy(DEVICE);
}

const shown = (): string | undefined => wholePlan.value?.plan_id;
const gets = () => asked.filter(({ method }) => method === "GET");

test("a plan that was fetched is on the disk and is there again without a signal", async () => {
  await askPlans();
  assert.equal(shown(), "p1");
  const rows = await openCopy()?.db.getAll("plans");
  assert.deepEqual(
    rows?.map(({ name }) => name),
    ["heads", "whole"],
  );
  const known_at = plansKnownAt.value;
  offline = true;
  await forgetInMemory();
  assert.equal(shown(), undefined);
  await readPlans();
  assert.equal(shown(), "p1");
  assert.equal(plansKnownAt.value, known_at);
  await assert.rejects(askPlans(), { name: "OfflineError" });
  assert.equal(shown(), "p1");
});

test("what the phone has is asked for by its mark, and an answer that nothing is new makes it fresh", async () => {
  await askPlans();
  assert.deepEqual(
    gets().map(({ mark }) => mark),
    [null, null],
  );
  const before = plansKnownAt.value ?? 0;
  await new Promise((resolve) => setTimeout(resolve, 5));
  await askPlans();
  assert.ok(
    gets()
      .slice(2)
      .every(({ mark }) => mark?.startsWith('"')),
  );
  assert.ok((plansKnownAt.value ?? 0) > before);
  assert.equal(shown(), "p1");
});

test("another plan is asked for without the mark of the one before", async () => {
  await askPlans();
  const next = { ...HEAD, plan_id: "p2" };
  answers = {
    "": { plans: [next, HEAD] },
    "/p2": { ...next, proposals: [], cannot: [], forecast: null },
  };
  await askPlans();
  assert.deepEqual(gets().at(-1), { ...gets().at(-1), path: "/p2", mark: null });
  assert.equal(shown(), "p2");
  assert.equal(planHeads.value.length, 2);
});

test("a refit whose plans are gone keeps none", async () => {
  await askPlans();
  answers = { "": { plans: [] } };
  await askPlans();
  assert.equal(shown(), undefined);
  assert.equal(await openCopy()?.db.get("plans", "whole"), undefined);
});

test("a plan that failed is kept with what it would take, until another one is asked for", async () => {
  const failed = { ...HEAD, plan_id: "p2", state: "failed" };
  const cannot = [{ step_ids: [], code: "hours", params: { hours: 2 }, buys_on: "2026-03-09" }];
  answers["/p2"] = { ...failed, proposals: [], cannot, forecast: null };
  answers[""] = { plans: [failed, HEAD] };
  await askPlans();
  offline = true;
  await forgetInMemory();
  await readPlans();
  assert.deepEqual(failedPlan.value?.cannot, cannot);
  assert.equal(shown(), "p1");
  offline = false;
  await askPlans();
  assert.ok(gets().at(-1)?.mark, "what is here is asked for by its mark");
  answers[""] = { plans: [{ ...HEAD, plan_id: "p3", state: "asked" }, failed, HEAD] };
  await askPlans();
  assert.equal(failedPlan.value, null);
  assert.equal(await openCopy()?.db.get("plans", "failed"), undefined);
  assert.equal(shown(), "p1");
});

test("a server that knows no plans takes nothing away", async () => {
  await askPlans();
  answers = {};
  await assert.rejects(askPlans(), { name: "ProblemError", status: 404 });
  assert.equal(shown(), "p1");
});

test("a plan that finds no room on the disk is shown all the same", async () => {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (this: IDBObjectStore, ...given) {
    if (this.name === "plans") throw new DOMException("no room", "QuotaExceededError");
    return put.apply(this, given);
  };
  try {
    await askPlans();
  } finally {
    IDBObjectStore.prototype.put = put;
  }
  assert.equal(shown(), "p1");
  assert.deepEqual(await openCopy()?.db.getAll("plans"), []);
});

test("asking for a plan and publishing one say so to the server and look again", async () => {
  await askForPlan();
  await publishPlan("p1", "keeps_order");
  const posts = asked.filter(({ method }) => method === "POST");
  assert.deepEqual(
    posts.map(({ path, body }) => [path, JSON.parse(body ?? "null")]),
    [
      ["", {}],
      ["/p1/publish", { proposal_id: "keeps_order" }],
    ],
  );
  assert.equal(asked.at(-1)?.method, "GET");
});
