"""Operations: what one person did at one moment, as sent by a device, and the check of their shape.

Rules
-----
- An operation holds 1 to 500 actions; all take effect or none.
- The shape is checked before anything is looked up, and every fault names its field.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tackwatch.merge.catalogue import ITEMS, RECORDS
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.values import is_id

MAX_ACTIONS = 500
MAX_DIFFERENCES = 200
_KEYS: Mapping[str, frozenset[str]] = {
    "create": frozenset({"do", "kind", "id", "fields", "sets"}),
    "set": frozenset({"do", "kind", "id", "fields", "seen"}),
    "put_in": frozenset({"do", "kind", "id", "set", "member"}),
    "take_out": frozenset({"do", "kind", "id", "set", "member", "tags"}),
    "record": frozenset({"do", "kind", "id", "body", "replaces", "void"}),
    "settle": frozenset({"do", "differences"}),
}


@dataclass(frozen=True, slots=True)
class Operation:
    """One act, filed under the stamp ``at`` by ``device``."""

    at: str
    device: str
    act: str
    actions: Sequence[Mapping[str, Any]]


def check_shape(actions: object) -> None:
    """Check that a list of actions has a shape that the merge can work on.

    Raises
    ------
    RefusedError
        Naming the field at fault.
    """
    if not isinstance(actions, list) or not 1 <= len(actions) <= MAX_ACTIONS:
        raise RefusedError(
            "not-an-operation", f"A list of 1 to {MAX_ACTIONS} actions is needed.", "actions"
        )
    for number, action in enumerate(actions):
        try:
            _check_action(action)
        except RefusedError as error:
            raise error.under(f"actions[{number}]") from None


def named(actions: Sequence[Mapping[str, Any]]) -> set[str]:
    """Give every id that well-shaped actions name, so that those rows can be brought to the state.

    A difference's id begins with that of its item: whose it is says who may settle it.
    """
    ids: set[str] = set()
    for action in actions:
        for difference in action.get("differences", ()):
            ids |= {difference, difference.partition(".")[0]}
        ids.update(v for v in (action.get("id"), action.get("member"), action.get("replaces")) if v)
        for members in (action.get("sets") or {}).values():
            ids.update(members)
        ids.update(_references(action))
    return ids


def _references(action: Mapping[str, Any]) -> set[str]:
    kind = action.get("kind", "")
    if action["do"] == "record":
        known = RECORDS[kind].body if kind in RECORDS else {}
    else:
        known = ITEMS[kind].fields if kind in ITEMS else {}
    given: Mapping[str, Any] = action.get("fields") or action.get("body") or {}
    return {
        value
        for name, value in given.items()
        if name in known and known[name].type == "ref" and is_id(value)
    }


def _check_action(action: object) -> None:
    if not isinstance(action, dict):
        raise RefusedError("not-an-action", "An action is an object.")
    do = action.get("do")
    if not isinstance(do, str) or do not in _KEYS:
        raise RefusedError("not-an-action", f"One of: {', '.join(_KEYS)}.", "do")
    for key in action:
        if key not in _KEYS[do]:
            raise RefusedError("unknown-field", f"The action {do} has no such part.", str(key)[:40])
    if do == "settle":
        _texts(action, "differences", MAX_DIFFERENCES)
        return
    if not is_id(action.get("id")):
        raise RefusedError(
            "value-not-valid", "An id of letters, digits and hyphens is needed.", "id"
        )
    if not isinstance(action.get("kind"), str):
        raise RefusedError("value-not-valid", "The kind's name is needed.", "kind")
    _SHAPES[do](action)


def _create(action: Mapping[str, Any]) -> None:
    _object(action, "fields", needed=True)
    _object(action, "sets")
    for name, members in (action.get("sets") or {}).items():
        if not isinstance(members, list) or not all(is_id(member) for member in members):
            raise RefusedError("value-not-valid", "A list of ids is needed.", f"sets.{name}")


def _set(action: Mapping[str, Any]) -> None:
    _object(action, "fields", needed=True)
    _object(action, "seen")
    if not action["fields"]:
        raise RefusedError("value-missing", "At least one field is needed.", "fields")
    for name, stamp in (action.get("seen") or {}).items():
        if not isinstance(stamp, str):
            raise RefusedError("not-a-stamp", "This is not a clock stamp.", f"seen.{name}")


def _member(action: Mapping[str, Any]) -> None:
    if not isinstance(action.get("set"), str):
        raise RefusedError("value-not-valid", "The set's name is needed.", "set")
    if not is_id(action.get("member")):
        raise RefusedError("value-not-valid", "An id is needed.", "member")
    if action["do"] == "take_out":
        _texts(action, "tags", MAX_DIFFERENCES)


def _record(action: Mapping[str, Any]) -> None:
    _object(action, "body", needed=True)
    if not isinstance(action.get("void", False), bool):
        raise RefusedError("value-not-valid", "True or false is needed here.", "void")
    replaces = action.get("replaces")
    if replaces is not None and not is_id(replaces):
        raise RefusedError("value-not-valid", "The id of a record is needed.", "replaces")
    if action.get("void") and replaces is None:
        raise RefusedError("value-missing", "What is taken back must be named.", "replaces")


def _object(action: Mapping[str, Any], name: str, *, needed: bool = False) -> None:
    value = action.get(name)
    if (value is None and needed) or (value is not None and not isinstance(value, dict)):
        raise RefusedError("value-not-valid", "An object is needed here.", name)


def _texts(action: Mapping[str, Any], name: str, most: int) -> None:
    value = action.get(name)
    if (
        not isinstance(value, list)
        or len(value) > most
        or not all(isinstance(v, str) for v in value)
    ):
        raise RefusedError("value-not-valid", f"A list of at most {most} texts is needed.", name)


_SHAPES = {
    "create": _create,
    "set": _set,
    "put_in": _member,
    "take_out": _member,
    "record": _record,
}
