/** What can be wrong with what the sums are given: each error names the field, as on the server. */

export class TradeError extends Error {
  readonly field: string;

  constructor(field: string, message: string) {
    super(`${field}: ${message}`);
    this.name = "TradeError";
    this.field = field;
  }
}

/** A value outside the range in which the formula holds. */
export class OutOfRangeError extends TradeError {
  constructor(field: string, message: string) {
    super(field, message);
    this.name = "OutOfRangeError";
  }
}
