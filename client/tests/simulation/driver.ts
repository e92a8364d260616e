/**
 * Holds many simulated phones for a program that owns time, chance and the network: a JSON object a line in, one out.
 *
 * Each line is worked on until every phone waits for something, so the same lines give the same answers. What the phones
 * ask of the network comes back as `asked`; the program answers when and how it likes.
 */
import "./tasks.ts";
import "fake-indexeddb/auto";
import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";
import { type Asked, chanceFrom, Handset, type Page, setScript, type World } from "./handset.ts";
import { drop, work } from "./tasks.ts";

/** What the program says. `die_after`: the phone dies after so many turns of its disk. */
interface Line {
  do: string;
  handset?: string;
  page?: string;
  now_ms?: number;
  die_after?: number;
  seed?: number;
  off_ms?: number;
  name?: string;
  given?: unknown[];
  asked?: number;
  status?: number;
  headers?: Record<string, string>;
  body?: string;
  cut?: "nothing" | "half";
}

/** As often a page may ring its timers in one line; more is a page that does not come to rest. */
const MOST_RINGS = 200;

let handsets = new Map<string, Handset>();
let open = new Map<number, Asked>();
let fresh: Asked[] = [];
let count = 0;
let chance = chanceFrom(0);

const world: World = {
  now_ms: 0,
  ask: (asked) => {
    const numbered = { id: ++count, ...asked };
    open.set(numbered.id, numbered);
    fresh.push(numbered);
  },
};

function begin(seed: number): void {
  drop();
  handsets = new Map();
  open = new Map();
  fresh = [];
  count = 0;
  chance = chanceFrom(seed);
}

function handsetOf(line: Line): Handset {
  const name = line.handset ?? "";
  const found = handsets.get(name) ?? new Handset(name, world, chance);
  handsets.set(name, found);
  return found;
}

const pageOf = (line: Line): Page => handsetOf(line).page(line.page ?? "");

/** Start what a line asks for; what it gives is waited for, if the phone lives. */
function started(line: Line): unknown {
  switch (line.do) {
    case "clock":
      handsetOf(line).clock_off_ms = line.off_ms ?? 0;
      return null;
    case "plant":
      return handsetOf(line)
        .open("plant")
        .module.plant?.(...(line.given ?? []));
    case "open":
      return handsetOf(line)
        .open(line.page ?? "")
        .module.start?.();
    case "call":
      return pageOf(line).module[line.name ?? ""]?.(...(line.given ?? []));
    case "ring":
      return pageOf(line).ring();
    case "hear":
      return pageOf(line).hear(line.name ?? "");
    case "answer":
      return answer(line);
    case "die":
      return null;
    default:
      throw new Error(`what is ${line.do}?`);
  }
}

function answer(line: Line): void {
  const asked = open.get(line.asked ?? 0);
  open.delete(line.asked ?? 0);
  if (asked === undefined) return;
  if (line.cut === "nothing") {
    asked.reject(new TypeError("Failed to fetch"));
    return;
  }
  const { status = 200, body = "" } = line;
  const text = (): string => {
    if (line.cut === "half") throw new TypeError("network error");
    return body;
  };
  asked.resolve({
    ...{ ok: status >= 200 && status < 300, status, headers: new Headers(line.headers) },
    text: async () => text(),
    json: async () => JSON.parse(text()),
    body: { pipeThrough: () => ({ getReader: () => readerOf(text) }) },
  });
}

/** Reads a body as a stream of text: in two pieces, or in one and then no more. */
function readerOf(text: () => string): { read(): Promise<{ done: boolean; value?: string }> } {
  let piece = 0;
  return {
    read: async () => {
      piece += 1;
      if (piece > 2) return { done: true };
      const whole = text();
      const half = Math.floor(whole.length / 2);
      return { done: false, value: piece === 1 ? whole.slice(0, half) : whole.slice(half) };
    },
  };
}

/** Work until all wait, or until the phone is dead. */
async function done(line: Line): Promise<object> {
  const outcome: { gave?: unknown; failed?: string } = {};
  const doing = (async () => started(line))().then(
    (gave) => {
      outcome.gave = gave ?? null;
    },
    (error: unknown) => {
      outcome.failed = String(error);
    },
  );
  let turns = await work(line.die_after);
  for (let times = 1; line.do === "ring" && line.die_after === undefined; times++) {
    if (times > MOST_RINGS) throw new Error("this page does not come to rest");
    if (!pageOf(line).ring()) break;
    turns += await work();
  }
  const dies = line.die_after !== undefined || line.do === "die";
  if (dies) kill(handsetOf(line));
  else await Promise.race([doing, Promise.resolve()]);
  return { ...outcome, turns };
}

function kill(handset: Handset): void {
  handset.die();
  for (const [id, asked] of open) if (asked.handset === handset.name) open.delete(id);
}

async function answered(line: Line): Promise<object> {
  if (line.now_ms !== undefined) world.now_ms = line.now_ms;
  if (line.do === "begin") {
    begin(line.seed ?? 0);
    return {};
  }
  const outcome = await done(line);
  const asked = fresh.map(({ resolve: _, reject: __, ...rest }) => rest);
  fresh = [];
  return { ...outcome, asked };
}

setScript(readFileSync(process.argv[2] ?? "", "utf8"));
let last: Promise<void> = Promise.resolve();
createInterface({ input: process.stdin }).on("line", (text) => {
  last = last.then(async () => {
    const line = JSON.parse(text) as Line;
    process.stdout.write(`${JSON.stringify(await answered(line))}\n`);
  });
});
