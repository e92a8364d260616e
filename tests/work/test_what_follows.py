"""What follows from what people log: clocks, states of steps, and alarms that move with them; through the real door."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any

import pytest

from tests.support.client_code import ROOT
from tests.support.phone import Phone, new_id
from tests.support.world import StandingClock

PRIMER = json.loads((ROOT / "fixtures/profiles/epoxy_barrier_primer.json").read_text("utf-8"))


def iso(at: datetime) -> str:
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


class Yard:
    """An owner, a painter and one job of two coats, the second after the first by its cure."""

    def __init__(self, owner: Phone, clock: StandingClock) -> None:
        self.owner, self.clock = owner, clock
        self.painter = owner.crew("hand", "Painter")
        owner.sync()
        self.product = owner.create("product", {"name": "Primer", "profile": PRIMER})
        self.job = owner.create("job", {"title": "Barrier coats"})
        self.first = self._step("coat")
        self.second = self._step("coat", self.painter.member_id)
        self.link(self.second, self.first, by_cure=True)
        owner.sync()
        self.painter.sync()

    def _step(self, kind: str, *who: str) -> str:
        fields = {"job_id": self.job, "kind": kind, "product_id": self.product}
        return self.owner.create("step", fields, {"assignees": list(who)} if who else {})

    def link(self, step_id: str, after_id: str, **gap: Any) -> str:
        return self.owner.create("link", {"step_id": step_id, "after_id": after_id, **gap})

    def record(self, phone: Phone, kind: str, body: dict[str, Any], **rest: Any) -> str:
        id_ = new_id()
        phone.act("log", {"do": "record", "kind": kind, "id": id_, "body": body, **rest})
        phone.sync()
        return id_

    def coat(
        self, phone: Phone, step: str, start: datetime, end: datetime | None = None, **rest: Any
    ) -> str:
        body = {
            "step_id": step,
            "product_id": self.product,
            "profile": PRIMER,
            "start_at": iso(start),
        }
        if end is not None:
            body["end_at"] = iso(end)
        return self.record(phone, "application", body, **rest)

    def mark(self, phone: Phone, step: str, mark: str) -> str:
        return self.record(
            phone, "mark", {"step_id": step, "mark": mark, "marked_at": iso(self.clock.now())}
        )

    def reading(self, surface_c: float, at: datetime) -> str:
        return self.record(self.painter, "reading", {"taken_at": iso(at), "surface_c": surface_c})

    def work(self) -> dict[str, Any]:
        found: dict[str, Any] = self.owner.call("GET", "/work").json
        return found

    def state(self, step: str) -> dict[str, Any]:
        return next(one for one in self.work()["steps"] if one["step_id"] == step)

    def stage(self, source: str, stage: str) -> dict[str, Any]:
        clocks = next(one for one in self.work()["clocks"] if one["source_id"] == source)
        return next(one for one in clocks["stages"] if one["stage"] == stage)

    def alarms(self, phone: Phone | None = None) -> dict[str, Any]:
        """Give a person's alarms by id, the painter's unless said otherwise; withdrawn ones are not listed."""
        answer = (phone or self.painter).call("GET", "/alarms")
        assert answer.status == 200, answer.content
        return {row["alarm_id"]: row for row in answer.json["alarms"]}


@pytest.fixture
def yard(owner: Phone, clock: StandingClock) -> Yard:
    return Yard(owner, clock)


def test_a_coat_goes_through_its_states_and_lets_the_next_one_on(yard: Yard):
    now = yard.clock.now()
    assert yard.state(yard.first)["state"] == "ready"
    assert yard.state(yard.second)["state"] == "waiting"
    coat = yard.coat(yard.painter, yard.first, now)
    assert yard.state(yard.first)["state"] == "under_way"
    end = now + timedelta(hours=1)
    yard.clock.forward(hours=1)
    yard.coat(yard.painter, yard.first, now, end, replaces=coat)
    yard.mark(yard.painter, yard.first, "finished")
    assert yard.state(yard.first)["state"] == "curing"
    opens = datetime.fromisoformat(yard.stage(coat, "recoat_opens")["governing_at"])
    yard.clock.at = opens - timedelta(seconds=1)
    assert yard.state(yard.second)["state"] == "waiting"
    yard.clock.at = opens + timedelta(seconds=1)
    second = yard.state(yard.second)
    assert second["state"] == "ready"
    assert second["why"][0]["code"] == "window_closes"
    yard.clock.forward(days=40)
    assert yard.state(yard.second)["why"][0]["code"] == "window_missed"


def test_a_coat_without_a_tick_keeps_its_step_under_way(yard: Yard):
    now = yard.clock.now()
    yard.coat(yard.painter, yard.first, now - timedelta(days=2), now - timedelta(days=2))
    assert yard.state(yard.first)["state"] == "under_way"


def test_the_end_of_a_coat_moves_its_alarms_and_doubles_none(yard: Yard):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now)
    before = yard.alarms()
    assert f"{coat}.recoat_open" not in before, (
        "nothing that opens is rung before the last paint is on"
    )
    yard.coat(yard.painter, yard.first, now, now + timedelta(hours=2), replaces=coat)
    after = yard.alarms()
    assert set(after) == {
        f"{coat}.{kind}" for kind in ("recoat_open", "recoat_closing", "recoat_missed")
    } | {f"{yard.owner.refit_id}.reading_stale"}
    assert after[f"{coat}.recoat_missed"]["due_at"] > before[f"{coat}.recoat_missed"]["due_at"]


def test_a_reading_moves_running_clocks_and_a_void_moves_them_back(yard: Yard):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    alone = yard.alarms()[f"{coat}.recoat_open"]["due_at"]
    cold = yard.reading(6, now)
    assert yard.alarms()[f"{coat}.recoat_open"]["due_at"] > alone
    yard.record(yard.painter, "reading", {}, replaces=cold, void=True)
    assert yard.alarms()[f"{coat}.recoat_open"]["due_at"] == alone


def test_a_withdrawn_coat_rings_nobody(yard: Yard):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    yard.record(yard.painter, "application", {}, replaces=coat, void=True)
    assert yard.alarms() == {}


def test_the_next_coat_silences_the_last_ones_window(yard: Yard):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    yard.clock.forward(hours=12)
    yard.coat(yard.painter, yard.second, yard.clock.now(), yard.clock.now())
    assert not {f"{coat}.recoat_closing", f"{coat}.recoat_missed"} & set(yard.alarms())


def test_who_has_the_next_step_is_told_and_so_is_who_laid_the_coat(yard: Yard):
    now = yard.clock.now()
    coat = yard.coat(yard.owner, yard.first, now, now)
    assert f"{coat}.recoat_open" in yard.alarms(yard.painter)
    assert f"{coat}.recoat_open" in yard.alarms(yard.owner)
    other = yard.owner.crew("viewer")
    yard.owner.sync()
    yard.owner.act(
        "hand_over",
        {
            "do": "put_in",
            "kind": "step",
            "id": yard.second,
            "set": "assignees",
            "member": other.member_id,
        },
    )
    yard.owner.sync()
    assert yard.alarms(other) == {}, "a viewer is not rung"


def test_a_persons_own_lead_is_kept(yard: Yard):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    usual = datetime.fromisoformat(yard.alarms()[f"{coat}.recoat_closing"]["due_at"])
    yard.painter.set("member", yard.painter.member_id, {"recoat_lead_min": 180})
    yard.painter.sync()
    wider = datetime.fromisoformat(yard.alarms()[f"{coat}.recoat_closing"]["due_at"])
    assert usual - wider == timedelta(minutes=120)


def test_two_versions_of_one_coat_open_late_and_close_early(yard: Yard):
    """Both versions count until somebody decides: the one opens later, the other closes earlier."""
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    yard.owner.sync()
    closes = yard.stage(coat, "recoat_closes")["governing_at"]
    late = now + timedelta(hours=3)
    yard.coat(yard.owner, yard.first, late, late, replaces=coat)
    opens_late = yard.stage(coat, "recoat_opens")["governing_at"]
    early = now - timedelta(hours=3)
    yard.coat(yard.painter, yard.first, early, early, replaces=coat)
    assert yard.stage(coat, "recoat_opens")["governing_at"] == opens_late
    assert yard.stage(coat, "recoat_closes")["governing_at"] < closes


def test_one_coat_logged_by_two_becomes_one_source_when_they_say_so(yard: Yard):
    now = yard.clock.now()
    mine = yard.coat(yard.painter, yard.first, now, now + timedelta(hours=1))
    yard.clock.forward(seconds=1)
    theirs = yard.coat(
        yard.owner, yard.first, now + timedelta(minutes=20), now + timedelta(hours=1)
    )
    assert {one["source_id"] for one in yard.work()["clocks"]} == {mine, theirs}
    body = {"first_id": mine, "second_id": theirs, "answer": "one_coat"}
    yard.owner.sync()
    yard.record(yard.owner, "answer", body)
    (source,) = yard.work()["clocks"]
    assert source["source_id"] == mine
    assert set(source["authors"]) == {yard.painter.member_id, yard.owner.member_id}


def test_a_pot_rings_who_mixed_it(yard: Yard):
    now = yard.clock.now()
    body = {"product_id": yard.product, "profile": PRIMER, "stirred_at": iso(now), "temp_c": 30}
    pot = yard.record(yard.painter, "mix", body)
    assert set(yard.alarms()) == {f"{pot}.pot_life_ending", f"{pot}.pot_life_over"}
    assert not [id_ for id_ in yard.alarms(yard.owner) if id_.startswith(pot)]


def test_a_fixed_gap_holds_the_next_step_back(yard: Yard):
    third = yard._step("bed")
    yard.link(third, yard.first, min_gap_s=3600)
    yard.owner.sync()
    yard.mark(yard.painter, yard.first, "finished")
    assert yard.state(third)["why"][0]["code"] == "min_gap"
    yard.clock.forward(seconds=3601)
    assert yard.state(third)["state"] == "ready"


def test_steps_in_a_circle_wait_and_nothing_fails(yard: Yard):
    yard.link(yard.first, yard.second)
    yard.owner.sync()
    assert {yard.state(yard.first)["state"], yard.state(yard.second)["state"]} == {"waiting"}


def test_a_held_step_says_why_and_sign_off_is_the_last_word(yard: Yard):
    yard.owner.set("step", yard.second, {"held": "parts", "held_text": "roller frames"})
    yard.owner.sync()
    held = yard.state(yard.second)
    assert (held["state"], held["why"][0]["params"]) == ("held", {"reason": "parts"})
    yard.mark(yard.owner, yard.second, "signed_off")
    assert yard.state(yard.second)["state"] == "signed_off"


def test_a_profile_that_cannot_be_read_runs_no_clock_and_keeps_the_record(yard: Yard):
    body = {
        "step_id": yard.first, "product_id": yard.product, "profile": {"id": "odd"}, "start_at": iso(yard.clock.now()),
    }  # fmt: skip
    coat = yard.record(yard.painter, "application", body)
    assert yard.work()["clocks"] == []
    assert coat in yard.painter.state.records


def test_an_alarm_that_was_seen_on_the_phone_is_seen_on_the_server(yard: Yard):
    now = yard.clock.now()
    coat = yard.coat(yard.painter, yard.first, now, now)
    due = datetime.fromisoformat(yard.alarms()[f"{coat}.recoat_open"]["due_at"])
    yard.record(yard.painter, "seen", {"alarm_id": f"{coat}.recoat_open", "seen_at": iso(due)})
    assert yard.alarms()[f"{coat}.recoat_open"]["state"] == "seen"


def test_who_leaves_the_crew_loses_the_keys(yard: Yard):
    yard.owner.sync()
    yard.owner.drop("member", yard.painter.member_id)
    yard.owner.sync()
    answer = yard.painter.call("GET", "/work")
    assert (answer.status, answer.json["type"]) == (401, "urn:tackwatch:problem:key-withdrawn")
    device = yard.owner.state.items[yard.painter.device_id]
    assert device.fields["revoked"] is True
