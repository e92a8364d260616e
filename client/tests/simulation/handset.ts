/** A simulated phone: its disk, its clock, the pages that are open on it, and its sudden death. */
import { createHash } from "node:crypto";
import { compileFunction } from "node:vm";
import { IDBFactory } from "fake-indexeddb";
import { drop } from "./tasks.ts";

/** What one page of the app asked of the network, and how to answer it. */
export interface Asked {
  id: number;
  handset: string;
  page: string;
  method: string;
  path: string;
  headers: Record<string, string>;
  body: string | null;
  packed: boolean;
  resolve: (answer: unknown) => void;
  reject: (error: Error) => void;
}

interface Timer {
  id: number;
  at: number;
  run: () => void;
}

type Listener = (event: unknown) => void;

/** What the world gives to all phones. */
export interface World {
  now_ms: number;
  ask: (asked: Omit<Asked, "id">) => void;
}

/** The names that a page finds around it; each page has its own. */
const NAMES = [
  ...["globalThis", "indexedDB", "fetch", "Date", "Math", "crypto", "navigator", "document"],
  ...["setTimeout", "clearTimeout", "setInterval", "clearInterval", "addEventListener"],
  ...["BroadcastChannel", "CompressionStream", "TextDecoderStream", "AbortSignal"],
  ...["location"],
];

/** Longer waits than this run over, and end at once (HTML standard, timers: a signed number of 32 bits). */
const LONGEST_WAIT_MS = 2 ** 31 - 1;

let script: ReturnType<typeof compileFunction> | null = null;

/** Say what code the pages run: a bundle that leaves its exports in `page`. */
export function setScript(code: string): void {
  script = compileFunction(`${code}\nreturn page;`, NAMES);
}

/** Small numbers by chance (Mulberry32, public domain, from memory). */
export function chanceFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

export class Handset {
  private disk = new IDBFactory();
  private pages = new Map<string, Page>();
  private locks = new Map<string, Promise<unknown>>();
  readonly channels = new Set<Channel>();
  /** How far this phone's own clock is from the true time. */
  clock_off_ms = 0;

  constructor(
    readonly name: string,
    readonly world: World,
    readonly chance: () => number,
  ) {}

  get factory(): IDBFactory {
    return this.disk;
  }

  page(name: string): Page {
    const found = this.pages.get(name);
    if (found === undefined) throw new Error(`no page ${name} on ${this.name}`);
    return found;
  }

  open(name: string): Page {
    const page = new Page(this, name);
    this.pages.set(name, page);
    return page;
  }

  hasPage(name: string): boolean {
    return this.pages.has(name);
  }

  now(): number {
    return this.world.now_ms + this.clock_off_ms;
  }

  /** One at a time under each name, as the browser's locks have it (Web Locks API). */
  readonly request = async <T>(
    name: string,
    ...rest: [() => Promise<T>] | [{ signal?: AbortSignal }, () => Promise<T>]
  ): Promise<T> => {
    const [options, work] = rest.length === 1 ? [{}, rest[0]] : rest;
    const before = this.locks.get(name) ?? Promise.resolve();
    let free = (): void => {};
    const held = new Promise<void>((resolve) => {
      free = resolve;
    });
    this.locks.set(
      name,
      before.then(() => held),
    );
    try {
      await Promise.race([before, aborted(options.signal)]);
      return await work();
    } finally {
      free();
    }
  };

  /** All pages are gone at once; what their transactions had not completed never was. */
  die(): void {
    drop();
    this.pages.clear();
    this.channels.clear();
    this.locks.clear();
    rollBack(this.disk);
  }
}

/** Fails when a signal says so. */
const aborted = (signal: AbortSignal | undefined): Promise<void> =>
  new Promise((_, reject) => {
    signal?.addEventListener("abort", () => reject(new Error("aborted")));
  });

interface RawTransaction {
  mode: string;
  _state: string;
  _rollbackLog: (() => void)[];
}

interface RawDatabase {
  transactions: RawTransaction[];
  connections: unknown[];
}

/** Undo what stands half-way on a disk, without telling anybody: they are dead. */
function rollBack(disk: IDBFactory): void {
  const inner = disk as unknown as {
    _databases: Map<string, RawDatabase>;
    _connectionQueues: Map<string, Promise<unknown>>;
  };
  for (const [name, raw] of inner._databases) {
    const open = raw.transactions.filter((tx) => tx._state !== "finished");
    for (const tx of open.reverse()) {
      for (const undo of tx._rollbackLog.reverse()) undo();
      tx._state = "finished";
    }
    if (open.some((tx) => tx.mode === "versionchange")) inner._databases.delete(name);
    raw.transactions = [];
    raw.connections = [];
  }
  inner._connectionQueues = new Map();
}

