"""What may happen in a history: to a phone, to its clock and its people, to the server, to a key."""

from __future__ import annotations

import json

from tests.simulation import weather
from tests.simulation.books import must
from tests.simulation.history import HOUR_MS, YEAR_MS, Event, History, Holder
from tests.simulation.phones import Asked


def _late(history: History, _: Holder) -> None:
    weather.late(history)


def _line(history: History, holder: Holder) -> None:
    holder.online = not holder.online
    history.tell(f"{holder.name} is {'online' if holder.online else 'offline'}")
    if holder.online and holder.pages:
        heard = history.say(holder, do="hear", page=holder.pages[0], name="online")
        history.meet(holder, heard)


def _die(history: History, holder: Holder) -> None:
    history.count("phone killed")
    history.say(holder, do="die")
    history.die(holder)
    history.tell(f"{holder.name} is killed")


def _clock(history: History, holder: Holder) -> None:
    history.count("clock steps")
    step_ms = history.chance.choice(
        (-7_000, 61_000, -HOUR_MS, -5 * HOUR_MS, HOUR_MS, -YEAR_MS, YEAR_MS)
    )
    holder.off_ms = max(-2 * YEAR_MS, min(2 * YEAR_MS, holder.off_ms + step_ms))
    history.say(holder, do="clock", off_ms=holder.off_ms)
    history.tell(f"{holder.name}'s clock steps by {step_ms} ms to {holder.off_ms}")


def _update(history: History, holder: Holder) -> None:
    """The app was updated: the outbox is as an older version left it."""
    if not history.awake(holder):
        return
    history.count("app update over an older outbox")
    history.call(holder, "age")
    _die(history, holder)
    history.reopen(holder)


def _switch(history: History, holder: Holder) -> None:
    if len(holder.keys) < 2 or not history.awake(holder):
        return
    history.count("another person takes the phone")
    holder.at = 1 - holder.at
    history.tell(f"{holder.name} is {holder.key.name}'s now")
    heard = history.call(holder, "switchAccount", holder.key.device_id)
    history.meet(holder, heard)
    history.check_disk(holder)


def _second_page(history: History, holder: Holder) -> None:
    if len(holder.pages) == 1:
        history.count("two pages of one phone")
        history.open(holder, "b")


def _together(history: History, holder: Holder) -> None:
    """Two people do something, and their phones reach the server at the same moment."""
    other = history.chance.choice(history.holders)
    history.act(holder)
    history.act(other)
    if other is holder or not (holder.pages and other.pages and holder.online and other.online):
        return
    history.house.clock.forward(milliseconds=2_000)
    heard = [history.say(one, do="ring", page=one.pages[0]) for one in (holder, other)]
    both = [one.asked[0] for one in heard if len(one.asked) == 1]
    if len(both) < 2 or any(one.method != "POST" or "/sync" not in one.path for one in both):
        history.meet(holder, heard[0])
        history.meet(other, heard[1])
        return
    history.count("two requests at once")
    history.tell(f"{holder.name} and {other.name} ask at once")
    answers = history.serve_both(both)
    for one, asked, answer in zip((holder, other), both, answers, strict=True):
        history.answer(one, asked, answer)


def _backup(history: History, _: Holder) -> None:
    history.backup = history.house.copy()
    history.tell("the server is copied")


def _restore(history: History, _: Holder) -> None:
    if history.backup is None:
        return
    history.count("server restored from an old backup")
    history.house.restore(history.backup)
    history.books.restores += 1
    history.tell("the server comes back from its copy")


def _revoke(history: History, holder: Holder) -> None:
    """The owner takes a device's key away."""
    owner = history.house.keys[0]
    key = history.chance.choice(history.keys)
    if key is owner:
        return
    history.count("key revoked")
    path = f"/api/refits/{owner.refit_id}/devices/{key.device_id}"
    status = history.house.wire.send(
        "DELETE", path, {"Authorization": f"Bearer {owner.key}"}, None
    ).status
    history.tell(f"{key.name}'s key {key.device_id} is withdrawn: {status}")


def _newcomer(history: History, _: Holder) -> None:
    """Somebody comes aboard with the app itself."""
    owner, number = history.house.keys[0], len(history.holders)
    if number > 5 or not history.door.knows(owner.device_id):
        return
    history.count("somebody comes aboard")
    role = history.chance.choice(("hand", "hand", "viewer"))
    if history.door.role_of(owner.member_id) != "owner":
        return
    key = history.house.aboard(owner, {"role": role, "name": f"New {number}"})
    holder = Holder(f"phone{number}", [key])
    history.give(holder)
    history.holders.append(holder)
    history.tell(f"{holder.name} comes aboard as {role}")
    history.open(holder)


def _wrong_door(history: History, holder: Holder) -> None:
    """A device asks for another refit with its own key."""
    history.count("a key tried on another refit")
    other = history.house.other
    assert other is not None
    body = {
        "protocol": 1, "schema": history.door.schema, "epoch": None, "device": holder.key.device_id, "cursor": 0,
        "operations": [],
    }  # fmt: skip
    headers = {"Authorization": f"Bearer {holder.key.key}", "Content-Type": "application/json"}
    asked = Asked(
        0,
        holder.name,
        "",
        "POST",
        f"/api/refits/{other.refit_id}/sync",
        headers,
        json.dumps(body),
        False,
    )
    answer = history.house.serve(asked)
    must(answer.status in (401, 404), "wrong-door-open", f"{answer.status}")
    history.door.nothing_from_elsewhere(answer)


EVENTS: tuple[tuple[float, Event], ...] = (
    (46, History.act), (30, History.ring), (8, _late), (7, _together), (4, _line), (1.5, _die), (2, _clock),
    (0.7, _update),
    (4, _switch), (0.7, _second_page), (2.5, _backup), (2, _restore), (0.8, _revoke), (0.6, _newcomer),
    (0.3, _wrong_door),
)  # fmt: skip
