"""Plain JSON read into the dataclass that a sum takes: strictly, and naming what is wrong.

Rules
-----
* Fields that are not known are refused first, then each field is read in the order of the
  dataclass: the first that is missing, of another type or out of its range is named, with its path
  (`girths_m[2]`, `plies[0].glass_pct`).
* A number is a JSON number: not a text, not true or false, not NaN or an infinity. A whole number
  may be written 3 or 3.0. A field with a default may be left out; null is for fields that may be
  None.
* An instant is ISO 8601 text with its offset.

Source
------
RFC 8259 (JSON numbers), RFC 3339 (instants); the strictness is our own.
"""

from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import UTC, datetime
from math import isfinite
from types import NoneType, UnionType
from typing import Any, Final, Literal, Union, get_args, get_origin, get_type_hints

from tackwatch.trade.errors import OutOfRangeError, TradeError

TEXT_LONGEST: Final = 2000
ROOT: Final = "input"

Json = Any
Metadata = Mapping[str, Any]


def read(kind: type[Any], data: Json, path: str = "") -> Any:
    """Read a dataclass from plain JSON.

    Parameters
    ----------
    kind : type
        The dataclass.
    data : object
        What a JSON document holds.
    path : str
        Where this record stands in the document; empty for the document itself.

    Raises
    ------
    TradeError
        Naming the first field that cannot be used; nothing else was done.

    Source
    ------
    See the head of the module.
    """
    if not isinstance(data, Mapping):
        raise TradeError(path or ROOT, "must be an object")
    known = {field.name: field for field in fields(kind)}
    for name in data:
        if name not in known:
            raise TradeError(join(path, str(name)), "is not known here")
    types = hints_of(kind)
    return kind(**{name: _field(one, types[name], data, path) for name, one in known.items()})


def hints_of(kind: type[Any]) -> dict[str, Any]:
    """Give the types of a dataclass's fields by name."""
    return get_type_hints(kind)


def optional_of(hint: Any) -> tuple[Any, bool]:
    """Give a type without None, and whether None was among its choices."""
    if get_origin(hint) not in (Union, UnionType):
        return hint, False
    kinds = [one for one in get_args(hint) if one is not NoneType]
    if len(kinds) != 1:
        raise TypeError(f"a field has one type, or that and None; not {hint}")
    return kinds[0], True


def default_of(field: Field[Any]) -> Any:
    """Give the default of a field, MISSING when it has none."""
    if field.default_factory is not MISSING:
        return field.default_factory()
    return field.default


def join(path: str, name: str) -> str:
    """Give the path of a field below another."""
    return f"{path}.{name}" if path else name


def _field(field: Field[Any], hint: Any, data: Mapping[str, Json], path: str) -> Any:
    where = join(path, field.name)
    if field.name not in data:
        default = default_of(field)
        if default is MISSING:
            raise TradeError(where, "is missing")
        return default
    kind, may_be_none = optional_of(hint)
    value = data[field.name]
    if value is None and may_be_none:
        return None
    return _value(kind, value, where, field.metadata)


def _value(kind: Any, value: Json, where: str, about: Metadata) -> Any:
    if "read" in about:
        return about["read"](value, where)
    if get_origin(kind) is tuple:
        return _items(get_args(kind)[0], value, where, about)
    if get_origin(kind) is Literal:
        return _choice(get_args(kind), value, where)
    if is_dataclass(kind):
        return read(kind, value, where) if isinstance(kind, type) else None
    if kind is bool:
        return _flag(value, where)
    if kind is str:
        return _text(value, where)
    if kind is datetime:
        return _instant(value, where)
    number = _number(value, where, about)
    return _whole(number, where) if kind is int else number


def _items(kind: Any, value: Json, where: str, about: Metadata) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise TradeError(where, "must be a list")
    fewest, at_most = about.get("fewest", 0), about.get("at_most", 100)
    if not fewest <= len(value) <= at_most:
        raise OutOfRangeError(where, f"must have {fewest} to {at_most} items")
    return tuple(_value(kind, one, f"{where}[{i}]", about) for i, one in enumerate(value))


def _number(value: Json, where: str, about: Metadata) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TradeError(where, "must be a number")
    try:
        number = float(value)
    except OverflowError:
        raise OutOfRangeError(where, "must be a finite number") from None
    if not isfinite(number):
        raise OutOfRangeError(where, "must be a finite number")
    if "least" in about and number < about["least"]:
        raise OutOfRangeError(where, f"must be at least {about['least']:g}")
    if "above" in about and number <= about["above"]:
        raise OutOfRangeError(where, f"must be above {about['above']:g}")
    if "most" in about and number > about["most"]:
        raise OutOfRangeError(where, f"must be at most {about['most']:g}")
    if "below" in about and number >= about["below"]:
        raise OutOfRangeError(where, f"must be below {about['below']:g}")
    return number


def _whole(number: float, where: str) -> int:
    if not number.is_integer():
        raise TradeError(where, "must be a whole number")
    return int(number)


def _choice(choices: tuple[Any, ...], value: Json, where: str) -> Any:
    if not isinstance(value, str) or value not in choices:
        raise TradeError(where, f"must be one of {', '.join(map(str, choices))}")
    return value


def _flag(value: Json, where: str) -> bool:
    if not isinstance(value, bool):
        raise TradeError(where, "must be true or false")
    return value


def _text(value: Json, where: str) -> str:
    if not isinstance(value, str):
        raise TradeError(where, "must be text")
    if len(value) > TEXT_LONGEST:
        raise OutOfRangeError(where, f"must have at most {TEXT_LONGEST} characters")
    return value


def _instant(value: Json, where: str) -> datetime:
    try:
        at = datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise TradeError(where, "must be an instant such as 2026-04-10T12:00:00Z")
    return at.astimezone(UTC)
