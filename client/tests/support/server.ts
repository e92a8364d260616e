/**
 * A server of docs/sync.md in a few lines, to test the phone against: the merge is the one under test elsewhere, the
 * rest (numbers, verdicts, pages, epochs, no echo) is written from the protocol's page.
 */
import { gunzipSync } from "node:zlib";
import { apply } from "../../src/merge/apply.ts";
import { checkShape } from "../../src/merge/operation.ts";
import { RefusedError } from "../../src/merge/refused.ts";
import type { Difference, Item, Json, Operation, Rec, Rows } from "../../src/merge/state.ts";
import type { Table } from "../../src/store/blocks.ts";
import type { Answer, Part, Request } from "../../src/sync/protocol.ts";

type Problem = ReturnType<RefusedError["asProblem"]>;

interface Filed {
  seq: number;
  /** Since when it is there. */
  made: number;
  writer: string;
  row: Item | Rec;
}

interface Phone {
  last_n: number;
  refused: Map<number, Problem>;
  whole_until: number;
}

export const DEVICE = "phone0000001";
export const OTHER = "phone0000002";
export const MEMBER = "member-1";
export const REFIT = "refit-1";

/** A stamp at a second of the story. */
export const stamp = (second: number, device: string = OTHER): string =>
  `${(1_700_000_000_000 + second * 1000).toString(16).padStart(12, "0")}0000-${device}`;

export class Server implements Rows {
  epoch = "epoch-1";
  seq = 0;
  page_rows = 1000;
  now_ms = 1_700_000_100_000;
  revoked = false;
  readonly filed = new Map<string, Filed>();
  readonly differences = new Map<string, { seq: number; row: Difference }>();
  readonly phones = new Map<string, Phone>();
  readonly requests: Request[] = [];
  snapshot: { version: string; seq: number; pages: object[] } | null = null;
  readonly pages_asked: number[] = [];
  /** As `before`, for a page of the snapshot. */
  before_page: (number: number) => Response | null = () => null;
  /** Called before each answer is made; what it gives is answered in the place of the truth. */
  before: (count: number, request: Request) => Response | null = () => null;
  /** Called after the work is done; throwing loses the answer. */
  after: (count: number) => void = () => {};

  constructor() {
    const at = stamp(0, "server000000");
    const bare = { at, stamps: {}, sets: {} };
    const device = (id: string): Item => ({
      ...{ kind: "device", id, ...bare, fields: { member_id: MEMBER, name: "" } },
    });
    this.file("server000000", [
      { kind: "refit", id: REFIT, ...bare, fields: { name: "Heron", time_zone: "Europe/Lisbon" } },
      { kind: "member", id: MEMBER, ...bare, fields: { name: "Ines", role: "owner" } },
      device(DEVICE),
      device(OTHER),
    ]);
  }

  item(id: string): Item | undefined {
    const row = this.filed.get(id)?.row;
    return row && "fields" in row ? row : undefined;
  }

  record(id: string): Rec | undefined {
    const row = this.filed.get(id)?.row;
    return row && "body" in row ? row : undefined;
  }

  difference(id: string): Difference | undefined {
    return this.differences.get(id)?.row;
  }

  phone(device: string): Phone {
    const known = this.phones.get(device) ?? { last_n: 0, refused: new Map(), whole_until: 0 };
    this.phones.set(device, known);
    return known;
  }

  private file(writer: string, rows: (Item | Rec)[]): void {
    for (const row of rows) {
      const [seq, before] = [++this.seq, this.filed.get(row.id)];
      const gone = before && "fields" in before.row && before.row.fields.gone === true;
      this.filed.set(row.id, { seq, made: before && !gone ? before.made : seq, writer, row });
    }
  }

  /** Another phone does something. */
  act(operation: Pick<Operation, "at" | "actions">, device: string = OTHER, loading = false): void {
    checkShape(operation.actions);
    const outcome = apply(this, operation, { device });
    const altered = (id: string): string => (loading || outcome.altered.has(id) ? "" : device);
    for (const row of [...outcome.items.values(), ...outcome.records.values()]) {
      this.file(altered(row.id), [row]);
    }
    for (const id of outcome.altered) {
      const item = this.item(id);
      if (item && !outcome.items.has(id)) this.file("", [item]);
    }
    for (const row of outcome.differences.values()) {
      this.differences.set(row.id, { seq: ++this.seq, row });
    }
  }

  private take(request: Request): void {
    const phone = this.phone(request.device);
    const first_n = request.first_n ?? 0;
    if (first_n > phone.last_n + 1 && request.operations[0]?.n === first_n) {
      phone.last_n = first_n - 1;
    }
    for (const one of request.operations) {
      if (one.n <= phone.last_n) continue;
      if (one.n !== phone.last_n + 1) break;
      try {
        this.act(one, request.device, request.loading);
      } catch (error) {
        if (!(error instanceof RefusedError)) throw error;
        phone.refused.set(one.n, error.asProblem());
      }
      phone.last_n = one.n;
    }
  }

