"""Following: what is told, in which words, and what happens when the server is away."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import pytest
from flask import Flask
from werkzeug.wrappers import Request, Response

from tackwatch.remote.copy import Copy
from tackwatch.remote.errors import KeyRefusedError
from tackwatch.remote.follow import Surroundings, follow, follow_once
from tackwatch.remote.lines import Words
from tackwatch.remote.news import Named, News
from tackwatch.remote.readings import log_reading
from tackwatch.remote.wire import read_events
from tests.remote.conftest import Aboard
from tests.support.door import Door
from tests.support.phone import Phone

PATIENCE_S = 60


class EnoughError(Exception):
    """Ends a following that would go on for ever."""


class Follower:
    """Follows in a thread of its own; lines and pauses can be waited for."""

    def __init__(self, copy: Copy) -> None:
        self.lines: queue.Queue[str] = queue.Queue()
        self.pauses: queue.Queue[float] = queue.Queue()
        self.ended_by: BaseException | None = None
        self._refit_id = copy.meta().refit_id
        self._thread = threading.Thread(target=self._run, args=(copy.file.path, copy.now_ms))
        self._thread.start()

    def _run(self, *given: Any) -> None:
        copy = Copy.open(*given)
        try:
            follow(copy, self._tell, Surroundings(lambda: 0, self.pauses.put, lambda _: None))
        except BaseException as error:
            self.ended_by = error
        finally:
            copy.close()

    def _tell(self, news: News, named: Named) -> None:
        self.lines.put(Words(named, self._refit_id).line(news))

    def line(self) -> str:
        return self.lines.get(timeout=PATIENCE_S)

    def end(self) -> None:
        self._thread.join(PATIENCE_S)
        assert not self._thread.is_alive()


@pytest.fixture
def following(aboard: Aboard, owner: Phone) -> Iterator[tuple[Copy, Callable[[], Follower]]]:
    """A device, and a way to let it follow until its key is withdrawn at the end."""
    copy = aboard()
    followers: list[Follower] = []

    def begin() -> Follower:
        followers.append(Follower(copy))
        return followers[-1]

    yield copy, begin
    owner.call("DELETE", f"/devices/{copy.meta().device_id}")
    for one in followers:
        one.end()
        assert isinstance(one.ended_by, KeyRefusedError)


def test_what_happens_is_told_at_once_in_one_line_each(
    following: tuple[Copy, Callable[[], Follower]], owner: Phone
) -> None:
    _, begin = following
    follower = begin()
    owner.sync()
    id_ = owner.create("zone", {"name": "Keel"})
    owner.sync()
    assert follower.line() == "2026-03-02 08:00 Olga (owner's phone) made zone “Keel”"
    owner.set("zone", id_, {"name": "Keel\x1b[2J\nbolts", "area_m2": 2.5})
    owner.sync()
    assert follower.line() == (
        "2026-03-02 08:00 Olga (owner's phone) changed zone “Keel [2J bolts”: "
        "name “Keel [2J bolts”; area 2.5 m²"
    )
    owner.drop("zone", id_)
    owner.sync()
    assert "deleted zone" in follower.line()


def test_a_stream_that_ends_is_opened_again_and_nothing_is_missed(
    app: Flask, following: tuple[Copy, Callable[[], Follower]], owner: Phone
) -> None:
    _, begin = following
    hub = app.extensions["tackwatch"].hub
    follower = begin()
    for name in ("Keel", "Rudder", "Skeg"):
        owner.create("zone", {"name": name})
        owner.sync()
        assert name in follower.line()
        while not hub._streams:
            time.sleep(0.01)
        hub.stop()
        assert follower.pauses.get(timeout=PATIENCE_S) == 1, "each time it had heard something"


def test_after_a_failure_it_tries_again_by_itself_and_waits_as_long_as_it_was_asked_to(
    aboard: Aboard, owner: Phone, door: Door
) -> None:
    """Hazard: a retry that never drains unless something new is written."""
    copy = aboard()
    log_reading(copy, {"air_c": 3})
    waits: list[float] = []
    door.before = lambda _: Response("", 503, {"Retry-After": "7"})

    def pause(wait_s: float) -> None:
        waits.append(wait_s)
        if len(waits) == 3:
            door.before = lambda _: None
        if not copy.operations("waiting"):
            raise EnoughError

    with pytest.raises(EnoughError):
        follow(copy, lambda *_: None, Surroundings(lambda: 1, pause, lambda _: None), poll_s=60)
    assert waits[:3] == [7, 7, 8]
    assert waits[3] == 60
    owner.sync()
    assert len(owner.state.records) == 1


def test_what_another_process_wrote_is_sent_when_the_stream_says_that_all_is_quiet(
    aboard: Aboard, owner: Phone, door: Door
) -> None:
    copy = aboard()

    def quiet(request: Request) -> Response | None:
        if not request.path.endswith("/live"):
            return None
        other = Copy.open(copy.file.path, copy.now_ms)
        log_reading(other, {"air_c": 3})
        other.close()
        return Response("event: quiet\ndata: {}\n\n", 200, mimetype="text/event-stream")

    def enough(_: float) -> None:
        raise EnoughError

    door.before = quiet
    with pytest.raises(EnoughError):
        follow(copy, lambda *_: None, Surroundings(lambda: 0, enough, lambda _: None))
    owner.sync()
    assert len(owner.state.records) == 1


def test_a_stream_that_is_never_given_leaves_asking_by_and_by(
    aboard: Aboard, owner: Phone, door: Door
) -> None:
    copy = aboard()
    door.before = lambda request: Response("", 404) if request.path.endswith("/live") else None
    waits: list[float] = []

    def pause(wait_s: float) -> None:
        waits.append(wait_s)
        if len(waits) == 10:
            raise EnoughError

    with pytest.raises(EnoughError):
        follow(copy, lambda *_: None, Surroundings(lambda: 1, pause, lambda _: None))
    assert waits[-1] == 300, "and not every other second"


def test_what_came_while_nobody_followed_is_told_afterwards_and_once(
    aboard: Aboard, owner: Phone
) -> None:
    copy = aboard()
    told: list[News] = []
    follow_once(copy, lambda news, _: told.append(news))
    assert told == [], "the first copy is no news"
    owner.create("zone", {"name": "Keel"})
    owner.sync()

    def broken(*_: object) -> None:
        raise BrokenPipeError

    with pytest.raises(BrokenPipeError):
        follow_once(copy, broken)
    follow_once(copy, lambda news, _: told.append(news))
    follow_once(copy, lambda news, _: told.append(news))
    assert [news.after["fields"]["name"] for news in told] == ["Keel"]


ROWS: dict[str, Mapping[str, Any]] = {
    "refit": {"kind": "refit", "id": "refit", "fields": {"time_zone": "Europe/Lisbon"}},
    "hank": {"kind": "member", "id": "hank", "fields": {"name": "Hank"}},
    "000000000001": {"kind": "device", "id": "000000000001", "fields": {"member_id": "hank"}},
    "keel": {"kind": "zone", "id": "keel", "fields": {"name": "Keel"}},
}
AT = "019cad8fac000000-000000000001"
STEP: dict[str, Any] = {
    "kind": "step", "id": "s", "at": AT, "fields": {"title": "Two coats", "gone": False}, "stamps": {}, "sets": {},
}  # fmt: skip


def _record(kind: str, body: dict[str, Any], **rest: Any) -> dict[str, Any]:
    return {
        "kind": kind,
        "id": "r",
        "at": AT,
        "body": body,
        "replaces": None,
        "void": False,
        **rest,
    }


def _difference(settled: str | None) -> dict[str, Any]:
    kept, lost = {"value": "Keel", "at": AT}, {"value": "Ballast", "at": AT}
    return {
        "id": "d",
        "kind": "zone",
        "item_id": "keel",
        "field": "name",
        "kept": kept,
        "lost": lost,
        "settled": settled,
    }


@pytest.mark.parametrize(
    ("what", "before", "after", "said"),
    [
        (
            "record", None,
            _record("reading", {"taken_at": "2026-06-02T08:00:00Z", "air_c": 14.5, "rh_pct": 62, "zone_id": "keel"}),
            "logged a reading: taken 2026-06-02 09:00, air 14.5 °C, rh 62 %, zone “Keel”",
        ),
        ("record", None, _record("note", {"text": "x" * 500}, replaces="q"), f"corrected a note: text “{'x' * 119}…”"),
        ("record", None, _record("note", {}, replaces="q", void=True), "took back a note"),
        (
            "item", STEP,
            {**STEP, "sets": {"assignees": {"hank": [AT]}}},
            "changed step “Two coats”: assignees with “Hank”",
        ),
        (
            "item", {**STEP, "sets": {"assignees": {"hank": [AT]}}}, STEP,
            "changed step “Two coats”: assignees without “Hank”",
        ),
        ("item", STEP, {**STEP, "fields": {"title": "Two coats", "gone": True}}, "deleted step “Two coats”"),
        ("difference", None, _difference(None), "made a question of zone “Keel”, name: “Keel” stands, or “Ballast”?"),
        ("difference", None, _difference(AT), "settled zone “Keel”, name: “Keel” or “Ballast”"),
    ],
)  # fmt: skip
def test_each_sort_of_change_has_its_words(
    what: str, before: dict[str, Any] | None, after: dict[str, Any], said: str
) -> None:
    words = Words(lambda _, id_: ROWS.get(id_), "refit")
    assert words.line(News(what, before, after)) == f"2026-03-02 08:00 Hank {said}"


def test_an_alarm_says_what_and_when() -> None:
    words = Words(lambda _, id_: ROWS.get(id_), "refit")
    alarm = {"kind": "recoat_closes", "due_at": "2026-06-02T08:00:00.000Z"}
    assert words.line(News("alarm", None, alarm)) == "Alarm: recoat closes, due 2026-06-02 09:00"


def test_events_are_read_as_the_standard_has_it() -> None:
    """Source: WHATWG HTML, 9.2.6 Interpreting an event stream."""
    lines = [
        ": comment",
        "",
        "event: changed",
        'data: {"seq":7}',
        "",
        "id: 1",
        "data:1",
        "data: 2",
        "",
        "event: x",
        "",
    ]
    assert list(read_events(iter(lines))) == [("changed", {"seq": 7}), ("message", None)]
