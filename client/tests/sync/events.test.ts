/** Server-sent events. Source: WHATWG HTML, 9.2.6 Interpreting an event stream. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { EventReader } from "../../src/sync/events.ts";

const STREAM =
  ': comment\n\nevent: changed\ndata: {"seq":7}\n\nid: 1\ndata:first\ndata: second\n\nevent: quiet\n\n';

const EXPECTED = [
  { event: "changed", data: '{"seq":7}' },
  { event: "message", data: "first\nsecond" },
];

test("events are read whole, wherever the stream is cut", () => {
  for (let cut = 0; cut <= STREAM.length; cut++) {
    const reader = new EventReader();
    const events = [...reader.read(STREAM.slice(0, cut)), ...reader.read(STREAM.slice(cut))];
    assert.deepEqual(events, EXPECTED, `cut at ${cut}`);
  }
});

test("lines may end in carriage return and line feed, cut between the two", () => {
  const stream = STREAM.replaceAll("\n", "\r\n");
  for (let cut = 0; cut <= stream.length; cut++) {
    const reader = new EventReader();
    const events = [...reader.read(stream.slice(0, cut)), ...reader.read(stream.slice(cut))];
    assert.deepEqual(events, EXPECTED, `cut at ${cut}`);
  }
});
