"""The end of a history: everybody opens the app where there is a signal, and time goes on until nothing waits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tests.simulation import weather
from tests.simulation.books import NOTHING, must
from tests.simulation.history import History, Holder
from tests.simulation.house import Key

ROUNDS = 12
ROUND_MS = (
    130_000  # longer than a phone ever waits between two tries, and than any server here asks it to
)


@dataclass(frozen=True, slots=True)
class Rest:
    """How one person's copy stands in the end: what is on its disk, and what it shows."""

    holder: Holder
    key: Key
    alive: bool
    disk: dict[str, Any]
    look: dict[str, Any]


def come_to_rest(history: History) -> list[Rest]:
    """Let everything arrive, and give how each copy stands."""
    history.calm = True
    _deliver(history)
    for holder in history.holders:
        holder.online = True
        if not holder.pages:
            history.reopen(holder)
    for _ in range(ROUNDS):
        before = _numbered(history)
        quiet = [_round(history, holder) for holder in history.holders]
        if all(quiet) and _numbered(history) == before:
            break
    _touch_clocks(history)
    return [rest for holder in history.holders for rest in _rests(history, holder)]


def _numbered(history: History) -> object:
    """Give how far the server has come."""
    return history.house.rows("SELECT id, seq, epoch FROM refit ORDER BY id")


def _deliver(history: History) -> None:
    """Everything that was held up arrives."""
    while history.held:
        weather.late(history)


def _round(history: History, holder: Holder) -> bool:
    """Give each person of a phone one turn; say whether nothing waits and everything is here."""
    quiet = True
    for _ in holder.keys:
        holder.at = (holder.at + 1) % len(holder.keys)
        _switch(history, holder)
        history.house.clock.forward(milliseconds=ROUND_MS)
        for page in list(holder.pages):
            history.meet(holder, history.say(holder, do="ring", page=page))
        quiet = quiet and _is_quiet(history, holder)
    return quiet


def _switch(history: History, holder: Holder) -> None:
    if len(holder.keys) == 1:
        return
    for page in holder.pages:
        heard = history.call(holder, "switchAccount", holder.key.device_id, page=page)
        must(heard.failed is None, "page-broken", f"{heard.failed}")
        history.meet(holder, heard)


def _is_quiet(history: History, holder: Holder) -> bool:
    look = history.look(holder)
    if look["revoked"] or not history.door.knows(holder.key.device_id):
        return bool(look["revoked"])
    state = look["state"]
    pictures = look["role"] == "viewer" or state["photos_waiting"] == 0
    return state["waiting"] == 0 and pictures and not state["trouble"]


def _touch_clocks(history: History) -> None:
    """Somebody whose key works logs one thing more, so that the alarms are kept as of now."""
    for holder in history.holders:
        for at, key in enumerate(holder.keys):
            if not history.door.knows(key.device_id):
                continue
            holder.at = at
            _switch(history, holder)
            look = history.look(holder)
            if look["revoked"]:
                continue
            heard = history.call(holder, "act", "markSeen", ["the-last.pot"])
            must(heard.gave is not None, "page-broken", f"{heard.failed}")
            history.books.enter(look["device"], heard.gave["made"], NOTHING)
            history.house.clock.forward(milliseconds=ROUND_MS)
            history.touched_at = history.house.clock.at
            history.meet(holder, history.say(holder, do="ring", page=holder.pages[0]))
            return


def _rests(history: History, holder: Holder) -> list[Rest]:
    """Let each person take what the others did last; the clock stands still from here on."""
    found = []
    for at, key in enumerate(holder.keys):
        holder.at = at
        page = holder.pages[-1]
        _switch(history, holder)
        history.meet(holder, history.say(holder, do="hear", page=page, name="online"))
        history.meet(holder, history.say(holder, do="ring", page=page))
        look = history.look(holder, page)
        disk = history.call(holder, "dump", page=page).gave
        disk["warnings"] = history.call(holder, "warnings", history.house.clock.ms, page=page).gave
        must(look["device"] == key.device_id, "page-broken", f"{look['device']} is shown")
        alive = history.door.knows(key.device_id) and not look["revoked"]
        found.append(Rest(holder, key, alive, disk, look))
    return found
