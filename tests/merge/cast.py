"""A small cast for the merge's tests: devices, a member, a zone, a job, and short ways to act on them."""

from __future__ import annotations

from typing import Any

from tackwatch.merge.apply import Outcome, apply
from tackwatch.merge.hlc import Stamp
from tackwatch.merge.operation import Operation, check_shape
from tackwatch.merge.state import Item, State

ANNA, BEN, CARL = "anna00000000", "ben000000000", "carl00000000"


def stamp(ms: int, device: str, counter: int = 0) -> str:
    return str(Stamp(ms, counter, device))


def do(state: State, at: str, *actions: dict[str, Any]) -> tuple[State, Outcome]:
    check_shape(list(actions))
    return apply(state, Operation(at, at[17:], "test", list(actions)))


def job(title: str = "Fair the keel", at: str = "") -> Item:
    return Item("job", "job-1", at or stamp(1, ANNA), {"title": title})


def member(id_: str = "m-1", role: str = "hand") -> Item:
    return Item("member", id_, stamp(1, ANNA), {"name": "M", "role": role})


def step(id_: str = "step-1") -> Item:
    return Item("step", id_, stamp(1, ANNA), {"job_id": "job-1", "kind": "coat"})


def state_of(*items: Item) -> State:
    return State({item.id: item for item in items})


def set_field(
    name: str, value: Any, seen: str | None = None, kind: str = "job", id_: str = "job-1"
) -> dict[str, Any]:
    action: dict[str, Any] = {"do": "set", "kind": kind, "id": id_, "fields": {name: value}}
    if seen is not None:
        action["seen"] = {name: seen}
    return action
