"""Two values for one field: which one stays, and whether a person must be asked.

Rules
-----
For the present value ``(v, s)`` and an incoming ``(v', s')`` whose author saw the stamp ``seen``:

====================================  ==================  =================
situation                             stays               difference
====================================  ==================  =================
``seen == s``                         ``v'``              no: it was known
``s`` is of the same device           ``v'``              no: own value
``v == v'``                           the greater stamp   no: they agree
otherwise                             the greater stamp   yes, of the other
====================================  ==================  =================

In the first two cases the incoming stamp is lifted past ``s`` where it is not greater already, so that what a person
did knowingly is never undone by a clock that runs slow.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tackwatch.merge.hlc import after, device_of, parse
from tackwatch.merge.state import Version


@dataclass(frozen=True, slots=True)
class Verdict:
    """What stays, what was lost unseen (if anything), and whether the incoming version stands just as it was sent."""

    stays: Version
    lost: Version | None
    as_sent: bool


def same(first: Any, second: Any) -> bool:
    """Say whether two JSON values are the same; unlike Python, true is not 1."""
    if isinstance(first, bool) or isinstance(second, bool):
        return first is second
    if isinstance(first, dict) and isinstance(second, dict):
        return first.keys() == second.keys() and all(same(v, second[k]) for k, v in first.items())
    if isinstance(first, list) and isinstance(second, list):
        return len(first) == len(second) and all(map(same, first, second))
    return bool(first == second)


def decide(present: Version, incoming: Version, seen: str | None) -> Verdict:
    """Decide between the present and an incoming version of one field."""
    device = device_of(incoming.at)
    if seen == present.at or device_of(present.at) == device:
        if incoming.at > present.at:
            return Verdict(incoming, None, as_sent=True)
        return Verdict(
            Version(incoming.value, str(after(parse(present.at), device))), None, as_sent=False
        )
    wins = incoming.at > present.at
    if same(present.value, incoming.value):
        return Verdict(incoming if wins else present, None, as_sent=wins)
    if wins:
        return Verdict(incoming, present, as_sent=False)
    return Verdict(present, incoming, as_sent=False)
