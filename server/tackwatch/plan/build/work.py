"""How long a step takes, who may do it, and into which pieces long work is cut.

Rules
-----
* A step takes its labour over its crew, begun quarters of an hour with. What was worked is taken off,
  but something always remains, while nobody says that it is finished.
* A wait and a drying-out are nobody's time: their labour is hours that go by, day and night.
* Where nobody estimated, `UNKNOWN_LABOUR_H` stands in, and is told.
* Able is who has all the skills. Where people were named for a step that nobody was told of yet, and
  they are enough, it is theirs: the owner's choice.
* Work that does not fit into the day of those who can do it is cut into pieces of nearly one length:
  dry work, from two thirds of a day on, into pieces of at most half a day, since it can be left and
  taken up; what is laid only when it must, for its edge has to stay wet.
* The day is the longest that so many of them are there at once, on a usual day of theirs.

Source
------
Common practice, no source.
"""

from collections.abc import Iterable, Sequence
from math import ceil
from statistics import median_low
from typing import Final

from tackwatch.plan.build.grid import DAY_SLOTS, HOUR_SLOTS, TOUCH, slots_of_hours
from tackwatch.plan.facts import Member, RefitStep
from tackwatch.plan.model import Person, Slot
from tackwatch.trade.units import S_PER_HOUR

NOBODYS: Final = frozenset({"wait", "dry_out"})
DUSTY: Final = frozenset({"grind", "sand"})
LAID: Final = frozenset({"coat", "laminate", "fillet", "fair", "bed"})
UNKNOWN_LABOUR_H: Final = 2.0
UNKNOWN_DAY: Final = 8 * HOUR_SLOTS
DAYS_LOOKED_AT: Final = 15


def crew_of(step: RefitStep) -> int:
    """Give how many people a step takes at once; 0 for a wait."""
    return 0 if step.kind in NOBODYS else step.crew_size


def lays(step: RefitStep) -> bool:
    """Say whether a step lays something whose cure is known."""
    return step.kind in LAID and step.profile is not None


def whole_work(step: RefitStep) -> Slot:
    """Give the slots that a step takes by its estimate."""
    labour_h = step.labour_h
    if labour_h is None:
        labour_h = 0.0 if step.kind in NOBODYS else UNKNOWN_LABOUR_H * step.crew_size
    return slots_of_hours(labour_h / max(1, crew_of(step)))


def remaining_work(step: RefitStep, area_m2: float | None = None) -> Slot:
    """Give the slots that are left of a step that is not finished, something at least.

    Parameters
    ----------
    step : RefitStep
        The step.
    area_m2 : float, optional
        What it is to cover.
    """
    if step.kind in NOBODYS:
        return max(0, whole_work(step))
    return max(1, ceil(whole_work(step) * (1.0 - done_share(step, area_m2)) - TOUCH))


def done_share(step: RefitStep, area_m2: float | None) -> float:
    """Give how much of a step is done, in 0 to 1.

    By the area that its coat covers where that is known; else by the hours that were logged, or those that
    laying its coat took if they are more.
    """
    laid = step.laid if lays(step) else None
    if laid is not None and laid.area_m2 is not None and area_m2:
        return min(1.0, laid.area_m2 / area_m2)
    whole_h = whole_work(step) / HOUR_SLOTS * step.crew_size
    hours = step.worked_h
    if laid is not None and laid.end_at is not None:
        laid_h = (laid.end_at - laid.start_at).total_seconds() / S_PER_HOUR * step.crew_size
        hours = max(hours, laid_h if laid.labour_h is None else laid.labour_h)
    return min(1.0, hours / whole_h) if whole_h else 0.0


def able_for(step: RefitStep, members: Sequence[Member]) -> tuple[str, ...]:
    """Give who may do a step, by id."""
    if not crew_of(step):
        return ()
    skilled = tuple(one.id for one in members if step.skills <= one.skills)
    named = tuple(one.id for one in members if one.id in step.assignees)
    return named if len(named) >= step.crew_size and not step.told else skilled


def pieces_of(work: Slot, cuttable: bool, day: Slot, spare: Slot = 0) -> tuple[Slot, ...]:
    """Cut work into pieces that fit into a day.

    Parameters
    ----------
    work : int
        The slots that it takes.
    cuttable : bool
        Whether it may be left and taken up again without harm.
    day : int
        The longest that its crew can work at once.
    spare : int
        What must fit into the day besides (extra work of a missed window).
    """
    longest = max(1, day - spare)
    if cuttable and work > day * 2 // 3:
        longest = max(1, min(longest, day // 2))
    n = max(1, -(-work // longest))
    return tuple(work // n + (i < work % n) for i in range(n))


class Together:
    """How long people can usually work at once."""

    def __init__(self, people: Iterable[Person]) -> None:
        self._spans = {one.id: one.open[:DAYS_LOOKED_AT] for one in people}
        self._known: dict[tuple[tuple[str, ...], int], Slot] = {}

    def longest(self, able: tuple[str, ...], crew: int) -> Slot:
        """Give the longest that a crew of those who are able can work at once on a usual day, in slots."""
        key = able, crew
        if key not in self._known:
            self._known[key] = self._longest(able, crew)
        return self._known[key]

    def _longest(self, able: tuple[str, ...], crew: int) -> Slot:
        spans = [span for id_ in able for span in self._spans[id_]]
        by_day: dict[Slot, Slot] = {}
        for begin, _ in spans if crew else ():
            there = sorted(
                (end - begin for other, end in spans if other <= begin < end), reverse=True
            )
            if len(there) >= crew:
                day = begin // DAY_SLOTS
                by_day[day] = max(by_day.get(day, 0), there[crew - 1])
        return median_low(by_day.values()) if by_day else UNKNOWN_DAY
