/** What a simulated phone's page runs: the client's own store and sync, as the app starts them, and looks inside. */
import type { Action, Difference } from "../../src/merge/state.ts";
import { openAccounts } from "../../src/store/accounts.ts";
import { recording } from "../../src/store/acts/actions.ts";
import * as acts from "../../src/store/acts/index.ts";
import { Copy } from "../../src/store/copy.ts";
import type { BlobRow } from "../../src/store/db.ts";
import { home } from "../../src/store/home.ts";
import { commit, openCopy, publish } from "../../src/store/local.ts";
import { nowAt } from "../../src/store/now.ts";
import { ClockBook } from "../../src/store/reckon/sources.ts";
import { coatsByStep, StepStories } from "../../src/store/reckon/steps.ts";
import { personalWarnings } from "../../src/store/reckon/warnings.ts";
import { type Account, currentAccount } from "../../src/store/session.ts";
import { syncState } from "../../src/store/syncState.ts";
import { view } from "../../src/store/view.ts";
import { startLoop } from "../../src/sync/loop.ts";

export { join, switchAccount } from "../../src/store/accounts.ts";
export { acts };

const ITEMS = [
  ...["refit", "member", "device", "zone", "job", "step", "link", "product"],
  ...["skill", "away"],
];
const RECORDS = [
  "application",
  "mix",
  "reading",
  "note",
  "photo",
  "hours",
  "mark",
  "answer",
  "seen",
];

export async function start(): Promise<void> {
  await openAccounts();
  startLoop({ alarm: () => {} });
}

/** Put keys on a new phone, as if its people had come aboard; the first of them is in use. */
export async function plant(accounts: Account[]): Promise<void> {
  const db = await home();
  for (const account of accounts) await db.put("accounts", account);
  const value = accounts[0]?.device_id ?? null;
  await db.put("settings", { name: "current", value });
}

const number = (): number => openCopy()?.meta.next_n ?? 1;

/** Do an act, and give the operations that it made. */
export async function act(name: string, given: unknown[]): Promise<object> {
  const before = number();
  const doing = Reflect.get(acts, name) as (...given: unknown[]) => Promise<unknown>;
  await doing(...given);
  return { made: await since(before) };
}

const since = async (n: number) =>
  (await openCopy()?.db.getAll("operations", IDBKeyRange.lowerBound(n))) ?? [];

/** Write an act down that the phone itself would not let through. */
export async function force(name: string, actions: Action[]): Promise<object> {
  const before = number();
  const board = openCopy()?.board as unknown as { rehearse?: unknown };
  board.rehearse = () => {};
  try {
    await commit(name, actions);
  } finally {
    // What stands on the prototype is seen again.
    delete board.rehearse;
  }
  return { made: await since(before) };
}

/** Keep a picture that is small enough already. */
export async function photograph(sha256: string, base64: string): Promise<object> {
  const before = number();
  const bytes = new Uint8Array(Buffer.from(base64, "base64")).buffer;
  const picture: BlobRow = { sha256, type: "image/jpeg", bytes, status: "waiting" };
  const body = { sha256, size_b: bytes.byteLength, taken_at: nowAt() };
  await commit("add_photo", [recording("photo", body)], [picture]);
  return { made: await since(before) };
}

/** Leave the outbox as the first version of this client wrote it. */
export async function age(): Promise<void> {
  const copy = openCopy();
  if (copy === null) return;
  for (const row of await copy.db.getAll("operations")) {
    const { n, at, act: name, actions, status, problem } = row;
    const old = { n, at, act: name, actions, status, ...(problem === null ? {} : { problem }) };
    await copy.db.put("operations", old as typeof row);
  }
}

/** What the person sees now. */
export function look(): object {
  const rows = view.peek();
  const account = currentAccount();
  const items = Object.fromEntries(
    ITEMS.map((kind) => [
      kind,
      rows.items(kind).map((row) => ({ id: row.id, fields: row.fields, sets: row.sets })),
    ]),
  );
  const records = Object.fromEntries(
    RECORDS.map((kind) => [
      kind,
      rows.records(kind).map(({ id, body, root_id }) => ({ id, body, root_id })),
    ]),
  );
  const own = rows.item("member", account?.member_id ?? "");
  return {
    ...{ items, records, differences: rows.differences.map(plainly), refused: rows.refused },
    newest: newestStamp(),
    device: account?.device_id ?? null,
    revoked: account?.key_revoked ?? false,
    role: own?.fields.role ?? account?.role ?? null,
    state: syncState.peek(),
  };
}

/** The greatest stamp among all that is shown. */
function newestStamp(): string {
  const rows = view.peek();
  let newest = "";
  const take = (stamp: string): void => {
    if (stamp > newest) newest = stamp;
  };
  for (const row of ITEMS.flatMap((kind) => rows.items(kind))) {
    take(row.at);
    Object.values(row.stamps).forEach(take);
    for (const members of Object.values(row.sets)) Object.values(members).flat().forEach(take);
  }
  for (const row of RECORDS.flatMap((kind) => rows.allRecords(kind))) take(row.at);
  return newest;
}

const plainly = ({ id, kind, item_id, field, kept, lost }: Difference) => ({
  ...{ id, kind, item_id, field, kept, lost },
});

/** Everything that is on the disk, and the rows that are shown. */
export async function dump(): Promise<object> {
  publish();
  const copy = openCopy();
  if (copy === null) return {};
  const rows = view.peek();
  const [operations, blobs] = await Promise.all([
    copy.db.getAll("operations"),
    copy.db.getAll("blobs"),
  ]);
  const fresh = await Copy.open(copy.device_id);
  const { items, records, differences } = fresh.board.baseLayer();
  const { meta } = fresh;
  fresh.close();
  return {
    ...{ operations, meta, differences: [...differences.values()] },
    rows: [...items.values(), ...records.values()],
    blobs: blobs.map(({ bytes: _, ...row }) => row),
    shown: {
      items: ITEMS.flatMap((kind) => rows.items(kind)),
      records: RECORDS.flatMap((kind) =>
        rows.allRecords(kind).map(({ root_id: _, ...row }) => row),
      ),
    },
  };
}

/** The operations that are on the disk. */
export const written = () => since(0);

/** The warnings that this phone would ring, by its own reckoning. */
export function warnings(now_at: number): object {
  const rows = view.peek();
  const sources = new ClockBook().sources(rows, now_at);
  const coats = coatsByStep(sources);
  const stories = new StepStories(rows, coats, now_at).all();
  return personalWarnings(rows, sources, coats, stories, now_at).map(({ member_id, warning }) => ({
    ...{ member_id, ...warning },
  }));
}
