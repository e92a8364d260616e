"""What a plan is made of: steps, people, places, links and windows, on a grid of time slots.

Theory
------
Resource-constrained project scheduling with minimum and maximum gaps (RCPSP/max), with people who
have hours and skills in place of some of the resources, and with gaps that hang on when the step
before has ended, since paint cures as warm as it is. All is whole numbers of slots: an instant is
the beginning of slot `n` of the `Grid`, a length is a number of slots, and `[start, end)` is
half-open.

Rules
-----
* A step is done in one go by `crew` people of `able`, each of them inside one of their open spans
  from its start to its end, and never two steps at once. Work that is longer than a day is cut into
  steps before it comes here. `crew` 0 is nobody's time: a wait, a milestone.
* A place holds so many units at once; a step takes its units of it while it is done. A zone's units
  are people in it; whatever else is scarce (a pump, a scaffold) is a place as well.
* What makes dust in a zone may not overlap what is wet there. A wet step keeps its zone from its
  start until the entry of its `dry` table for its end.
* A link says `end(before) + min_gap <= start(after) <= end(before) + max_gap`; gaps may be
  negative. With a window, moreover `ready[end(before)] <= start(after) <= last[end(before)]`. The
  upper side is broken only where `missed_work` says so, and then the step after takes so much
  longer, once for each link that it misses.
* A fixed step has its start and its people, whatever anything else says: it is done or under way. Two
  fixed steps may overlap, and a link into a fixed step counts for nothing; others keep clear of both.
* All tables go past the horizon: entry `n` is for an end at `n`, for every `n` of 0 .. `slots`, and
  the values may be larger than `slots` (`NEVER` where a thing does not come).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

Slot = int
Span = tuple[Slot, Slot]
Table = NDArray[np.int64]
NEVER: Final = 2**40


@dataclass(frozen=True, slots=True)
class Grid:
    """The slots: `origin_s` is the instant of slot 0 in seconds since the epoch, `slot_s` a length in seconds."""

    origin_s: float
    slot_s: int
    slots: int

    def at_s(self, slot: Slot) -> float:
        """Give the instant of a slot, in seconds since the epoch."""
        return self.origin_s + slot * self.slot_s


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works: `open` are the spans of slots in which they do, in order and apart."""

    id: str
    open: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """Something that holds so many units at once: a zone, a pump, a scaffold."""

    id: str
    holds: int


@dataclass(frozen=True, slots=True)
class Use:
    """Units of a place that a step takes while it is done."""

    place_id: str
    units: int


@dataclass(frozen=True, slots=True)
class Told:
    """What the crew was told of a step: when it begins, and who does it."""

    start: Slot
    people: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """A piece of work in one go.

    Attributes
    ----------
    work
        Slots that it takes.
    crew
        How many people at once; 0: nobody's time.
    able
        Who may do it, by id.
    uses
        Units of places.
    dust_in, wet_in
        Zones in which it makes dust; in which it leaves something wet.
    dry_id
        The table of `Project.tables` that says when its wet zones are dry, by its end; None: at its end.
    by_launch
        It must be done before the launch.
    earliest
        It does not begin before (parts that are still to come, a helper who is away).
    fixed
        It has begun, or is done: where and by whom.
    told
        What the crew was told last.
    walk_zone
        Where the crew stands while doing it; None: anywhere. Walking is counted between zones.
    group
        Steps of one group are cut from one piece of work: better done by the same people.
    """

    id: str
    work: int
    crew: int = 1
    able: tuple[str, ...] = ()
    uses: tuple[Use, ...] = ()
    dust_in: tuple[str, ...] = ()
    wet_in: tuple[str, ...] = ()
    dry_id: str | None = None
    by_launch: bool = True
    earliest: Slot = 0
    fixed: Told | None = None
    told: Told | None = None
    walk_zone: str | None = None
    group: str | None = None


@dataclass(frozen=True, slots=True)
class Link:
    """That one step comes after another, and how long after; `window_id` names a `Window` of the project."""

    before: str
    after: str
    min_gap: int = 0
    max_gap: int | None = None
    window_id: str | None = None
    missed_work: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """When the step after may start, by the end of the step before: both tables have `slots + 1` entries."""

    ready: Table
    last: Table | None = None


@dataclass(frozen=True, eq=False)
class Project:
    """All that a plan has to reckon with.

    Attributes
    ----------
    launch
        The slot at whose beginning the boat is lifted.
    windows, tables
        By id.
    """

    grid: Grid
    launch: Slot
    steps: tuple[Step, ...]
    links: tuple[Link, ...] = ()
    people: tuple[Person, ...] = ()
    places: tuple[Place, ...] = ()
    windows: Mapping[str, Window] = field(default_factory=dict)
    tables: Mapping[str, Table] = field(default_factory=dict)

    @cached_property
    def step_of(self) -> dict[str, Step]:
        """The steps by id."""
        return {step.id: step for step in self.steps}

    @cached_property
    def person_of(self) -> dict[str, Person]:
        """The people by id."""
        return {person.id: person for person in self.people}


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a step stands in a plan; `missed` are the `before` ids of links whose upper side it breaks."""

    step_id: str
    start: Slot
    end: Slot
    people: tuple[str, ...] = ()
    missed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class Score:
    """How good a plan is, the weightier first; smaller is better.

    Attributes
    ----------
    late
        Slots from the launch to the end of the last step that must be done by then; 0 when in time.
    missed_work
        Slots of extra work for missed windows.
    moved
        Steps that begin at another slot than told, and people in a step who were not told of it (each counts one).
    idle_and_walks
        Slots inside a person's span between their first and last step of it in which they do nothing, plus one for
        each change of zone from step to step inside a span (steps without a zone are passed over).
    uneven
        Slots of work of the busiest person above the mean over all people, rounded down: busiest - total // people.
    """

    late: int
    missed_work: int
    moved: int
    idle_and_walks: int
    uneven: int


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan: every step of the project is placed, in the project's order of steps.

    `late_bound` is a proven lower bound of the lateness where there is one.
    """

    placed: tuple[Placed, ...]
    score: Score
    late_bound: int | None = None


def ends_by(placed: Sequence[Placed]) -> dict[str, Slot]:
    """Give the ends by step id."""
    return {one.step_id: one.end for one in placed}
