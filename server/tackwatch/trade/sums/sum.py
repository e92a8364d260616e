"""What a sum is, and what each of its fields says of itself.

Rules
-----
* What a sum takes and gives are frozen dataclasses. Limits, unit and description stand in the
  metadata of each field, written by the functions below; readers, schemas and forms go by them.
* Fields may be numbers, whole numbers, yes or no, texts, a choice (`Literal`), instants (aware),
  other such dataclasses, tuples of one of these, and each of them `| None`. For a tuple of numbers
  the limits are those of its items.
* A sum computes from its dataclass and knows nothing of JSON. What it cannot use it refuses with a
  `TradeError` that names the field.
* `basis` tells what an answer rests on, where that is not always the same: a `formula` inside its
  range, `beyond` it, a published `rule_of_thumb`, `common_practice` without a source, or a rule
  quoted `from_memory`. `reasons` are codes that a screen turns into words.

Source
------
Our own layout.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

Metadata = dict[str, Any]
Basis = Literal["formula", "beyond", "rule_of_thumb", "common_practice", "from_memory"]


@dataclass(frozen=True, slots=True)
class Sum:
    """A sum under its stable name.

    Parameters
    ----------
    name : str
        The stable name, in snake_case.
    family : str
        What it belongs to: air, heat, film, mix, area, laminate ...
    about : str
        What a person uses it for, in one sentence.
    takes, gives : type
        The frozen dataclasses of what it is given and of its answer.
    compute : callable
        Works out the answer.
    source : str
        Where the formula comes from; `common practice, no source` or `from memory` where so.
    cautions : tuple of str
        Ids of the cautions to be shown beside it.
    """

    name: str
    family: str
    about: str
    takes: type[Any]
    gives: type[Any]
    compute: Callable[[Any], Any]
    source: str
    cautions: tuple[str, ...] = ()


def quantity(
    unit: str,
    about: str,
    *,
    least: float | None = None,
    most: float | None = None,
    above: float | None = None,
    below: float | None = None,
) -> Metadata:
    """Describe a number: its unit, what it is, and its limits (`above` and `below` are not met)."""
    limits = {"least": least, "most": most, "above": above, "below": below}
    return {
        "unit": unit,
        "about": about,
        **{name: value for name, value in limits.items() if value is not None},
    }


def several(item: Metadata, about: str, *, fewest: int = 0, at_most: int = 100) -> Metadata:
    """Describe a list: its items (the metadata of one), what it is, and how many there may be."""
    return {**item, "about": about, "fewest": fewest, "at_most": at_most}


def note(about: str, **more: Any) -> Metadata:
    """Describe a field that has no limits: a choice, a yes or no, a text, a nested record."""
    return {"about": about, **more}


def measured(unit: str, about: str) -> Metadata:
    """Describe a number of an answer."""
    return {"unit": unit, "about": about}
