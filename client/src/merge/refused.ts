/** The one error of the merge: an operation that cannot take effect, and which field is at fault. */
import type { Json } from "./state.ts";

export class RefusedError extends Error {
  readonly code: string;
  readonly detail: string;
  readonly field: string;

  constructor(code: string, detail: string, field = "") {
    super(detail);
    this.name = "RefusedError";
    this.code = code;
    this.detail = detail;
    this.field = field;
  }

  /** The same error with its field path seen from one level further out. */
  under(prefix: string): RefusedError {
    return new RefusedError(
      this.code,
      this.detail,
      this.field ? `${prefix}.${this.field}` : prefix,
    );
  }

  /** The refusal as problem details (RFC 9457). */
  asProblem(): { type: string; title: string; status: number; detail: string; field: string } {
    const words = this.code.replaceAll("-", " ");
    return {
      type: `urn:tackwatch:problem:${this.code}`,
      title: words.charAt(0).toUpperCase() + words.slice(1),
      status: this.code === "not-allowed" ? 403 : 422,
      detail: this.detail,
      field: this.field,
    };
  }
}

/** Say whether a value is an object with names, as JSON has them. */
export function isObject(value: unknown): value is { [key: string]: Json } {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
