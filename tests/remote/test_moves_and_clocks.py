"""A device whose clock is wrong, whose server moved, and how long it waits and keeps what was sent."""

from __future__ import annotations

import json
from email.utils import parsedate_to_datetime

import pytest
import requests
from flask import Flask
from werkzeug.wrappers import Response

from tackwatch.remote.exchange import backoff_s, exchange
from tackwatch.remote.readings import log_reading
from tackwatch.remote.wire import moved_to, retry_after_s
from tests.remote.conftest import Aboard
from tests.remote.rows import zones
from tests.support.door import Door
from tests.support.phone import Phone
from tests.support.world import StandingClock


@pytest.mark.parametrize("off_ms", [-31_536_000_000, -3_600_000, 3_600_000, 31_536_000_000])
def test_a_wrong_clock_is_measured_and_put_right(
    aboard: Aboard, owner: Phone, clock: StandingClock, off_ms: int
) -> None:
    """Hazard: clocks wrong by an hour or a year, and stepping back."""
    off = [off_ms]
    copy = aboard(now_ms=lambda: clock.ms + off[0])
    log_reading(copy, {"air_c": 5})
    off[0] -= 7_200_000
    log_reading(copy, {"air_c": 6})
    first, second = copy.operations("waiting")
    assert first.at < second.at, "a clock that steps back makes no older stamp"
    assert int(first.at[:12], 16) == clock.ms
    exchange(copy)
    log_reading(copy, {"air_c": 7})
    exchange(copy)
    owner.sync()
    bodies = [one.body for one in owner.state.records.values()]
    taken = {one["air_c"]: one["taken_at"] for one in bodies}
    assert taken[5] == taken[7] == "2026-03-02T08:00:00.000Z"


def test_a_server_that_moved_costs_one_request(
    app: Flask, aboard: Aboard, owner: Phone, door: Door
) -> None:
    """Hazard: what is known is tied to an address, and all is loaded again after a move."""
    copy = aboard()
    owner.create("zone", {"name": "Keel"})
    owner.sync()
    cursor = copy.meta().cursor
    log_reading(copy, {"air_c": 3})
    with Door(app) as new:
        copy.change(server=new.address)
        exchange(copy)
        (only,) = new.seen
    sent = json.loads(only.content)
    assert (sent["cursor"], sent["epoch"]) == (cursor, owner.epoch)
    assert zones(copy) == ["Keel"]


def test_a_server_that_says_where_it_moved_is_found_and_remembered(
    app: Flask, aboard: Aboard, door: Door
) -> None:
    copy = aboard()
    with Door(app) as new:
        moved = {"Location": f"{new.address}/api/refits/{copy.meta().refit_id}/sync"}
        door.before = lambda _: Response("", 308, moved)
        log_reading(copy, {"air_c": 3})
        exchange(copy)
        before = len(door.seen)
        exchange(copy)
        assert (len(door.seen), len(new.exchanges())) == (before, 2)
        assert copy.meta().server == new.address


@pytest.mark.parametrize(
    ("status", "target", "moved"),
    [
        (308, "https://new.example/api/x", "https://new.example"),
        (301, "https://new.example/boat/api/x", "https://new.example/boat"),
        (308, "http://new.example/api/x", None),
        (302, "https://new.example/api/x", None),
        (307, "https://new.example/api/x", None),
        (308, "https://pay.example/login", None),
        (308, "https:///api/x", None),
        (308, "/api/x", None),
        (200, "https://new.example/api/x", None),
    ],
)
def test_only_who_moved_for_good_to_the_same_path_and_keeps_tls_is_followed(
    status: int, target: str, moved: str | None
) -> None:
    answer = requests.Response()
    answer.status_code = status
    answer.headers["Location"] = target
    assert moved_to(answer, "https://boat.example", "/api/x") == moved


def test_acknowledged_operations_are_kept_for_ninety_days_then_let_go_from_the_front(
    aboard: Aboard, clock: StandingClock
) -> None:
    copy = aboard()
    for days in (60, 31, 0):
        log_reading(copy, {"air_c": 3})
        exchange(copy)
        clock.forward(days=days)
    exchange(copy)
    assert [one.n for one in copy.operations("acknowledged")] == [2, 3]


def test_waits_grow_with_each_failure_and_the_server_s_word_counts() -> None:
    """Source: RFC 9110, 10.2.3 Retry-After, with its example date."""
    assert [backoff_s(n, 1) for n in (1, 2, 3, 20, 5000)] == [2, 4, 8, 300, 300]
    assert backoff_s(1, 0) == 1
    assert backoff_s(1, 1, 9) == 9
    assert retry_after_s("120", None) == 120
    now = parsedate_to_datetime("Fri, 31 Dec 1999 23:59:49 GMT")
    assert retry_after_s("Fri, 31 Dec 1999 23:59:59 GMT", now) == 10
    assert retry_after_s("soon", now) == 0
    assert retry_after_s(None, now) == 0
