"""The types that a field or a record's part may have, and the check of one value against its type.

Rules
-----
- A value is plain JSON. ``None`` is allowed unless the field is required.
- Instants are RFC 3339 text in UTC with a ``Z``; local times of day are ``HH:MM``; days of the week are a text of their
  ISO 8601 numbers, rising: ``12345`` is Monday to Friday, and the empty text no day.
- Numbers are finite and lie within the field's limits; text has a greatest length in characters.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tackwatch.merge.errors import RefusedError

_ID = re.compile(r"[0-9A-Za-z_-]{1,40}")
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z", re.ASCII)
_TIME_OF_DAY = re.compile(r"([01]\d|2[0-3]):[0-5]\d", re.ASCII)
_WEEKDAYS = re.compile(r"1?2?3?4?5?6?7?")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_OBJECT_CHARACTERS = 20_000
_OBJECT_DEPTH = 12


@dataclass(frozen=True, slots=True)
class Field:
    """What one field may hold.

    Parameters
    ----------
    type
        One of ``text number whole yes_no instant date time_of_day weekdays ref choice object hash``.
    least, most
        Limits of a number; ``most`` is the greatest length of a text.
    of
        Kinds that a ``ref`` may point to, or the words of a ``choice``.
    required
        Must be given at creation and may not be ``None``.
    default
        What an absent field means.
    """

    type: str
    least: float | None = None
    most: float | None = None
    of: tuple[str, ...] = ()
    required: bool = False
    default: Any = None


def is_id(value: object) -> bool:
    """Say whether a value can be the id of an item or record."""
    return isinstance(value, str) and _ID.fullmatch(value) is not None


def check(field: Field, value: Any, path: str) -> None:
    """Check one value.

    Raises
    ------
    RefusedError
        Naming ``path``, when the value does not fit the field.
    """
    if value is None:
        if field.required:
            raise RefusedError("value-missing", "A value is needed here.", path)
        return
    why = _CHECKS[field.type](field, value)
    if why:
        raise RefusedError("value-not-valid", why, path)


def _text(field: Field, value: Any) -> str:
    if not isinstance(value, str):
        return "Text is needed here."
    if field.required and not value.strip():
        return "This may not be empty."
    if len(value) > (field.most or 200):
        return f"At most {int(field.most or 200)} characters."
    if "\x00" in value or any("\ud800" <= sign <= "\udfff" for sign in value):
        return "The text holds a character that cannot be stored."
    return ""


def _number(field: Field, value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return "A number is needed here."
    # A whole number is finite, and one of four hundred digits is too large to be asked.
    if isinstance(value, float) and not math.isfinite(value):
        return "The number must be finite."
    if field.least is not None and value < field.least:
        return f"At least {field.least:g}."
    if field.most is not None and value > field.most:
        return f"At most {field.most:g}."
    return ""


def _whole(field: Field, value: Any) -> str:
    return _number(field, value) if isinstance(value, int) else "A whole number is needed here."


def _yes_no(_: Field, value: Any) -> str:
    return "" if isinstance(value, bool) else "True or false is needed here."


def _instant(_: Field, value: Any) -> str:
    if isinstance(value, str) and _INSTANT.fullmatch(value):
        try:
            year = datetime.fromisoformat(value).year
        except ValueError:
            year = 0
        if 1970 <= year <= 2200:
            return ""
    return "An instant in UTC is needed here, such as 2026-03-02T08:30:00Z."


def _date(_: Field, value: Any) -> str:
    if isinstance(value, str) and _DATE.fullmatch(value):
        try:
            datetime.fromisoformat(value)
        except ValueError:
            pass
        else:
            return ""
    return "A date is needed here, such as 2026-03-02."


def _time_of_day(_: Field, value: Any) -> str:
    fits = isinstance(value, str) and _TIME_OF_DAY.fullmatch(value)
    return "" if fits else "A time of day is needed here, such as 07:30."


def _weekdays(_: Field, value: Any) -> str:
    fits = isinstance(value, str) and _WEEKDAYS.fullmatch(value)
    return "" if fits else "Days of the week are needed here, 1 to 7 and rising, such as 12345."


def _ref(_: Field, value: Any) -> str:
    return "" if is_id(value) else "The id of an existing row is needed here."


def _choice(field: Field, value: Any) -> str:
    return "" if value in field.of else f"One of: {', '.join(field.of)}."


def _object(_: Field, value: Any) -> str:
    if not isinstance(value, dict):
        return "An object is needed here."
    return "" if _fits(value, _OBJECT_DEPTH, [_OBJECT_CHARACTERS]) else "The object is too large."


def _fits(value: Any, depth: int, left: list[int]) -> bool:
    """Say whether a nested value stays within a depth and a number of characters; plain JSON only."""
    if depth == 0 or left[0] < 0:
        return False
    if isinstance(value, dict):
        return all(
            _fits(key, depth - 1, left) and _fits(part, depth - 1, left)
            for key, part in value.items()
        )
    if isinstance(value, list):
        return all(_fits(part, depth - 1, left) for part in value)
    if isinstance(value, float) and not math.isfinite(value):
        return False
    left[0] -= len(value) if isinstance(value, str) else 8
    return left[0] >= 0 and not (
        isinstance(value, str) and _text(Field("text", most=20_000), value)
    )


def _hash(_: Field, value: Any) -> str:
    fits = isinstance(value, str) and _SHA256.fullmatch(value)
    return "" if fits else "A SHA-256 in hex is needed here."


_CHECKS: dict[str, Callable[[Field, Any], str]] = {
    "text": _text,
    "number": _number,
    "whole": _whole,
    "yes_no": _yes_no,
    "instant": _instant,
    "date": _date,
    "time_of_day": _time_of_day,
    "weekdays": _weekdays,
    "ref": _ref,
    "choice": _choice,
    "object": _object,
    "hash": _hash,
}
