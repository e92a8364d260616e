"""What it costs the next step when it misses a coat's window, in slots.

Rules
-----
* The labour is that of `trade.missed_window`: washing, sanding by the minutes on a square metre that
  the profile gives, wiping.
* Where the area or the minutes are not known, `UNKNOWN_H` stands in, and is told: a miss never costs
  nothing.
* It is done by the next step's crew, before its own work, in one go with it. What does not fit into
  their day besides is cut off, and told.

Source
------
`trade.missed_window`.
"""

from typing import Final

from tackwatch.plan.build.grid import slots_of_hours
from tackwatch.plan.facts import RefitStep
from tackwatch.plan.model import Slot
from tackwatch.trade.compatibility import material_of
from tackwatch.trade.errors import TradeError
from tackwatch.trade.missed_window import missed_window
from tackwatch.trade.types import Profile

UNKNOWN_H: Final = 4.0


def missed_labour_h(
    under: Profile | None, over: Profile | None, area_m2: float | None
) -> float | None:
    """Give the person-hours of a missed window; None where they are not known."""
    below = None if under is None else material_of(under.product_class, under.compatibility)
    if under is None or below is None:
        return None
    above = None if over is None else material_of(over.product_class, over.compatibility)
    try:
        answer = missed_window(below, area_m2, under.sanding_after_missed_minutes_per_m2, above)
    except TradeError:  # an area that is none
        return None
    return answer.labour_h


def missed_slots(step: RefitStep, labour_h: float | None) -> Slot:
    """Give the slots that a step takes longer for a missed window."""
    return max(1, slots_of_hours((UNKNOWN_H if labour_h is None else labour_h) / step.crew_size))
