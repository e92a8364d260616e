/**
 * The plans of the refit as the server last told them. They are the server's alone and never written here; the last
 * answer lies on this phone, so that the plan is there without a signal, with how old it is.
 */
import { computed, type ReadonlySignal, signal } from "@preact/signals";
import { headToShow, inTheWorks, type PlanHead, type WholePlan } from "../plan/types.ts";
import { me } from "./accounts.ts";
import type { Copy } from "./copy.ts";
import type { KeptPlan } from "./db.ts";
import { nudgeSync } from "./hooks.ts";
import { call, callAgain } from "./http.ts";
import { openCopy } from "./local.ts";
import { PhoneFullError, withRoom } from "./room.ts";

interface Kept {
  device_id: string;
  heads: KeptPlan | null;
  whole: KeptPlan | null;
  failed: KeptPlan | null;
}

const NOTHING: Kept = { device_id: "", heads: null, whole: null, failed: null };
const kept = signal<Kept>(NOTHING);

/** Whether the disk was looked at for whoever is signed in now. */
export const plansRead: ReadonlySignal<boolean> = computed(
  () => me.value !== null && kept.value.device_id === me.value.device_id,
);

const mine = computed(() => (plansRead.value ? kept.value : NOTHING));

export const planHeads: ReadonlySignal<readonly PlanHead[]> = computed(
  () => (mine.value.heads?.body as { plans: PlanHead[] } | undefined)?.plans ?? [],
);

export const wholePlan: ReadonlySignal<WholePlan | null> = computed(
  () => (mine.value.whole?.body as WholePlan | undefined) ?? null,
);

/** The newest plan where nothing came of it: what it lacks, and what it would take. */
export const failedPlan: ReadonlySignal<WholePlan | null> = computed(
  () => (mine.value.failed?.body as WholePlan | undefined) ?? null,
);

/** When the list was last known to be so; null before it ever came. */
export const plansKnownAt: ReadonlySignal<number | null> = computed(
  () => mine.value.heads?.at ?? null,
);

export const planInTheWorks: ReadonlySignal<PlanHead | undefined> = computed(() =>
  inTheWorks(planHeads.value),
);

/** Read what lies on this phone. */
export async function readPlans(): Promise<void> {
  const copy = openCopy();
  if (copy === null || kept.peek().device_id === copy.device_id) return;
  const rows = await copy.db.getAll("plans");
  if (kept.peek().device_id === copy.device_id) return;
  const row = (wanted: KeptPlan["name"]) => rows.find(({ name }) => name === wanted) ?? null;
  kept.value = {
    ...{ device_id: copy.device_id, heads: row("heads") },
    ...{ whole: row("whole"), failed: row("failed") },
  };
}

let asking: Promise<void> | null = null;

/** Ask the server what is new; throws where it cannot be asked. Two who ask at once ask once. */
export function askPlans(): Promise<void> {
  asking ??= askOnce().finally(() => {
    asking = null;
  });
  return asking;
}

async function askOnce(): Promise<void> {
  await readPlans();
  const copy = openCopy();
  if (copy === null) return;
  await take(copy, "heads", "plans");
  const heads = planHeads.peek();
  await takeWhole(copy, "whole", headToShow(heads, me.peek()?.role === "owner"));
  await takeWhole(copy, "failed", heads[0]?.state === "failed" ? heads[0] : undefined);
}

/** Have the one plan that belongs under a name, or none. */
async function takeWhole(copy: Copy, name: "whole" | "failed", head: PlanHead | undefined) {
  if (head === undefined) return forget(copy, name);
  const here = kept.peek()[name]?.body as WholePlan | undefined;
  const known = here?.plan_id === head.plan_id;
  await take(copy, name, `plans/${encodeURIComponent(head.plan_id)}`, known);
}

/** Take one answer in: what it says, or that what is here is still so. */
async function take(copy: Copy, name: KeptPlan["name"], path: string, known = true) {
  const before = kept.peek()[name];
  const found = await callAgain<unknown>(path, known ? (before?.etag ?? null) : null);
  const at = copy.nowMs();
  if (!found.same) return put(copy, { name, etag: found.etag, body: found.body, at });
  if (before !== null) await put(copy, { ...before, at });
}

/** Show it, and keep it as far as there is room: what cannot be kept can be had again. */
async function put(copy: Copy, row: KeptPlan): Promise<void> {
  if (kept.peek().device_id !== copy.device_id) return;
  kept.value = { ...kept.peek(), [row.name]: row };
  try {
    await withRoom(copy, () => copy.db.put("plans", row));
  } catch (error) {
    if (!(error instanceof PhoneFullError)) throw error;
  }
}

/** There is no such plan any more. */
async function forget(copy: Copy, name: "whole" | "failed"): Promise<void> {
  if (kept.peek().device_id !== copy.device_id || kept.peek()[name] === null) return;
  kept.value = { ...kept.peek(), [name]: null };
  await copy.db.delete("plans", name);
}

/** Let the server work a plan out. */
export async function askForPlan(): Promise<void> {
  await call("POST", "plans", {});
  await askPlans();
}

export async function cancelPlan(plan_id: string): Promise<void> {
  await call("POST", `plans/${encodeURIComponent(plan_id)}/cancel`);
  await askPlans();
}

/** Give the times and people of one proposal to the crew; they come to every phone as any change does. */
export async function publishPlan(plan_id: string, proposal_id: string): Promise<void> {
  await call("POST", `plans/${encodeURIComponent(plan_id)}/publish`, { proposal_id });
  nudgeSync();
  await askPlans();
}
