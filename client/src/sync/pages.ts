/** Fetching a page of a snapshot: as slow as the line may be, it is given up only when nothing comes any more. */
import { readBlock } from "../store/blocks.ts";
import type { Copy } from "../store/copy.ts";
import { forgetSnapshot, takePage } from "../store/whole.ts";
import { failure, type Outcome, type Ports } from "./round.ts";

const SILENCE_MS = 30_000;

/** Fetch the page of a snapshot that is lacking, and keep it. */
export async function fetchPage(
  copy: Copy,
  ports: Ports,
  version: string,
  number: number,
): Promise<Outcome> {
  const path = `/api/refits/${ports.refit_id}/snapshot/${version}/${number}`;
  let response: Response;
  let text: string;
  const watch = new Watch();
  try {
    const headers = { Authorization: `Bearer ${ports.key}` };
    response = await ports.fetch(path, { headers, signal: watch.signal });
    text = await watch.read(response);
  } catch {
    return { kind: "later", offline: true, wait_ms: 0 };
  } finally {
    watch.end();
  }
  if (response.status === 404) {
    await forgetSnapshot(copy, version);
    return { kind: "taken", more: true, numbers: [], whole: false, stuck: false };
  }
  if (!response.ok) return failure(response, text, ports.now());
  if (readBlock(text) === null) return { kind: "later", offline: false, wait_ms: 0 };
  const whole = await takePage(copy, { version, number, text });
  return { kind: "taken", more: !whole, numbers: [], whole, stuck: false };
}

/** Cuts a line that has fallen silent. */
class Watch {
  private readonly cut = new AbortController();
  private timer = this.start();
  readonly signal = this.cut.signal;

  async read(response: Response): Promise<string> {
    const reader = response.body?.pipeThrough(new TextDecoderStream()).getReader();
    const pieces: string[] = [];
    for (let piece = await reader?.read(); piece && !piece.done; piece = await reader?.read()) {
      this.end();
      this.timer = this.start();
      pieces.push(piece.value);
    }
    return pieces.join("");
  }

  end(): void {
    clearTimeout(this.timer);
  }

  private start(): ReturnType<typeof setTimeout> {
    return setTimeout(() => this.cut.abort(), SILENCE_MS);
  }
}