  private answer(request: Request): Answer {
    const phone = this.phone(request.device);
    this.take(request);
    const reset =
      (request.epoch !== null && request.epoch !== this.epoch) || request.cursor > this.seq;
    const loads_all = reset || request.cursor === 0;
    const snapshot = loads_all && request.snapshot ? this.snapshot : null;
    const cursor = loads_all ? (snapshot?.seq ?? 0) : request.cursor;
    if (loads_all) phone.whole_until = this.seq;
    const whole = cursor < phone.whole_until;
    const news = [
      ...[...this.filed.values()].filter((one) => whole || one.writer !== request.device),
      ...this.differences.values(),
    ]
      .filter((one) => one.seq > cursor)
      .sort((a, b) => a.seq - b.seq);
    const page = news.slice(0, this.page_rows);
    const more = news.length > page.length;
    const sent = new Set(request.operations.map((one) => one.n));
    return {
      epoch: this.epoch,
      server_time: new Date(this.now_ms).toISOString(),
      clock: null,
      acknowledged_n: phone.last_n,
      refused: [...phone.refused]
        .filter(([n]) => sent.has(n))
        .map(([n, problem]) => ({ n, problem })),
      changes: page.flatMap((one) => {
        if ("kept" in one.row) return [];
        const here = request.parts && !whole && "made" in one && one.made <= cursor;
        return [here && "fields" in one.row ? partOf(one.row) : structuredClone(one.row)];
      }),
      differences: page.flatMap((one) => ("kept" in one.row ? [structuredClone(one.row)] : [])),
      cursor: more ? (page.at(-1)?.seq ?? cursor) : this.seq,
      more,
      reset,
      ...(snapshot && {
        snapshot: { version: snapshot.version, pages: snapshot.pages.length },
      }),
    };
  }

  /** The door: a fetch that ends here. */
  readonly fetch = async (path: unknown, init?: RequestInit): Promise<Response> => {
    if (init?.method !== "POST") return this.get(new URL(String(path), "http://server"));
    const headers = new Headers(init?.headers);
    const bytes = Buffer.from(await new Response(init?.body as BodyInit).arrayBuffer());
    const text = headers.get("Content-Encoding") === "gzip" ? gunzipSync(bytes) : bytes;
    return this.serve(JSON.parse(text.toString("utf8")) as Request);
  };

  /** A phone that has nothing to say; its request is noted like another. */
  private async get({ pathname, searchParams }: URL): Promise<Response> {
    const [, what, version, number] = /\/(sync|snapshot)\/?(\w*)\/?(\d*)$/.exec(pathname) ?? [];
    if (what === "snapshot") return this.page(version ?? "", Number(number));
    const [epoch, cursor] = [searchParams.get("epoch"), Number(searchParams.get("cursor"))];
    const place = { protocol: 1, schema: 1, epoch, device: DEVICE, cursor };
    const request = {
      ...place,
      operations: [],
      snapshot: true,
      parts: true,
      loading: false,
      first_n: null,
    };
    const quiet = epoch === this.epoch && cursor === this.seq;
    return this.serve(request, quiet);
  }

  private page(version: string, number: number): Response {
    this.pages_asked.push(number);
    if (this.revoked) return problem(401, "key-withdrawn");
    const early = this.before_page(number);
    if (early) return early;
    const page = this.snapshot?.version === version ? this.snapshot.pages[number] : undefined;
    return page ? Response.json(page) : problem(404, "unknown-snapshot");
  }

  private async serve(request: Request, quiet = false): Promise<Response> {
    const count = this.requests.push(request);
    if (this.revoked) return problem(401, "key-withdrawn");
    const early = this.before(count, request);
    if (early) return early;
    if (quiet) {
      const headers = { Date: new Date(this.now_ms).toUTCString() };
      return new Response(null, { status: 204, headers });
    }
    const answer = this.answer(request);
    this.after(count);
    return Response.json(answer);
  }

  /** Make a snapshot of what is here now, with so many rows on a page. */
  prepare(version: string, rows: number): void {
    const all = [...this.filed.values(), ...this.differences.values()].map((one) => one.row);
    const pages = [];
    for (let from = 0; from < all.length; from += rows) {
      const part = structuredClone(all.slice(from, from + rows));
      pages.push({
        tables: part.flatMap((row) => ("kept" in row ? [] : [tableOf(row)])),
        differences: part.flatMap((row) => ("kept" in row ? [row] : [])),
      });
    }
    this.snapshot = { version, seq: this.seq, pages };
  }

  /** The server is set back to an older state, as after a restore: a new epoch, and what came since is gone. */
  restore(older: { seq: number; phones: [string, number][] }, epoch: string): void {
    for (const [id, one] of this.filed) if (one.seq > older.seq) this.filed.delete(id);
    for (const [id, one] of this.differences) {
      if (one.seq > older.seq) this.differences.delete(id);
    }
    this.phones.clear();
    for (const [device, last_n] of older.phones) this.phone(device).last_n = last_n;
    this.seq = older.seq;
    this.epoch = epoch;
  }
}

/** What of an item was set after its making. */
function partOf({ kind, id, fields, stamps, sets }: Item): Part {
  const later = Object.keys(stamps).map((name) => [name, fields[name]]);
  return structuredClone({ kind, id, part: true, fields: Object.fromEntries(later), stamps, sets });
}

/** A table of one row. */
function tableOf(row: Item | Rec): Table {
  const columns = (values: Record<string, Json>) =>
    Object.fromEntries(Object.entries(values).map(([name, value]) => [name, [value]]));
  const head = { kind: row.kind, id: [row.id], at: [row.at] };
  if ("fields" in row) {
    return {
      ...head,
      fields: columns(row.fields),
      stamps: { 0: row.stamps },
      sets: { 0: row.sets },
    };
  }
  const replaces = row.replaces === null ? {} : { 0: row.replaces };
  return { ...head, body: columns(row.body), replaces, ...(row.void && { void: { 0: true } }) };
}

export function problem(status: number, code: string, headers: Record<string, string> = {}) {
  const body = { type: `urn:tackwatch:problem:${code}`, title: code, status, detail: code };
  return Response.json(body, { status, headers });
}
