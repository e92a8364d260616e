"""A pure dataclass given what a schema needs, without the pure module having to know of schemas.

Rules
-----
* `described` makes a dataclass with the same fields; each is told by its name, and its unit comes
  from the end of its name. A dataclass among the fields is described in the same way.
* A list of an answer may be as long as a job has strips or steps, `ANSWER_MOST_N`.
* A field without a word is a mistake that stops the program.

Source
------
Our own layout.
"""

from collections.abc import Mapping
from dataclasses import field, fields, is_dataclass, make_dataclass
from datetime import datetime
from functools import reduce
from typing import Any, Final, Literal, Union, get_args, get_origin

from tackwatch.trade.sums.reading import hints_of
from tackwatch.trade.sums.sum import Metadata, measured, note

UNITS: Final = {
    "_kg_m2": "kg/m2",
    "_kg_l": "kg/l",
    "_ml_per_m": "ml/m",
    "_mm2": "mm2",
    "_m2": "m2",
    "_mm": "mm",
    "_um": "um",
    "_kg": "kg",
    "_pct": "%",
    "_deg": "deg",
    "_l": "l",
    "_m": "m",
    "_h": "h",
    "_s": "s",
    "_minutes": "min",
    "_c": "degC",
    "_k": "K",
}


ANSWER_MOST_N: Final = 2000


def described(kind: type[Any], words: Mapping[str, str]) -> type[Any]:
    """Give a dataclass with the fields of another and what a schema says of each.

    Parameters
    ----------
    kind : type
        The dataclass of an answer.
    words : mapping of str to str
        What each field is, by its name; those of the dataclasses inside as well.
    """
    hints = hints_of(kind)
    told = [
        (
            one.name,
            _described(hints[one.name], words),
            field(metadata=_metadata(one.name, hints[one.name], words)),
        )
        for one in fields(kind)
    ]
    made: type[Any] = make_dataclass(kind.__name__, told, frozen=True, slots=True)
    return made


def _metadata(name: str, hint: Any, words: Mapping[str, str]) -> Metadata:
    if _is_mapping(hint):
        return note(words[name], schema={"type": "object"})
    unit = next((unit for end, unit in UNITS.items() if f"_{name}".endswith(end)), None)
    many = {"at_most": ANSWER_MOST_N} if get_origin(hint) is tuple else {}
    if unit is None or name.endswith("_at"):
        return note(words[name], **many)
    return {**measured(unit, words[name]), **many}


def _described(hint: Any, words: Mapping[str, str]) -> Any:
    origin, parts = get_origin(hint), get_args(hint)
    if is_dataclass(hint) and isinstance(hint, type):
        return described(hint, words)
    if origin is None or origin is Literal or hint in (bool, str, int, float, datetime):
        return hint
    inner = [one if one is Ellipsis else _described(one, words) for one in parts]
    if origin is tuple:
        return tuple[tuple(inner)]  # type: ignore[misc]
    if _is_mapping(hint):
        return hint
    return reduce(lambda one, other: Union[one, other], inner)  # noqa: UP007


def _is_mapping(hint: Any) -> bool:
    origin = get_origin(hint)
    return isinstance(origin, type) and issubclass(origin, Mapping)
