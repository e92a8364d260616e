"""What a device sent, looked at before anything is locked: stamps read, shapes checked, texts made for the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tackwatch.merge.errors import RefusedError
from tackwatch.merge.hlc import Stamp, parse
from tackwatch.merge.operation import check_shape, named
from tackwatch.merge.text import storable, storable_text

_KEPT = 40


@dataclass(frozen=True, slots=True)
class Sent:
    """An operation as it was sent.

    Parameters
    ----------
    stamp
        What ``at`` says; ``None`` where it is not a stamp.
    fault
        Why it cannot take effect whatever the state: its stamp or the shape of its actions.
    ids
        The rows that it names; none where its shape is at fault.
    kept_at, kept_act, kept_actions
        What the log keeps of it; the actions as a text of JSON.
    """

    n: int
    at: str
    act: str
    actions: Sequence[Mapping[str, Any]]
    stamp: Stamp | None
    fault: RefusedError | None
    ids: frozenset[str] | set[str]
    kept_at: str
    kept_act: str
    kept_actions: str


def read(one: Mapping[str, Any]) -> Sent:
    """Look at an operation of a request."""
    stamp, fault, ids = None, None, set[str]()
    try:
        check_shape(one["actions"])
        ids = named(one["actions"])
    except RefusedError as error:
        fault = error
    try:
        stamp = parse(one["at"])
    except RefusedError as error:
        fault = error  # told first
    return Sent(
        n=one["n"],
        at=one["at"],
        act=one["act"],
        actions=one["actions"],
        stamp=stamp,
        fault=fault,
        ids=ids,
        kept_at=storable(one["at"][:_KEPT]),
        kept_act=storable(one["act"][:_KEPT]),
        kept_actions=storable_text(one["actions"]),
    )
