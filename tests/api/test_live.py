"""The live stream: what an open page is told, and when it ends."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Collection, Iterator
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm
from tackwatch.work.caller import Caller
from tackwatch.work.errors import TooManyError
from tackwatch.work.live import Event, Hub, Seen, Told
from tests.support.phone import Phone
from tests.support.world import BEGAN_AT, StandingClock


class Listener:
    """Reads a stream event by event."""

    def __init__(self, client: FlaskClient, phone: Phone) -> None:
        path = f"/api/refits/{phone.refit_id}/live"
        self._answer = client.get(path, headers={"Authorization": f"Bearer {phone.key}"})
        assert self._answer.status_code == 200
        assert self._answer.mimetype == "text/event-stream"
        self._frames: Iterator[Any] = iter(self._answer.response)  # type: ignore[call-overload]

    def next(self) -> tuple[str, Any]:
        frame = next(self._frames)
        lines = (frame.decode() if isinstance(frame, bytes) else frame).split("\n")
        assert lines[2:] == ["", ""]
        return lines[0].removeprefix("event: "), json.loads(lines[1].removeprefix("data: "))

    def ended(self) -> bool:
        return next(self._frames, None) is None

    def close(self) -> None:
        self._answer.close()


@pytest.fixture
def listen(app: Flask) -> Iterator[Callable[[Phone], Listener]]:
    open_ones: list[Listener] = []

    def listen(phone: Phone) -> Listener:
        open_ones.append(Listener(app.test_client(), phone))
        return open_ones[-1]

    yield listen
    for one in open_ones:
        one.close()


def test_a_page_is_told_at_once_where_the_refit_stands(
    listen: Callable[[Phone], Listener], owner: Phone
) -> None:
    owner.sync()
    assert listen(owner).next() == ("changed", {"seq": owner.cursor})


def test_a_page_is_told_when_somebody_else_changed_something(
    listen: Callable[[Phone], Listener], owner: Phone
) -> None:
    hand = owner.crew("hand")
    page = listen(owner)
    name, data = page.next()
    hand.create("zone", {"name": "Deck"})
    hand.sync()
    assert page.next() == (name, {"seq": data["seq"] + 1})


def test_a_page_is_told_when_a_plan_changed(
    listen: Callable[[Phone], Listener], owner: Phone
) -> None:
    page = listen(owner.crew("viewer"))
    assert page.next()[0] == "changed"
    plan_id = owner.call("POST", "/plans", body={}).json["plan_id"]
    name, first = page.next()
    owner.call("POST", f"/plans/{plan_id}/cancel")
    assert (name, page.next()) == ("plans", ("plans", {"rev": first["rev"] + 1}))


def test_a_page_is_told_the_alarms_of_its_own_person_and_refit(
    app: Flask, listen: Callable[[Phone], Listener], owner: Phone, clock: StandingClock
) -> None:
    hand = owner.crew("hand")
    page = listen(hand)
    page.next()
    with app.app_context():
        with writing():
            for member_id, alarm_id in ((owner.member_id, "a.pot_ends"), (hand.member_id, "b.gel")):
                db.session.add(_told(hand.refit_id, member_id, alarm_id, clock))
        db.session.remove()
    assert page.next() == (
        "alarm",
        {
            "alarm_id": "b.gel",
            "kind": "gel",
            "due_at": "2026-03-02T08:00:00.000Z",
            "params": {"zone": "Deck"},
            "source_id": "b",
        },
    )


def test_what_was_told_before_the_page_opened_is_not_told_again(
    app: Flask, listen: Callable[[Phone], Listener], owner: Phone, clock: StandingClock
) -> None:
    with app.app_context():
        with writing():
            db.session.add(_told(owner.refit_id, owner.member_id, "a.gel", clock))
        db.session.remove()
    page = listen(owner)
    assert page.next()[0] == "changed"
    clock.forward(seconds=5)
    with app.app_context():
        with writing():
            db.session.add(_told(owner.refit_id, owner.member_id, "b.gel", clock))
        db.session.remove()
    assert page.next()[1]["alarm_id"] == "b.gel"


def test_a_stream_ends_when_the_key_is_withdrawn(
    listen: Callable[[Phone], Listener], owner: Phone
) -> None:
    hand = owner.crew("hand")
    page = listen(hand)
    page.next()
    owner.call("DELETE", f"/devices/{hand.device_id}")
    while (frame := next(page._frames, None)) is not None:
        assert "changed" in str(frame)


def test_a_stream_holds_no_transaction_open(
    app: Flask, listen: Callable[[Phone], Listener], owner: Phone
) -> None:
    page = listen(owner)
    page.next()
    time.sleep(1.5)  # the watcher has looked meanwhile
    with app.app_context():
        assert db.engine.pool.checkedout() == 0  # type: ignore[attr-defined]
    owner.create("zone", {"name": "Deck"})
    owner.sync()
    assert page.next()[0] == "changed"


def test_a_stream_that_was_closed_before_it_was_read_is_forgotten(app: Flask, owner: Phone) -> None:
    page = Listener(app.test_client(), owner)
    page.close()
    assert app.extensions["tackwatch"].hub._streams == []


def _told(refit_id: str, member_id: str, alarm_id: str, clock: StandingClock) -> Alarm:
    return Alarm(
        refit_id=refit_id, member_id=member_id, alarm_id=alarm_id, kind=alarm_id.split(".")[1],
        source_id=alarm_id.split(".")[0], due_at=BEGAN_AT, useless_after=BEGAN_AT + timedelta(hours=1),
        params={"zone": "Deck"}, state="told", told_at=clock.now(), outcome={},
    )  # fmt: skip


# --- the hub by itself -----------------------------------------------------------------------------------------------


class World:
    """What the hub's looks find."""

    def __init__(self) -> None:
        self.counters: dict[str, int] = {"r": 1}
        self.withdrawn: set[str] = set()
        self.told: list[Told] = []
        self.looks = 0
        self.broken = False

    def look(self, refits: Collection[str], devices: Collection[str]) -> Seen:
        self.looks += 1
        if self.broken:
            raise OSError("the database is away")
        return Seen(dict(self.counters), set(self.withdrawn), list(self.told))