/** A channel between the pages of one phone. */
class Channel {
  onmessage: ((event: { data: unknown }) => void) | null = null;

  constructor(
    readonly handset: Handset,
    readonly name: string,
  ) {
    handset.channels.add(this);
  }

  postMessage(data: unknown): void {
    for (const other of this.handset.channels) {
      if (other === this || other.name !== this.name) continue;
      setImmediate(() => other.onmessage?.({ data: structuredClone(data) }));
    }
  }

  close(): void {
    this.handset.channels.delete(this);
  }
}

export type PageModule = Record<string, (...given: unknown[]) => unknown>;

export class Page {
  readonly module: PageModule;
  private timers: Timer[] = [];
  private count = 0;
  private listeners = new Map<string, Listener[]>();

  constructor(
    readonly handset: Handset,
    readonly name: string,
  ) {
    if (script === null) throw new Error("no script");
    const around = this.around();
    this.module = script(...NAMES.map((word) => around[word])) as PageModule;
  }

  /** Run the timers that are due, each once; answers whether there was one. */
  ring(): boolean {
    const due = this.timers.filter((timer) => timer.at <= this.handset.world.now_ms);
    due.sort((a, b) => a.at - b.at || a.id - b.id);
    this.timers = this.timers.filter((timer) => !due.includes(timer));
    for (const timer of due) timer.run();
    return due.length > 0;
  }

  /** When the next timer is due. */
  nextAt(): number | null {
    return this.timers.reduce<number | null>(
      (least, { at }) => (least === null || at < least ? at : least),
      null,
    );
  }

  /** Something happens to the window. */
  hear(type: string): void {
    for (const listener of this.listeners.get(type) ?? []) listener({ type });
  }

  private around(): Record<string, unknown> {
    const { handset } = this;
    const listen = (type: string, listener: Listener): void => {
      this.listeners.set(type, [...(this.listeners.get(type) ?? []), listener]);
    };
    const own: Record<string, unknown> = {
      indexedDB: handset.factory,
      fetch: this.fetch,
      Date: dateOf(() => handset.now()),
      Math: Object.create(Math, { random: { value: handset.chance } }),
      crypto: { randomUUID: () => uuid(handset.chance), subtle: { digest } },
      navigator: { onLine: true, locks: { request: handset.request } },
      document: { visibilityState: "hidden", addEventListener: () => {} },
      setTimeout: this.setTimeout,
      clearTimeout: this.clearTimeout,
      setInterval: () => 0,
      clearInterval: () => {},
      addEventListener: listen,
      BroadcastChannel: class extends Channel {
        constructor(name: string) {
          super(handset, name);
        }
      },
      // Packing runs on threads of the machine, whose order is nobody's; tests of its own stand beside the sync's.
      CompressionStream: undefined,
      TextDecoderStream: class {},
      // Patience is the simulated network's to end.
      AbortSignal: {},
      location: { hash: "" },
    };
    return { ...own, globalThis: own };
  }

  private readonly setTimeout = (run: () => void, wait_ms = 0): number => {
    const wait = wait_ms > LONGEST_WAIT_MS ? 0 : Math.max(0, wait_ms);
    this.timers.push({ id: ++this.count, at: this.handset.world.now_ms + wait, run });
    return this.count;
  };

  private readonly clearTimeout = (id: number | undefined): void => {
    this.timers = this.timers.filter((timer) => timer.id !== id);
  };

  private readonly fetch = (path: string, init: RequestInit = {}): Promise<unknown> =>
    new Promise((resolve, reject) => {
      const packed = init.body instanceof ArrayBuffer;
      const body = packed
        ? Buffer.from(init.body as ArrayBuffer).toString("base64")
        : ((init.body as string | undefined) ?? null);
      this.handset.world.ask({
        ...{ handset: this.handset.name, page: this.name, method: init.method ?? "GET", path },
        ...{ headers: { ...(init.headers as Record<string, string>) }, body, packed },
        ...{ resolve, reject },
      });
    });
}

/** SHA-256 at once: on the machine's own threads its end would come at nobody's time. */
async function digest(_: string, bytes: ArrayBuffer): Promise<ArrayBuffer> {
  const made = createHash("sha256").update(new Uint8Array(bytes)).digest();
  return new Uint8Array(made).buffer;
}

function dateOf(now: () => number): DateConstructor {
  return class extends Date {
    constructor(...given: unknown[]) {
      super(...((given.length === 0 ? [now()] : given) as [number]));
    }
    static override now(): number {
      return now();
    }
  } as DateConstructor;
}

function uuid(chance: () => number): string {
  const digits = Array.from({ length: 32 }, () => Math.floor(chance() * 16).toString(16)).join("");
  const ends = [0, 8, 12, 16, 20, 32];
  return ends
    .slice(1)
    .map((end, n) => digits.slice(ends[n], end))
    .join("-");
}
