/**
 * A whole fresh copy: it is loaded aside, and the old one stays in use until all of it is here.
 *
 * - It is made of the pages of a snapshot, where the server has one ready, and of single rows over them. Pages and answers
 *   may come in any order, and a page that is here is never asked for again.
 * - The server is told that it comes, and sends back what this phone does meanwhile: nobody here could say whether a page
 *   was cut before or after that.
 */
import type { StoreNames } from "idb";
import type { Difference } from "../merge/state.ts";
import type { Answer } from "../sync/protocol.ts";
import { putAll, STORES, storeRows, type Tx } from "./applied.ts";
import { allOf } from "./blocks.ts";
import type { Copy } from "./copy.ts";
import {
  type Aside,
  type Block,
  type Meta,
  type PhoneSchema,
  type Row,
  readMeta,
  wholly,
} from "./db.ts";

/** Begin one; what an earlier beginning left of single rows is forgotten. */
export async function begin(tx: Tx, epoch: string, snapshot: Aside["snapshot"]): Promise<Aside> {
  await tx.objectStore("aside").clear();
  return { cursor: 0, epoch, more: true, snapshot };
}

/** Lay what an answer brings aside. */
export function storeAside(tx: Tx, rows: Row[], differences: Difference[]): void {
  putAll(tx, "aside", [
    ...rows.map((row) => ({ what: "row" as const, id: row.id, row })),
    ...differences.map((row) => ({ what: "difference" as const, id: row.id, row })),
  ]);
}

export function advanced(aside: Aside, { cursor, epoch, more }: Answer): Aside {
  return { ...aside, cursor, epoch, more };
}

/** Put the fresh copy in the place of the old one, if all of it is here. Answers whether it was. */
export async function finish(tx: Tx, meta: Meta): Promise<boolean> {
  const { aside } = meta;
  if (aside === null || aside.more) return false;
  const version = aside.snapshot?.version ?? null;
  const blocks = version === null ? 0 : await tx.objectStore("blocks").count(allOf(version));
  if (blocks < (aside.snapshot?.pages ?? 0)) return false;
  await swap(tx, aside);
  Object.assign(meta, {
    cursor: aside.cursor,
    epoch: aside.epoch,
    aside: null,
    more: false,
    snapshot: version,
  });
  return true;
}

async function swap(tx: Tx, aside: Aside): Promise<void> {
  const found = await tx.objectStore("aside").getAll();
  const rows = found.flatMap(({ what, row }) => (what === "row" ? [row as Row] : []));
  const differences = found.flatMap(({ what, row }) => (what === "row" ? [] : [row as Difference]));
  await clear(tx, ["rows", "differences", "aside"]);
  storeRows(tx, rows, differences);
  const others = await tx.objectStore("blocks").getAllKeys();
  const old = others.filter(([version]) => version !== aside.snapshot?.version);
  await Promise.all(old.map(async (key) => tx.objectStore("blocks").delete(key)));
}

async function clear(tx: Tx, names: ("rows" | "differences" | "aside")[]): Promise<void> {
  await Promise.all(names.map(async (name) => tx.objectStore(name).clear()));
}

/** Keep a page that came. Answers whether the fresh copy is in the old one's place now. */
export async function takePage(copy: Copy, block: Block): Promise<boolean> {
  const tx = copy.db.transaction(STORES as StoreNames<PhoneSchema>[], "readwrite") as unknown as Tx;
  const swapped = await wholly(tx, async () => {
    const meta = readMeta(await tx.objectStore("meta").get("meta"));
    if (meta.aside?.snapshot?.version !== block.version) return false;
    await tx.objectStore("blocks").put(block);
    const whole = await finish(tx, meta);
    if (whole)
      await tx.objectStore("meta").put({ ...meta, version: meta.version + 1, name: "meta" });
    return whole;
  });
  if (swapped) await copy.reload();
  return swapped;
}

/** The server keeps this snapshot no more: begin the fresh copy anew. */
export async function forgetSnapshot(copy: Copy, version: string): Promise<void> {
  const tx = copy.db.transaction(["meta", "aside"], "readwrite");
  copy.meta = await wholly(tx, async () => {
    const meta = readMeta(await tx.objectStore("meta").get("meta"));
    if (meta.aside?.snapshot?.version !== version) return meta;
    await tx.objectStore("aside").clear();
    const aside = { ...meta.aside, cursor: 0, more: true, snapshot: null };
    const next = { ...meta, aside };
    await tx.objectStore("meta").put({ ...next, name: "meta" });
    return next;
  });
}
