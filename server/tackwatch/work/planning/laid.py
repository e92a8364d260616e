"""What has been laid of a step, and with which numbers: as the plan sees it."""

from __future__ import annotations

from collections.abc import Sequence

from tackwatch.merge.state import Item
from tackwatch.plan.facts import Laid
from tackwatch.trade.cure import clocks_of_group
from tackwatch.trade.errors import TradeError
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.types import Profile
from tackwatch.work.reckoning.sources import Source


def profile_in(product: Item | None) -> Profile | None:
    """Give the numbers of a product, where this version can read them."""
    if product is None:
        return None
    try:
        return parse_profile(product.fields["profile"])
    except TradeError:  # a profile that this version cannot read has no windows
        return None


def laid_of(step: Item, coats: Sequence[Source], area_m2: float | None) -> Laid | None:
    """Give what was laid of a step by its coats, which cover so much together if that is known."""
    if not coats:
        return None
    ends = [one.end_at for one in coats if one.end_at is not None]
    at_it = any(one.open for one in coats) or not ends
    return Laid(
        start_at=min(one.start_at for one in coats),
        end_at=None if at_it else max(ends),
        clocks=clocks_of_group(step.id, [one.clocks for one in coats]),
        labour_h=None if at_it else _laid_h(coats) * int(step.fields.get("crew_size") or 1),
        area_m2=area_m2,
    )


def _laid_h(coats: Sequence[Source]) -> float:
    """Give the hours in which somebody laid the coat; what was laid at the same time counts once."""
    hours, until = 0.0, None
    for one in sorted(coats, key=lambda one: one.start_at):
        if one.end_at is not None and (until is None or one.end_at > until):
            begun = one.start_at if until is None else max(one.start_at, until)
            hours, until = hours + (one.end_at - begun).total_seconds() / 3600, one.end_at
    return hours
