/**
 * A server of docs/photos.md in a few lines, written from that page: it takes pictures in pieces, and its line can be
 * cut after any byte.
 */
import { createHash } from "node:crypto";

const hex = (bytes: Uint8Array): string => createHash("sha256").update(bytes).digest("hex");

const problem = (status: number, code: string): Response =>
  new Response(
    JSON.stringify({ type: `urn:tackwatch:problem:${code}`, title: code, detail: code }),
    {
      status,
    },
  );

interface Part {
  size_b: number;
  bytes: Uint8Array;
  keep_metadata: boolean;
}

export class Uploads {
  readonly parts = new Map<string, Part>();
  readonly photos = new Map<string, Uint8Array>();
  /** All bytes that were put on the line. */
  sent_b = 0;
  requests = 0;
  /** What is answered in the place of the truth. */
  instead: (method: string, count: number) => Response | null = () => null;
  /** After how many bytes of a piece the line breaks; null while it holds. */
  breaksAfter: (piece_b: number, count: number) => number | null = () => null;
  /** Called once a piece is kept. */
  kept: () => Promise<void> | void = () => {};

  readonly fetch = async (path: string, init: RequestInit): Promise<Response> => {
    this.requests += 1;
    const headers = new Headers(init.headers);
    if (headers.get("Tus-Resumable") !== "1.0.0") return problem(412, "unknown-version");
    const instead = this.instead(init.method ?? "", this.requests);
    if (instead) return instead;
    return init.method === "POST" ? this.begin(headers) : this.goOn(path, headers, init.body);
  };

  private begin(headers: Headers): Response {
    const said = new Map(
      (headers.get("Upload-Metadata") ?? "")
        .split(",")
        .map((pair) => pair.split(" "))
        .map(([key = "", value = ""]) => [key, atob(value)]),
    );
    const sha256 = said.get("sha256") ?? "";
    const size_b = Number(headers.get("Upload-Length"));
    const known = this.parts.get(sha256)?.bytes ?? new Uint8Array(0);
    const here = this.photos.get(sha256);
    if (here) return this.standing(201, here.length);
    const keep_metadata = said.get("keep_metadata") === "true";
    const part = { size_b, bytes: known, keep_metadata };
    this.parts.set(sha256, part);
    return known.length < size_b
      ? this.standing(201, known.length)
      : this.finish(sha256, part, 201);
  }

  private async goOn(path: string, headers: Headers, body: unknown): Promise<Response> {
    const sha256 = path.split("/").at(-1) ?? "";
    const part = this.parts.get(sha256);
    if (!part) return problem(404, "unknown-upload");
    if (Number(headers.get("Upload-Offset")) !== part.bytes.length)
      return problem(409, "offset-differs");
    const piece = new Uint8Array(body as ArrayBuffer);
    const arrives_b = this.breaksAfter(piece.length, this.requests) ?? piece.length;
    this.sent_b += arrives_b;
    part.bytes = Uint8Array.from([...part.bytes, ...piece.subarray(0, arrives_b)]);
    await this.kept();
    if (arrives_b < piece.length) throw new TypeError("the line broke");
    if (part.bytes.length < part.size_b) return this.standing(204, part.bytes.length);
    return this.finish(sha256, part, 204);
  }

  private finish(sha256: string, part: Part, status: number): Response {
    this.parts.delete(sha256);
    if (hex(part.bytes) !== sha256) return problem(422, "hash-differs");
    this.photos.set(sha256, part.bytes);
    return this.standing(status, part.size_b);
  }

  private standing(status: number, at_b: number): Response {
    return new Response(null, { status, headers: { "Upload-Offset": String(at_b) } });
  }
}
