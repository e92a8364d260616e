"""An independent checker of plans, and their score, straight from the rules at the head of `model`.

Theory
------
Whoever searches for a plan can be wrong in the same way twice. This module shares no code with the
search: it walks over the finished plan in plain Python and names all that breaks a rule.

Rules
-----
* Each way of breaking a rule has a code; a violation names the step and, where there is one, the
  other: the step before, the person, the place.
* A fixed step breaks nothing but its own place: two fixed steps may overlap, and a link into a
  fixed step is not looked at. A step that is not fixed may not run into a fixed one.
* What a step misses is worked out here, and compared with what the plan says it misses.
* An end outside 0 .. `slots` (a fixed step's) looks up the nearest entry of a table.
* A step of no length overlaps nothing, but the paint of one stays wet.

Source
------
`model`.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Literal

from tackwatch.plan.model import Link, Placed, Plan, Project, Score, Slot, Step, Table

Code = Literal[
    "not_placed",
    "placed_twice",
    "unknown_step",
    "out_of_order",
    "past_horizon",
    "before_earliest",
    "fixed_moved",
    "wrong_length",
    "wrong_missed",
    "wrong_crew",
    "not_able",
    "not_open",
    "person_twice",
    "place_full",
    "dust_on_wet",
    "too_early",
    "too_late",
    "wrong_score",
    "wrong_bound",
]


@dataclass(frozen=True, slots=True, order=True)
class Violation:
    """A rule that a plan breaks: which, at what step, and the other step, person or place."""

    code: Code
    step_id: str = ""
    other_id: str = ""


def check(project: Project, plan: Plan) -> tuple[Violation, ...]:
    """Name all that is wrong with a plan; nothing when it is sound.

    Parameters
    ----------
    project : Project
        What was to be planned.
    plan : Plan
        The plan, with its score.

    Source
    ------
    See the head of the module.
    """
    wrong = tuple(_census(project, plan.placed))
    if wrong:
        return wrong
    at = {one.step_id: one for one in plan.placed}
    broken: dict[str, list[Link]] = defaultdict(list)
    for link in _broken(project, at):
        broken[link.after].append(link)
    found = [
        *(fault for one in plan.placed for fault in _step(project, broken[one.step_id], one)),
        *_people(project, at),
        *_places(project, at),
        *_dust(project, at),
        *(Violation("too_early", link.after, link.before) for link in _too_early(project, at)),
        *_too_late(project, at),
    ]
    right = score(project, plan.placed)
    if plan.score != right:
        found.append(Violation("wrong_score"))
    if plan.late_bound is not None and not 0 <= plan.late_bound <= right.late:
        found.append(Violation("wrong_bound"))
    return tuple(sorted(found))


def score(project: Project, placed: Sequence[Placed]) -> Score:
    """Work out how good a plan is.

    Parameters
    ----------
    project : Project
        What was planned.
    placed : sequence of Placed
        Every step, in any order.

    Source
    ------
    `model.Score`.
    """
    at = {one.step_id: one for one in placed}
    must = [at[step.id].end for step in project.steps if step.by_launch]
    return Score(
        late=max(0, max(must, default=0) - project.launch),
        missed_work=sum(link.missed_work or 0 for link in _broken(project, at)),
        moved=sum(_moved(step, at[step.id]) for step in project.steps),
        idle_and_walks=_idle_and_walks(project, placed),
        uneven=_uneven(project, placed),
    )


def _census(project: Project, placed: Sequence[Placed]) -> Iterator[Violation]:
    ids = [one.step_id for one in placed]
    wanted = [step.id for step in project.steps]
    times = Counter(ids)
    for id_ in wanted:
        if not times[id_]:
            yield Violation("not_placed", id_)
    for id_, n in sorted(times.items()):
        if id_ not in project.step_of:
            yield Violation("unknown_step", id_)
        if n > 1:
            yield Violation("placed_twice", id_)
    if sorted(ids) == sorted(wanted) and ids != wanted:
        yield Violation("out_of_order")


def _step(project: Project, broken: Sequence[Link], one: Placed) -> Iterator[Violation]:
    """Look at a step by itself: its place on the grid, its length, its crew."""
    step = project.step_of[one.step_id]
    if step.fixed is not None:
        if (one.start, set(one.people)) != (step.fixed.start, set(step.fixed.people)):
            yield Violation("fixed_moved", step.id)
        if one.missed:
            yield Violation("wrong_missed", step.id)
        if one.end != one.start + step.work:
            yield Violation("wrong_length", step.id)
        return
    if one.start < 0 or one.end > project.grid.slots:
        yield Violation("past_horizon", step.id)
    if one.start < step.earliest:
        yield Violation("before_earliest", step.id)
    missed = [link for link in broken if link.missed_work is not None]
    if sorted(one.missed) != sorted({link.before for link in missed}):
        yield Violation("wrong_missed", step.id)
    if one.end != one.start + step.work + sum(link.missed_work or 0 for link in missed):
        yield Violation("wrong_length", step.id)
    if len(one.people) != step.crew or len(set(one.people)) != step.crew:
        yield Violation("wrong_crew", step.id)
    for id_ in one.people:
        if id_ not in step.able or id_ not in project.person_of:
            yield Violation("not_able", step.id, id_)
        elif not any(
            begin <= one.start and one.end <= end for begin, end in project.person_of[id_].open
        ):
            yield Violation("not_open", step.id, id_)


def _people(project: Project, at: dict[str, Placed]) -> Iterator[Violation]:
    by_person: dict[str, list[Placed]] = defaultdict(list)
    for one in at.values():
        for id_ in set(one.people):
            by_person[id_].append(one)
    for id_, theirs in by_person.items():
        for left, right in _overlapping(project, theirs):
            yield Violation("person_twice", _later(project, left, right), id_)


def _places(project: Project, at: dict[str, Placed]) -> Iterator[Violation]:
    holds = {place.id: place.holds for place in project.places}
    units: dict[str, list[tuple[Placed, int]]] = defaultdict(list)
    for step in project.steps:
        for use in step.uses:
            units[use.place_id].append((at[step.id], use.units))
    for place_id, uses in units.items():
        for moment in sorted({one.start for one, _ in uses}):
            there = [(one, n) for one, n in uses if one.start <= moment < one.end]
            free = [one for one, _ in there if project.step_of[one.step_id].fixed is None]
            if free and sum(n for _, n in there) > holds[place_id]:
                last = max(free, key=lambda one: (one.start, one.step_id))
                yield Violation("place_full", last.step_id, place_id)


def _dust(project: Project, at: dict[str, Placed]) -> Iterator[Violation]:
    dusts = [step for step in project.steps if step.dust_in]
    wets = [step for step in project.steps if step.wet_in]
    for dusty in dusts:
        for wet in wets:
            if dusty is wet or not set(dusty.dust_in) & set(wet.wet_in):
                continue
            dust, paint = at[dusty.id], at[wet.id]
            dry = paint.end if wet.dry_id is None else _entry(project.tables[wet.dry_id], paint.end)
            both_fixed = dusty.fixed is not None and wet.fixed is not None
            if _overlap((dust.start, dust.end), (paint.start, dry)) and not both_fixed:
                yield Violation("dust_on_wet", dusty.id, wet.id)


def _too_early(project: Project, at: dict[str, Placed]) -> Iterator[Link]:
    for link in project.links:
        if project.step_of[link.after].fixed is not None:
            continue
        before, start = at[link.before], at[link.after].start
        opens = before.end + link.min_gap
        if link.window_id is not None:
            opens = max(opens, _entry(project.windows[link.window_id].ready, before.end))
        if start < opens:
            yield link


def _too_late(project: Project, at: dict[str, Placed]) -> Iterator[Violation]:
    for link in _broken(project, at):
        if link.missed_work is None:
            yield Violation("too_late", link.after, link.before)


def _broken(project: Project, at: dict[str, Placed]) -> list[Link]:
    """Give the links whose upper side the plan breaks."""
    broken = []
    for link in project.links:
        if project.step_of[link.after].fixed is not None:
            continue
        before, start = at[link.before], at[link.after].start
        closes = [] if link.max_gap is None else [before.end + link.max_gap]
        last = None if link.window_id is None else project.windows[link.window_id].last
        if last is not None:
            closes.append(_entry(last, before.end))
        if closes and start > min(closes):
            broken.append(link)
    return broken


def _entry(table: Table, end: Slot) -> Slot:
    return int(table[min(max(end, 0), len(table) - 1)])


def _overlap(left: tuple[Slot, Slot], right: tuple[Slot, Slot]) -> bool:
    return max(left[0], right[0]) < min(left[1], right[1])


def _overlapping(project: Project, ones: Sequence[Placed]) -> Iterator[tuple[Placed, Placed]]:
    for left, right in combinations(ones, 2):
        fixed = [project.step_of[one.step_id].fixed is not None for one in (left, right)]
        if not all(fixed) and _overlap((left.start, left.end), (right.start, right.end)):
            yield left, right


def _later(project: Project, *ones: Placed) -> str:
    """Name the one that is to blame: the later of those that are not fixed."""
    free = [one for one in ones if project.step_of[one.step_id].fixed is None]
    return max(free, key=lambda one: (one.start, one.step_id)).step_id


def _moved(step: Step, one: Placed) -> int:
    if step.told is None:
        return 0
    return (one.start != step.told.start) + len(set(one.people) - set(step.told.people))


def _idle_and_walks(project: Project, placed: Sequence[Placed]) -> int:
    total = 0
    for person in project.people:
        theirs = sorted(
            (one for one in placed if person.id in one.people and one.start < one.end),
            key=lambda one: (one.start, one.end),
        )
        for begin, end in person.open:
            here = [one for one in theirs if _overlap((one.start, one.end), (begin, end))]
            busy = {
                slot for one in here for slot in range(max(one.start, begin), min(one.end, end))
            }
            total += max(busy) + 1 - min(busy) - len(busy) if busy else 0
            zones = [project.step_of[one.step_id].walk_zone for one in here]
            stood = [zone for zone in zones if zone is not None]
            total += sum(left != right for left, right in pairwise(stood))
    return total


def _uneven(project: Project, placed: Sequence[Placed]) -> int:
    loads = {person.id: 0 for person in project.people}
    for one in placed:
        for id_ in one.people:
            if id_ in loads:
                loads[id_] += one.end - one.start
    return max(loads.values()) - sum(loads.values()) // len(loads) if loads else 0
