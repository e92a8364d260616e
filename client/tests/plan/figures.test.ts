/** What the figures of a plan are called, which plan is shown, and where the burn-up's lines run. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { chanceOf, percentOf, spareOf } from "../../src/plan/chance.ts";
import { chartOf, outcomeOf, roundStep } from "../../src/plan/chart.ts";
import { headToShow, inTheWorks, type PlanHead, type PlanState } from "../../src/plan/types.ts";

test("a better chance never has a worse word, and neither certainty is claimed", () => {
  const order = ["hardly", "unlikely", "even", "likely", "sure"];
  let last = 0;
  for (let p = 0; p <= 1; p += 0.01) {
    const here = order.indexOf(chanceOf(p));
    assert.ok(here >= last, String(p));
    last = here;
  }
  assert.equal(last, 4);
  assert.deepEqual([0, 0.004, 0.5, 0.996, 1].map(percentOf), [1, 1, 50, 99, 99]);
});

const ends = (end_at: string, cure_until_at: string | null = null) => ({
  ...{ step_id: end_at, start_at: end_at, end_at, member_ids: [], why: null, missed: false },
  ...{ cure_until_at, opens_at: null, closes_at: null },
});

test("what is to spare is counted to the last end of what must be done, cures before the launch with it", () => {
  const launch = Date.parse("2026-03-10T10:00:00Z");
  const steps = [
    ends("2026-03-08T10:00:00Z"),
    ends("2026-03-07T10:00:00Z", "2026-03-09T10:00:00Z"),
    ends("2026-03-20T10:00:00Z"),
  ];
  const must = (step: { end_at: string }) => !step.end_at.startsWith("2026-03-20");
  assert.equal(spareOf(steps, must, launch), 24 * 3_600_000);
  assert.equal(
    spareOf(steps, () => true, launch),
    -10 * 24 * 3_600_000,
  );
  assert.equal(spareOf([], must, launch), null);
  // A cure that goes on in the water holds nothing up.
  assert.equal(
    spareOf([ends("2026-03-08T10:00:00Z", "2026-03-11T10:00:00Z")], must, launch),
    48 * 3_600_000,
  );
});

const head = (plan_id: string, state: PlanState): PlanHead => ({
  ...{ plan_id, state, asked_at: "2026-03-02T08:00:00Z", asked_by: null, why: [], progress: null },
});

test("an owner is shown what may be published, everybody else what was", () => {
  const heads = [
    head("4", "running"),
    head("3", "ready"),
    head("2", "failed"),
    head("1", "published"),
  ];
  assert.equal(headToShow(heads, true)?.plan_id, "3");
  assert.equal(headToShow(heads, false)?.plan_id, "1");
  assert.equal(headToShow(heads.slice(0, 2), false)?.plan_id, "3");
  assert.equal(headToShow([head("4", "cancelled")], true), undefined);
  assert.equal(inTheWorks(heads)?.plan_id, "4");
  assert.equal(inTheWorks(heads.slice(1)), undefined);
});

const BURN = {
  done: [
    { on: "2026-03-01", labour_h: 0 },
    { on: "2026-03-11", labour_h: 50 },
  ],
  fan: [{ on: "2026-03-21", p10_h: 80, p50_h: 100, p90_h: 130 }],
  scope_h: 120,
};
const BOX = { x: 100, y: 10, width: 400, height: 200 };

test("the burn-up runs from the first day to the last and the hours fill its height to a round figure", () => {
  const chart = chartOf(BURN, "2026-03-16", BOX);
  assert.equal(chart.done, "100.0,210.0 300.0,143.3");
  assert.equal(chart.mid, "300.0,143.3 500.0,76.7");
  assert.deepEqual(
    chart.grid.map(({ value }) => value),
    [0, 50, 100, 150],
  );
  assert.equal(chart.launch_x, 400);
  assert.equal(chart.scope_y, 50);
  assert.equal(chart.fan.split(" ").length, 4);
});

test("a launch after the forecast widens the burn-up, and an empty one is drawn without a fault", () => {
  assert.equal(chartOf(BURN, "2026-04-10", BOX).launch_x, 500);
  const empty = chartOf({ done: [], fan: [], scope_h: 0 }, "2026-03-16", BOX);
  assert.equal(empty.done, "");
  assert.ok(!JSON.stringify(empty).includes("NaN"));
  assert.deepEqual([1, 4, 7, 90, 400, 401].map(roundStep), [0.5, 1, 2, 50, 100, 200]);
});

test("a burn-up comes to the hours at the launch, to the days of its end before it, or to its last day", () => {
  assert.deepEqual(outcomeOf(BURN, "2026-03-21"), { kind: "launch", low: 80, mid: 100, high: 130 });
  const early = [
    { on: "2026-03-21", p10_h: 80, p50_h: 120, p90_h: 120 },
    { on: "2026-03-22", p10_h: 120, p50_h: 120, p90_h: 120 },
  ];
  assert.deepEqual(outcomeOf({ ...BURN, fan: early }, "2026-04-10"), {
    ...{ kind: "over", mid: "2026-03-21", high: "2026-03-22" },
  });
  assert.deepEqual(outcomeOf(BURN, "2026-04-10"), {
    ...{ kind: "ahead", on: "2026-03-21", low: 80, mid: 100, high: 130 },
  });
  assert.equal(outcomeOf({ ...BURN, fan: [] }, "2026-04-10"), null);
});
