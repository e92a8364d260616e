/** Reading server-sent events from a stream of text, as the HTML standard's section 9.2.6 lays down. */

export interface LiveEvent {
  event: string;
  data: string;
}

/** Takes pieces of text as they come, and gives the events that are whole. */
export class EventReader {
  private rest = "";
  private event = "";
  private data: string[] = [];

  read(piece: string): LiveEvent[] {
    const lines = (this.rest + piece).split(/\r\n|\n|\r(?!$)/);
    this.rest = lines.pop() ?? "";
    return lines.flatMap((line) => this.line(line));
  }

  private line(line: string): LiveEvent[] {
    if (line === "") return this.end();
    const colon = line.indexOf(":");
    const name = colon < 0 ? line : line.slice(0, colon);
    const value = colon < 0 ? "" : line.slice(colon + 1).replace(/^ /, "");
    if (name === "event") this.event = value;
    if (name === "data") this.data.push(value);
    return [];
  }

  private end(): LiveEvent[] {
    const whole = { event: this.event || "message", data: this.data.join("\n") };
    const empty = this.data.length === 0;
    this.event = "";
    this.data = [];
    return empty ? [] : [whole];
  }
}
