"""What is counted when claims end: each attempt once, however often its alarm is taken up."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from typing import Any

import pytest

from tackwatch.store import health
from tackwatch.store.db import db
from tackwatch.work import ring
from tackwatch.work.health_tally import bucket
from tackwatch.work.ring import AlarmRow, Settled
from tests.alarms.yard import NOON, Yard, minutes, wanted

LEASE = timedelta(seconds=45)
SENT = {"result": "accepted", "detail": "201"}


def claimed(yard: Yard, after: timedelta = timedelta(0)) -> AlarmRow:
    (one,) = ring.claim("a", NOON + after, LEASE, 9)
    return one


def counts() -> dict[tuple[str, str], int]:
    found: Counter[tuple[str, str]] = Counter()
    for one in health.sums():
        found[one.channel, one.result] += one.count
    db.session.rollback()
    return dict(found)


def settle(one: AlarmRow, state: str, after: timedelta, **channels: Any) -> None:
    again = NOON + after if state == "claimed" else None
    ring.settle([Settled(one, state, channels, again)], NOON + after)


@pytest.fixture
def due(yard: Yard) -> Yard:
    yard.keep(wanted(yard.member(), NOON), now=NOON)
    return yard


def test_what_was_counted_is_not_counted_again_when_another_way_is_tried_again(due: Yard) -> None:
    failed = {"result": "later", "detail": "503", "tries": "1"}
    first = {"stream": {"result": "shown"}, "phone": SENT, "other": failed}
    settle(claimed(due), "claimed", minutes(1), **first)
    assert counts() == {("page", "sent"): 1, ("push", "sent"): 1, ("push", "failed"): 1}
    settle(claimed(due, minutes(1)), "told", minutes(2), **{**first, "other": SENT})
    assert counts() == {
        ("page", "sent"): 1, ("push", "sent"): 2, ("push", "failed"): 1, ("alarm", "told"): 1,
    }  # fmt: skip


def test_what_was_not_tried_is_no_attempt(due: Yard) -> None:
    ways = {
        "a": {"result": "later", "detail": "no time left"},
        "b": {"result": "later", "detail": "stopped"},
    }
    settle(claimed(due), "claimed", minutes(1), **ways)
    assert counts() == {}


def test_each_try_that_fails_is_one(due: Yard) -> None:
    for tries in range(1, 4):
        way = {"result": "later", "detail": "450 4.2.0", "tries": str(tries)}
        settle(claimed(due, minutes(tries - 1)), "claimed", minutes(tries), mail=way)
    assert counts() == {("mail", "failed"): 3}


def test_who_lost_the_claim_counts_nothing(due: Yard) -> None:
    late = claimed(due)
    claimed(due, LEASE)
    settle(late, "told", minutes(1), phone=SENT)
    assert counts() == {}


def test_what_calls_an_alarm_off_is_not_counted(due: Yard) -> None:
    settle(claimed(due), "told", timedelta(0), phone=SENT)
    before = counts()
    due.change(told_at=NOON)
    due.keep(now=NOON + minutes(1))
    settle(claimed(due, minutes(1)), "told", minutes(1), phone=SENT)
    assert (due.one().state, counts()) == ("withdrawn", before)


def test_how_late_is_from_the_due_instant_to_the_end_of_the_attempt(due: Yard) -> None:
    settle(claimed(due), "told", timedelta(seconds=42), webhook=SENT)
    (one,) = [one for one in health.sums() if one.channel == "webhook"]
    assert (one.late_le, one.late_ms, one.count) == ("60", 42_000, 1)


@pytest.mark.parametrize(
    ("late_ms", "bound"),
    [(0, "1"), (1000, "1"), (1001, "5"), (60_000, "60"), (3_600_000, "3600"), (3_600_001, "+Inf")],
)
def test_a_lateness_belongs_to_the_least_bound_that_holds_it_prometheus(
    late_ms: int, bound: str
) -> None:
    """Source: Prometheus, metric types: the buckets of a histogram are bounded above, inclusively."""
    assert bucket(late_ms) == bound
