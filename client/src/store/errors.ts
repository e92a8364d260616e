/** What may go wrong in a call that a person waits for. */
import type { Problem } from "./types.ts";

/** The server answered with a problem (RFC 9457). */
export class ProblemError extends Error {
  readonly status: number;
  readonly detail: string;
  readonly field: string;
  readonly type: string;

  constructor(status: number, problem: Partial<Problem>) {
    super(problem.detail ?? problem.title ?? `HTTP ${status}`);
    this.name = "ProblemError";
    this.status = status;
    this.detail = this.message;
    this.field = problem.field ?? "";
    this.type = problem.type ?? "about:blank";
  }
}

/** There was no answer at all. */
export class OfflineError extends Error {
  constructor() {
    super("There is no connection to the server.");
    this.name = "OfflineError";
  }
}
