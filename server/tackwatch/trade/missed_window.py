"""What to do when a recoat window was missed, and what it costs.

Theory
------
Within its window a coat takes the next one by chemistry. Past it, teeth must be given to it: what
lies on its face is washed off, its gloss is sanded away, the dust is wiped off. That is labour that
nobody had planned, and it stands before the next coat as steps of their own.

Rules
-----
* What is to be done comes from the table of what may go over what, for the next coat on a cured one.
* After sanding the dust is wiped off: the last step cleans.
* Sanding takes the minutes on a square metre that the profile gives; where it gives none the labour
  is unknown (None), never nothing. Cleaning takes `CLEAN_MINUTES_PER_M2` unless said otherwise.
* `or_else` is the other way of the table (a tack coat), where there is one; its labour is unknown.

Source
------
`compatibility_table`. Minutes of cleaning: common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from tackwatch.trade.compatibility import goes_over
from tackwatch.trade.compatibility_table import Material, SurfaceState
from tackwatch.trade.job_order import ProposedStep, steps_of
from tackwatch.trade.laminate import AREA_MAX_M2, within

CLEAN_MINUTES_PER_M2: Final = 2.0
MINUTES_PER_M2_MAX: Final = 1440.0


@dataclass(frozen=True, slots=True)
class MissedWindow:
    """The steps to put before the next coat, another way, and the labour of the first way."""

    steps: tuple[ProposedStep, ...]
    or_else: tuple[ProposedStep, ...]
    labour_h: float | None


def missed_window(
    under: Material,
    area_m2: float | None = None,
    sand_minutes_per_m2: float | None = None,
    over: Material | None = None,
    clean_minutes_per_m2: float = CLEAN_MINUTES_PER_M2,
) -> MissedWindow:
    """Give what a missed window asks for.

    Parameters
    ----------
    under : str
        The material whose window has closed.
    area_m2 : float, optional
        The area; without it the labour is unknown.
    sand_minutes_per_m2 : float, optional
        What the profile gives for sanding after a missed window.
    over : str, optional
        What is to go on; the same material when left out.
    clean_minutes_per_m2 : float
        Washing and wiping.

    Source
    ------
    See the head of the module.
    """
    area = None if area_m2 is None else within(area_m2, "area_m2", 0.0, AREA_MAX_M2)
    sand = sand_minutes_per_m2
    if sand is not None:
        sand = within(sand, "sand_minutes_per_m2", 0.0, MINUTES_PER_M2_MAX)
    clean = within(clean_minutes_per_m2, "clean_minutes_per_m2", 0.0, MINUTES_PER_M2_MAX)
    state: SurfaceState = "waxed" if under == "polyester_waxed" else "glossy"
    answer = goes_over(under if over is None else over, under, state)
    steps = [*steps_of(answer.mends)]
    if steps and steps[-1].kind in ("sand", "grind"):
        steps += steps_of(("clean",))
    rates = {"sand": sand, "clean": clean}
    told = tuple(replace(one, labour_h=_labour(rates.get(one.kind), area)) for one in steps)
    below: Material = "epoxy_paint" if under == "epoxy_paint" else "epoxy_resin"
    return MissedWindow(told, steps_of(answer.or_else, below), _sum(told))


def _labour(minutes_per_m2: float | None, area_m2: float | None) -> float | None:
    if minutes_per_m2 is None or area_m2 is None:
        return None
    return minutes_per_m2 * area_m2 / 60.0


def _sum(steps: Sequence[ProposedStep]) -> float | None:
    known = [one.labour_h for one in steps if one.labour_h is not None]
    return sum(known) if len(known) == len(steps) else None
