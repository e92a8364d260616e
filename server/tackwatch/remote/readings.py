"""Readings of a sensor: one from the command line, or one for each line that it writes."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from tackwatch.remote.copy import Copy, Filed
from tackwatch.remote.errors import InputError

MEASURES = ("air_c", "surface_c", "rh_pct")
_PARTS = ("taken_at", *MEASURES, "zone")


def log_reading(copy: Copy, given: Mapping[str, Any]) -> Filed:
    """Write a reading down.

    Parameters
    ----------
    given
        At least one of ``air_c``, ``surface_c`` (degC) and ``rh_pct``; ``taken_at`` (RFC 3339, any offset; now unless
        given) and ``zone`` (name or id of a zone of the refit).

    Raises
    ------
    InputError
        Naming what cannot be used; nothing is written down then.
    """
    for name in given:
        if name not in _PARTS:
            raise InputError(f"A reading has no such part; it has {', '.join(_PARTS)}.", name[:40])
    measured = {name: given[name] for name in MEASURES if given.get(name) is not None}
    if not measured:
        raise InputError(f"At least one of {', '.join(MEASURES)} is needed.", MEASURES[0])
    body: dict[str, Any] = {"taken_at": _instant(copy, given.get("taken_at")), **measured}
    if given.get("zone") is not None:
        body["zone_id"] = _zone_id(copy, given["zone"])
    action = {
        "do": "record", "kind": "reading", "id": str(uuid.uuid4()), "body": body,
        "replaces": None, "void": False,
    }  # fmt: skip
    try:
        return copy.act("log_reading", [action])
    except InputError as error:
        raise InputError(error.detail, error.field.removeprefix("actions[0].body.")) from None


def read_line(line: str) -> Mapping[str, Any]:
    """Read one line that a sensor wrote.

    Raises
    ------
    InputError
        When it is no JSON object.
    """
    try:
        given = json.loads(line)
    except (ValueError, RecursionError):
        given = None
    if not isinstance(given, dict):
        raise InputError("A JSON object is needed on each line.")
    return given


def _instant(copy: Copy, given: Any) -> str:
    """Give an instant as the catalogue wants it: UTC with a Z."""
    if given is None:
        at = datetime.fromtimestamp((copy.now_ms() + copy.meta().clock_off_ms) / 1000, UTC)
    else:
        try:
            at = datetime.fromisoformat(given)
        except (TypeError, ValueError):
            raise InputError(
                "An instant is needed, such as 2026-03-02T08:30:00Z.", "taken_at"
            ) from None
        if at.tzinfo is None:
            raise InputError("An instant needs its offset from UTC, or a Z.", "taken_at")
    try:
        at = at.astimezone(UTC)
    except OverflowError:
        raise InputError("An instant from 1970 to 2200 is needed.", "taken_at") from None
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _zone_id(copy: Copy, given: Any) -> str:
    zones = [row for row in copy.rows("zone") if not getattr(row, "gone", False)]
    found = {row.id for row in zones if given == row.id} or {
        row.id for row in zones if given == getattr(row, "fields", {}).get("name")
    }
    if len(found) != 1:
        why = (
            "Several zones have this name; give the id." if found else "There is no such zone here."
        )
        raise InputError(why, "zone")
    return found.pop()
