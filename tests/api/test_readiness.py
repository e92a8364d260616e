"""May I coat now, asked of a step through the door: from the rows that people logged."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any

import pytest

from tests.support.client_code import ROOT
from tests.support.phone import Phone, new_id
from tests.support.wires import Answer
from tests.support.world import StandingClock

PROFILES = ROOT / "fixtures" / "profiles"


def profile(name: str) -> Any:
    return json.loads((PROFILES / f"{name}.json").read_text("utf-8"))


def iso(at: datetime) -> str:
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Yard:
    """An owner with one zone, one job and a primer."""

    def __init__(self, owner: Phone, clock: StandingClock) -> None:
        self.owner, self.clock = owner, clock
        self.products: dict[str, str] = {}
        self.zone = owner.create("zone", {"name": "Port, below waterline", "area_m2": 10})
        self.job = owner.create("job", {"title": "Barrier coats", "zone_id": self.zone})

    def step(
        self, kind: str, product: str | None = None, after: str | None = None, **more: Any
    ) -> str:
        fields = {"job_id": self.job, "kind": kind, **more}
        if product is not None:
            fields["product_id"] = self.product(product)
        id_ = self.owner.create("step", fields)
        if after is not None:
            by_cure = kind == "coat" and product is not None
            self.owner.create("link", {"step_id": id_, "after_id": after, "by_cure": by_cure})
        return id_

    def product(self, name: str) -> str:
        if name not in self.products:
            fields = {"name": name, "profile": profile(name)}
            self.products[name] = self.owner.create("product", fields)
        return self.products[name]

    def record(self, kind: str, body: dict[str, Any]) -> None:
        act = {"do": "record", "kind": kind, "id": new_id(), "body": body}
        self.owner.act("log", act)

    def read(
        self, air_c: float = 18, surface_c: float = 18, rh_pct: float = 50, ago_h: float = 0
    ) -> None:
        at = self.clock.now() - timedelta(hours=ago_h)
        body = {"taken_at": iso(at), "air_c": air_c, "surface_c": surface_c, "rh_pct": rh_pct}
        self.record("reading", body)

    def coat(self, step: str, product: str, ended: bool = True) -> None:
        start = self.clock.now()
        body: dict[str, Any] = {
            "step_id": step,
            "product_id": self.product(product),
            "profile": profile(product),
            "zone_id": self.zone,
            "start_at": iso(start),
        }
        self.clock.forward(hours=1)
        if ended:
            body["end_at"] = iso(self.clock.now())
        self.record("application", body)

    def mark(self, step: str, mark: str = "finished") -> None:
        body = {"step_id": step, "mark": mark, "marked_at": iso(self.clock.now())}
        self.record("mark", body)

    def ask(self, step: str) -> Answer:
        self.owner.sync()
        return self.owner.call("GET", f"/steps/{step}/readiness")

    def answer(self, step: str) -> dict[str, Any]:
        answer = self.ask(step)
        assert answer.status == 200, answer.content
        return dict(answer.json)


@pytest.fixture
def yard(owner: Phone, clock: StandingClock) -> Yard:
    return Yard(owner, clock)


def outcomes(answer: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return {one["rule"]: (one["outcome"], one["code"]) for one in answer["rules"]}


def test_a_coat_waits_for_the_one_below_and_then_may_go_on_until_its_window_closes(
    yard: Yard,
) -> None:
    first = yard.step("coat", "epoxy_barrier_primer")
    second = yard.step("coat", "epoxy_barrier_primer", after=first)
    yard.read(rh_pct=40)
    yard.coat(first, "epoxy_barrier_primer")
    yard.mark(first)
    early = yard.answer(second)
    assert early["answer"] == "not_yet"
    assert early["below_step_id"] == first
    assert outcomes(early)["window"] == ("wait", "window_not_open")
    assert early["until_at"] is not None
    yard.clock.at = datetime.fromisoformat(early["until_at"]) + timedelta(hours=1)
    yard.read(rh_pct=40)
    later = yard.answer(second)
    assert later["answer"] == "yes", outcomes(later)
    assert later["over"] == "epoxy_paint"
    assert outcomes(later)["window"] == ("ok", "window_open")
    assert outcomes(later)["compatibility"] == ("ok", "same_kind")


def test_a_missed_window_asks_for_sanding_and_after_it_the_coat_may_go_on(yard: Yard) -> None:
    first = yard.step("coat", "epoxy_barrier_primer")
    sand = yard.step("sand", after=first)
    wipe = yard.step("clean", after=sand)
    second = yard.step("coat", "epoxy_barrier_primer", after=wipe)
    yard.coat(first, "epoxy_barrier_primer")
    yard.mark(first)
    yard.clock.forward(days=20)
    yard.read()
    missed = yard.answer(second)
    assert missed["answer"] == "no"
    assert outcomes(missed)["steps_before"] == ("no", "preparation_owed")
    assert outcomes(missed)["window"] == ("no", "window_missed")
    assert [one["kind"] for one in missed["do_first"]] == ["sand", "clean"]
    assert missed["do_first"][0]["labour_h"] == pytest.approx(
        profile("epoxy_barrier_primer")["sanding_after_missed_minutes_per_m2"] * 10 / 60
    )
    yard.mark(sand)
    yard.mark(wipe)
    keyed = yard.answer(second)
    assert keyed["answer"] == "yes", outcomes(keyed)
    assert outcomes(keyed)["window"] == ("ok", "prepared")


def test_without_a_fresh_reading_nobody_is_told_yes(yard: Yard) -> None:
    step = yard.step("coat", "epoxy_barrier_primer")
    assert outcomes(yard.answer(step))["reading"] == ("unknown", "no_reading")
    yard.read(ago_h=3)
    stale = yard.answer(step)
    assert (stale["answer"], stale["until_at"]) == ("not_yet", None)
    assert outcomes(stale)["reading"] == ("unknown", "stale_reading")
    yard.read()
    assert yard.answer(step)["answer"] == "yes"


def test_damp_air_near_the_dew_point_waits_by_the_meters_that_people_read(yard: Yard) -> None:
    step = yard.step("coat", "topcoat_two_part_pu")
    yard.read(air_c=18, surface_c=17, rh_pct=92)
    answer = yard.answer(step)
    assert answer["answer"] == "not_yet"
    assert outcomes(answer)["dew_now"] == ("wait", "too_near_dew_point")
    assert outcomes(answer)["humidity"] == ("wait", "too_humid")


def test_gelcoat_on_epoxy_is_refused_and_so_is_a_held_step(yard: Yard) -> None:
    lay = yard.step("laminate", "laminating_epoxy_slow")
    gel = yard.step("coat", "polyester_waxed", after=lay)
    held = yard.step("coat", "epoxy_barrier_primer", held="parts")
    yard.coat(lay, "laminating_epoxy_slow")
    yard.mark(lay)
    yard.read()
    answer = yard.answer(gel)
    assert answer["answer"] == "no"
    assert outcomes(answer)["compatibility"] == ("no", "polyester_on_epoxy")
    assert outcomes(yard.answer(held))["held"] == ("no", "held")


def test_a_coat_that_nobody_ended_keeps_the_next_one_waiting(yard: Yard) -> None:
    first = yard.step("coat", "epoxy_barrier_primer")
    second = yard.step("coat", "epoxy_barrier_primer", after=first)
    yard.coat(first, "epoxy_barrier_primer", ended=False)
    yard.clock.forward(hours=12)
    yard.read()
    answer = yard.answer(second)
    assert outcomes(answer)["window"] == ("unknown", "coat_not_ended")
    assert answer["until_at"] is None


def test_the_last_coat_on_the_same_zone_counts_where_no_link_says_so(yard: Yard) -> None:
    first = yard.step("coat", "topcoat_one_part")
    other = yard.step("coat", "topcoat_two_part_pu")
    yard.coat(first, "topcoat_one_part")
    yard.clock.forward(days=3)
    yard.read()
    answer = yard.answer(other)
    assert answer["below_step_id"] == first
    assert outcomes(answer)["compatibility"] == ("no", "strong_on_one_part")


def test_the_ground_of_a_zone_is_prepared_before_its_first_coat_common_practice(yard: Yard) -> None:
    yard.owner.set("zone", yard.zone, {"ground": "bare_laminate"})
    clean = yard.step("clean")
    sand = yard.step("sand", after=clean)
    coat = yard.step("coat", "epoxy_barrier_primer", after=sand)
    yard.read()
    bare = yard.answer(coat)
    assert (bare["answer"], bare["below_step_id"]) == ("no", None)
    assert outcomes(bare)["window"] == ("ok", "no_window")
    assert outcomes(bare)["compatibility"] == ("no", "bare_untouched")
    assert [one["kind"] for one in bare["do_first"]] == ["clean", "sand"]
    yard.mark(clean)
    yard.clock.forward(minutes=1)
    yard.mark(sand)
    ready = yard.answer(coat)
    assert ready["answer"] == "yes", outcomes(ready)
    assert outcomes(ready)["compatibility"] == ("ok", "epoxy_on_polyester")


def test_a_part_of_a_zone_has_the_ground_of_the_whole_until_a_coat_of_another_job_lies_on_it(
    yard: Yard,
) -> None:
    hull = yard.owner.create("zone", {"name": "Hull", "ground": "antifouling_soft"})
    yard.owner.sync()
    yard.owner.set("zone", yard.zone, {"parent_id": hull})
    coat = yard.step("coat", "topcoat_two_part_pu")
    yard.read()
    assert outcomes(yard.answer(coat))["compatibility"] == ("no", "paint_on_antifouling")
    job = yard.owner.create("job", {"title": "Hull", "zone_id": hull})
    other = yard.owner.create("step", {"job_id": job, "kind": "coat"})
    yard.zone = hull
    yard.coat(other, "topcoat_one_part")
    answer = yard.answer(coat)
    assert answer["below_step_id"] == other
    assert outcomes(answer)["compatibility"] == ("no", "strong_on_one_part")


def test_a_tack_coat_goes_on_epoxy_past_its_window_by_tb_43_0144(yard: Yard) -> None:
    first = yard.step("coat", "epoxy_barrier_primer")
    tack = yard.step("coat", "epoxy_barrier_primer", after=first, tack=True)
    yard.coat(first, "epoxy_barrier_primer")
    yard.mark(first)
    yard.clock.forward(days=60)
    yard.read()
    answer = yard.answer(tack)
    assert answer["answer"] == "yes", outcomes(answer)
    assert outcomes(answer)["window"] == ("ok", "tack_coat")
    assert outcomes(answer)["compatibility"] == ("ok", "tack_coat")


def test_a_step_that_lays_nothing_or_is_not_there_is_a_clear_problem(yard: Yard) -> None:
    sand = yard.step("sand")
    answer = yard.ask(sand)
    assert (answer.status, answer.json["type"]) == (409, "urn:tackwatch:problem:lays-nothing")
    assert answer.json["field"] == "step_id"
    missing = yard.ask(new_id())
    assert (missing.status, missing.json["type"]) == (404, "urn:tackwatch:problem:unknown-step")


def test_a_viewer_may_ask_and_a_stranger_may_not(yard: Yard) -> None:
    step = yard.step("coat", "epoxy_barrier_primer")
    yard.ask(step)
    viewer = yard.owner.crew("viewer", "Partner")
    assert viewer.call("GET", f"/steps/{step}/readiness").status == 200
    viewer.key = "nobody"
    assert viewer.call("GET", f"/steps/{step}/readiness").status == 401
