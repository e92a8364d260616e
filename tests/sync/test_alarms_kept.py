"""Alarms are kept after all that they rest on, and only after that."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from tackwatch.settings import fixtures_dir
from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm
from tackwatch.work import reckon
from tests.support.crew import Crew
from tests.support.world import StandingClock

_PROFILE = fixtures_dir() / "profiles" / "epoxy_barrier_primer.json"
_PRIMER = json.loads(_PROFILE.read_text("utf-8"))


class _Yard:
    """A refit with a coat that cures, what comes after it, a step with a time, and one that no alarm asks about."""

    def __init__(self, app: Flask, clock: StandingClock) -> None:
        self.app, self.clock = app, clock
        self.crew = Crew.begin(app, clock, hands=1)
        self.owner, self.hand = self.crew.phones
        self.owner.attempt()
        product = self.owner.create("product", {"name": "Primer", "profile": _PRIMER})
        self.jobs = [self.owner.create("job", {"title": title}) for title in ("Hull", "Deck")]
        fields = {"job_id": self.jobs[0], "kind": "coat", "product_id": product}
        who = {"assignees": [self.hand.member_id]}
        coated, after, planned, loose = (self.owner.create("step", fields, who) for _ in range(4))
        self.steps = {"coated": coated, "after": after, "planned": planned, "loose": loose}
        self.owner.create("link", {"step_id": after, "after_id": coated, "by_cure": True})
        start_at, soon_at = self._at(-1), self._at(30)
        self.owner.set("step", planned, {"planned_start_at": soon_at})
        body = {"step_id": coated, "product_id": product, "profile": _PRIMER, "start_at": start_at}
        self.owner.record("application", body | {"end_at": self._at(0)})
        self.owner.attempt()

    def _at(self, hours: int) -> str:
        at = self.clock.at + timedelta(hours=hours)
        return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def edit(self, step: str, fields: dict[str, Any]) -> None:
        """Let the owner edit a step, and hand it in."""
        self.owner.set("step", self.steps[step], fields)
        self.owner.attempt()

    def alarms(self) -> list[tuple[Any, ...]]:
        """Give what is stored."""
        columns = (Alarm.member_id, Alarm.alarm_id, Alarm.due_at, Alarm.state, Alarm.params)
        query = select(*columns).where(Alarm.refit_id == self.crew.refit_id)
        with self.app.app_context():
            return [tuple(row) for row in db.session.execute(query.order_by(Alarm.id))]

    def keep(self) -> None:
        """Keep the alarms as of now, whatever was touched."""
        with self.app.app_context(), writing():
            reckon.keep_alarms(self.crew.refit_id, self.clock.at)


@pytest.fixture
def yard(app: Flask, clock: StandingClock) -> _Yard:
    return _Yard(app, clock)


_EDITS = st.sampled_from(
    [
        {"title": "Second"},
        {"title": "Third", "text": "Port side first"},
        {"held": "parts"},
        {"held": None},
        {"kind": "sand"},
        {"kind": "coat"},
        {"labour_h": 9.5},
        {"crew_size": 3},
        {"tack": True},
        {"planned_start_at": "2026-03-03T09:00:00.000Z"},
        {"planned_start_at": None},
        {"gone": True},
        {"gone": False},
        {"job_id": 1},
        {"job_id": 0},
    ]
)


@given(
    st.lists(
        st.tuples(st.sampled_from(["coated", "after", "planned", "loose"]), _EDITS), max_size=6
    )
)
@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
def test_whatever_is_edited_the_alarms_are_those_of_keeping_them_each_time(
    yard: _Yard, edits: list[tuple[str, dict[str, Any]]]
) -> None:
    for step, fields in edits:
        given_ = {**fields}
        if "job_id" in given_:
            given_["job_id"] = yard.jobs[given_["job_id"]]
        yard.edit(step, given_)
        stored = yard.alarms()
        yard.keep()
        assert yard.alarms() == stored


def test_what_no_alarm_rests_on_costs_no_reckoning(
    yard: _Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept: list[str] = []
    keep = reckon.keep_alarms
    monkeypatch.setattr(
        reckon, "keep_alarms", lambda refit_id, now: kept.append(refit_id) or keep(refit_id, now)
    )
    yard.edit("loose", {"title": "Later", "text": "When there is time", "labour_h": 3})
    assert kept == []
    for step in ("coated", "after", "planned"):
        yard.edit(step, {"title": "Sooner"})
    yard.edit("loose", {"planned_start_at": "2026-03-03T09:00:00.000Z"})
    yard.edit("loose", {"planned_start_at": None})
    yard.edit("loose", {"gone": True})
    assert len(kept) == 6


def test_a_job_that_was_deleted_unseen_is_sent_back_beside_a_step(yard: _Yard) -> None:
    deck, loose = yard.jobs[1], yard.steps["loose"]
    yard.hand.attempt()
    yard.hand.set("job", deck, {"text": "The corner by the hatch too"})
    yard.hand.attempt()
    yard.owner.set("job", deck, {"gone": True})
    yard.owner.set("step", loose, {"title": "Later"})
    yard.owner.attempt()
    job, step = (yard.owner.view().items[id_] for id_ in (deck, loose))
    assert (job.gone, step.fields["title"]) == (False, "Later")
    assert job.fields["text"] == "The corner by the hatch too"
