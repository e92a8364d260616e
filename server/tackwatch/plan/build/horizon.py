"""How far the grid must reach for there to be room for a plan.

Theory
------
Two things hold a plan up: people have only so many hours, and chains of work and cure go on only one
after the other. The grid reaches past twice the one, a quarter past the other, and past the launch.

Rules
-----
* Each step's work is shared among all who are able; the grid reaches until everybody had twice their share,
  and crews of several twice theirs of the hours in which they are there together.
* A chain takes a day of the clock for each `DAY_OF_WORK` of work, the longest that a cure begun on the
  first day takes, and two days of each week besides.
* `MARGIN` days are added; there are at least `LEAST` days and at most `MOST`.
* Steps that wait for one another in a circle have no plan: `CircleError` names them.

Source
------
Our own.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np

from tackwatch.plan.build.errors import CircleError
from tackwatch.plan.build.grid import DAY_SLOTS, HOUR_SLOTS
from tackwatch.plan.build.parts import Part
from tackwatch.plan.facts import RefitLink
from tackwatch.plan.model import Person, Slot

DAY_OF_WORK: Final = 6 * HOUR_SLOTS
WEEK_SHARE: Final = 1.4
CHAIN_SHARE: Final = 1.25
MARGIN: Final = 14
LEAST: Final = 28
MOST: Final = 400

GapOf = Callable[[RefitLink], Slot]


def horizon(
    parts: Mapping[str, Part],
    links: Sequence[RefitLink],
    people: Mapping[str, Person],
    launch: Slot,
    gap_of: GapOf,
) -> Slot:
    """Give the slots of the grid, in whole days.

    Parameters
    ----------
    parts : mapping of str to Part
        What is to be done, by step.
    links : sequence of RefitLink
        The order.
    people : mapping of str to Person
        With spans as far as `MOST` days.
    launch : int
        The launch's slot.
    gap_of : callable
        Gives the longest gap of a link, in slots.

    Raises
    ------
    CircleError
        When steps wait for one another in a circle.
    """
    chain = WEEK_SHARE * CHAIN_SHARE * _longest_chain(parts, links, gap_of)
    hours = max(_hours_used(parts, people), _crews_used(parts, people))
    needed = max(hours, chain, float(launch))
    days = -int(-needed // DAY_SLOTS) + MARGIN
    return min(max(days, LEAST), MOST) * DAY_SLOTS


def _hours_used(parts: Mapping[str, Part], people: Mapping[str, Person]) -> Slot:
    """Give the slot by which everybody had hours for twice their share of the work."""
    share: dict[str, float] = defaultdict(float)
    for part in parts.values():
        for piece in part.pieces:
            for id_ in piece.able:
                share[id_] += 2.0 * piece.work * piece.crew / len(piece.able)
    return max((_open_until(people[id_], slots) for id_, slots in share.items()), default=0)


def _crews_used(parts: Mapping[str, Part], people: Mapping[str, Person]) -> Slot:
    """Give the slot by which crews of several were there together for twice their work."""
    work: dict[tuple[tuple[str, ...], int], Slot] = defaultdict(int)
    for part in parts.values():
        for piece in part.pieces:
            if 1 < piece.crew <= len(piece.able):
                work[piece.able, piece.crew] += 2 * piece.work
    until = 0
    for (able, crew), slots in work.items():
        there = np.zeros(MOST * DAY_SLOTS + 1, dtype=np.int64)
        for begin, end in (span for id_ in able for span in people[id_].open):
            there[begin] += 1
            there[end] -= 1
        together = np.cumsum(np.cumsum(there) >= crew)
        until = max(until, int(np.searchsorted(together, slots)))
    return until


def _open_until(person: Person, slots: float) -> Slot:
    until = 0
    for begin, until in person.open:
        slots -= until - begin
        if slots <= 0.0:
            break
    return until


def _longest_chain(parts: Mapping[str, Part], links: Sequence[RefitLink], gap_of: GapOf) -> float:
    """Give the slots of the longest chain of work and gaps."""
    into: dict[str, list[RefitLink]] = defaultdict(list)
    after: dict[str, list[str]] = defaultdict(list)
    for link in links:
        if (
            link.after_id in parts
            and link.step_id in parts
            and parts[link.step_id].standing == "ahead"
        ):
            into[link.step_id].append(link)
            after[link.after_id].append(link.step_id)
    waits = {id_: len(into[id_]) for id_ in parts}
    free = [id_ for id_, n in waits.items() if n == 0]
    ends: dict[str, float] = {}
    while free:
        id_ = free.pop()
        begins = max((ends[link.after_id] + gap_of(link) for link in into[id_]), default=0.0)
        ends[id_] = max(begins, float(parts[id_].pieces[0].earliest)) + _takes(parts[id_])
        for next_id in after[id_]:
            waits[next_id] -= 1
            if waits[next_id] == 0:
                free.append(next_id)
    if len(ends) < len(parts):
        raise CircleError(tuple(id_ for id_, n in waits.items() if n))
    return max(ends.values(), default=0.0)


def _takes(part: Part) -> float:
    return sum(
        piece.work * DAY_SLOTS / DAY_OF_WORK if piece.crew else float(piece.work)
        for piece in part.pieces
    )
