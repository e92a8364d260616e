"""The sum that names the cautions beside a class of product and an action.

Source
------
See `trade.cautions` and `trade.cautions_by_work`.
"""

from dataclasses import dataclass, field
from typing import Final, Literal

from tackwatch.trade.cautions import DEFERENCE, caution_text
from tackwatch.trade.cautions_by_work import Action, cautions_for
from tackwatch.trade.errors import TradeError
from tackwatch.trade.sums.sum import Sum, note


@dataclass(frozen=True, slots=True)
class CautionsTakes:
    """What is worked with, and what is done."""

    product_class: str | None = field(
        default=None, metadata=note("Class of the product, as profiles name it")
    )
    action: Action | None = field(default=None, metadata=note("What is done"))
    language: Literal["en", "es"] = field(default="en", metadata=note("Language of the texts"))


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution."""

    id: str = field(metadata=note("Its stable id"))
    text: str = field(metadata=note("What can happen, and what to do first"))


@dataclass(frozen=True, slots=True)
class CautionsGives:
    """The cautions, and what governs."""

    cautions: tuple[Caution, ...] = field(metadata=note("The cautions, those of the class first"))
    governs: str = field(metadata=note("Whose word comes before ours"))


def cautions(given: CautionsTakes) -> CautionsGives:
    """Give the cautions for a class of product and an action."""
    if given.product_class is None and given.action is None:
        raise TradeError("product_class", "give the class of the product, the action, or both")
    ids = cautions_for(given.product_class, given.action)
    texts = (Caution(one, caution_text(one, given.language)) for one in ids)
    return CautionsGives(tuple(texts), DEFERENCE[given.language])


SUMS: Final = (
    Sum(
        "cautions",
        "cautions",
        "What can hurt a person who works with this.",
        CautionsTakes,
        CautionsGives,
        cautions,
        "See the source of each caution; the rest is common practice, no source",
    ),
)