def caller(device: str = "d") -> Caller:
    return Caller("r", device, "m", "hand")


def test_nothing_to_say_is_said_after_a_while() -> None:
    hub = Hub(World().look, 10)
    events = hub.events(hub.open(caller()), quiet_s=0.05)
    assert [next(events).name for _ in range(3)] == ["changed", "quiet", "quiet"]
    hub.stop()


def test_a_told_alarm_that_becomes_visible_late_is_still_said_and_only_once() -> None:
    world = World()
    hub = Hub(world.look, 10)
    events = hub.events(hub.open(caller()), quiet_s=5)
    assert next(events).name == "changed"
    late = Told("r", "m", "a", BEGAN_AT, {"alarm_id": "a"})
    world.told = [Told("r", "m", "b", BEGAN_AT + timedelta(seconds=9), {"alarm_id": "b"})]
    assert next(events) == Event("alarm", {"alarm_id": "b"})
    world.told = [late, *world.told]
    assert next(events) == Event("alarm", {"alarm_id": "a"})
    world.told = [*world.told, Told("r", "m", "b", BEGAN_AT + timedelta(seconds=20), {"again": 1})]
    assert next(events) == Event("alarm", {"again": 1})
    hub.stop()
    assert next(events, None) is None


def test_a_watcher_that_cannot_look_tries_again() -> None:
    world = World()
    hub = Hub(world.look, 10)
    events = hub.events(hub.open(caller()), quiet_s=5)
    next(events)
    world.broken = True
    looks = world.looks
    while world.looks == looks:
        time.sleep(0.01)
    world.broken = False
    world.counters["r"] = 2
    assert next(events) == Event("changed", {"seq": 2})
    hub.stop()


def test_a_device_that_opens_too_many_loses_its_oldest() -> None:
    hub = Hub(World().look, 100)
    streams = [hub.events(hub.open(caller()), quiet_s=0.05) for _ in range(5)]
    other = hub.events(hub.open(caller("e")), quiet_s=0.05)
    names = [[one.name for one in _take(stream, 2)] for stream in (*streams, other)]
    assert names == [["changed"], *[["changed", "quiet"]] * 5]
    hub.stop()


def test_a_process_without_room_asks_to_come_back() -> None:
    hub = Hub(World().look, 1)
    first = hub.open(caller())
    with pytest.raises(TooManyError) as refused:
        hub.open(caller("e"))
    assert refused.value.retry_after_s == 30
    hub.close(first)
    hub.open(caller("e"))
    hub.stop()


def test_streams_end_when_the_process_is_to_stop() -> None:
    hub = Hub(World().look, 10)
    events = hub.events(hub.open(caller()), quiet_s=5)
    next(events)
    hub.stop_when(lambda: True)
    assert next(events, None) is None  # one that went on would say quiet


def test_a_page_that_does_not_read_is_cut_off() -> None:
    world = World()
    hub = Hub(world.look, 10)
    stream = hub.open(caller())
    for number in range(1000):
        stream.say(Event("changed", {"seq": number}))
    told = list(hub.events(stream, quiet_s=0.05))
    assert len(told) < 300
    hub.stop()


def _take(events: Iterator[Event], most: int) -> list[Event]:
    return [one for one, _ in zip(events, range(most), strict=False)]
