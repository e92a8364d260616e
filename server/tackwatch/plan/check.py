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
* What lies over what is found by one walk along the time with what is still there in hand, so that a sound plan is
  looked through in hardly more than its length, however many steps it has.

Source
------
`model`.
"""

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
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
    all_broken = _broken(project, at)
    broken: dict[str, list[Link]] = defaultdict(list)
    for link in all_broken:
        broken[link.after].append(link)
    begins = {person.id: [begin for begin, _ in person.open] for person in project.people}
    found = [
        *(fault for one in plan.placed for fault in _step(project, broken[one.step_id], one)),
        *(fault for one in plan.placed for fault in _crew(project, begins, one)),
        *_people(project, at),
        *_places(project, at),
        *_dust(project, at),
        *(Violation("too_early", link.after, link.before) for link in _too_early(project, at)),
        *(
            Violation("too_late", link.after, link.before)
            for link in all_broken
            if link.missed_work is None
        ),
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
    """Look at a step by itself: its place on the grid, its length."""
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


def _crew(
    project: Project, begins: Mapping[str, Sequence[Slot]], one: Placed
) -> Iterator[Violation]:
    """Look at the people of a step that is not fixed: how many, able, and there."""
    step = project.step_of[one.step_id]
    if step.fixed is not None:
        return
    if len(one.people) != step.crew or len(set(one.people)) != step.crew:
        yield Violation("wrong_crew", step.id)
    for id_ in one.people:
        if id_ not in step.able or id_ not in project.person_of:
            yield Violation("not_able", step.id, id_)
            continue
        n = bisect_right(begins[id_], one.start) - 1  # the last of the spans that may have begun
        if n < 0 or one.end > project.person_of[id_].open[n][1]:
            yield Violation("not_open", step.id, id_)


def _people(project: Project, at: Mapping[str, Placed]) -> Iterator[Violation]:
    for id_, theirs in _by_person(at.values()).items():
        there: list[Placed] = []
        for one in theirs:
            there = [other for other in there if other.end > one.start]
            for other in there:
                if not (_is_fixed(project, one) and _is_fixed(project, other)):
                    yield Violation("person_twice", _later(project, other, one), id_)
            there.append(one)


def _by_person(placed: Iterable[Placed]) -> dict[str, list[Placed]]:
    """Give what each person does that takes any time, in the order in which it begins."""
    theirs: dict[str, list[Placed]] = defaultdict(list)
    for one in sorted(placed, key=lambda one: (one.start, one.end)):
        if one.start < one.end:
            for id_ in set(one.people):
                theirs[id_].append(one)
    return theirs


def _places(project: Project, at: Mapping[str, Placed]) -> Iterator[Violation]:
    holds = {place.id: place.holds for place in project.places}
    uses: dict[str, list[tuple[Placed, int]]] = defaultdict(list)
    for step in project.steps:
        for use in step.uses:
            uses[use.place_id].append((at[step.id], use.units))
    for place_id, each in uses.items():
        there: list[tuple[Placed, int]] = []
        for moment, more in _by_start(each):
            there = [(one, n) for one, n in (*there, *more) if moment < one.end]
            free = [one for one, _ in there if not _is_fixed(project, one)]
            if free and sum(n for _, n in there) > holds[place_id]:
                last = max(free, key=lambda one: (one.start, one.step_id))
                yield Violation("place_full", last.step_id, place_id)


def _by_start(
    uses: Iterable[tuple[Placed, int]],
) -> list[tuple[Slot, list[tuple[Placed, int]]]]:
    begins: dict[Slot, list[tuple[Placed, int]]] = defaultdict(list)
    for one, n in uses:
        begins[one.start].append((one, n))
    return sorted(begins.items(), key=lambda pair: pair[0])


def _dust(project: Project, at: Mapping[str, Placed]) -> Iterator[Violation]:
    spans: dict[str, list[tuple[Slot, Slot, bool, str]]] = defaultdict(list)
    for step in project.steps:
        one = at[step.id]
        for zone in step.dust_in:
            spans[zone].append((one.start, one.end, True, step.id))
        for zone in step.wet_in:
            dry = one.end
            if step.dry_id is not None:
                dry = _entry(project.tables[step.dry_id], one.end)
            spans[zone].append((one.start, dry, False, step.id))
    pairs = {pair for each in spans.values() for pair in _dust_on_wet(each)}
    for dusty, wet in pairs:
        if not (_is_fixed(project, at[dusty]) and _is_fixed(project, at[wet])):
            yield Violation("dust_on_wet", dusty, wet)


def _dust_on_wet(spans: Iterable[tuple[Slot, Slot, bool, str]]) -> Iterator[tuple[str, str]]:
    """Give the steps that make dust in a zone while what another one laid there is wet."""
    there: list[tuple[Slot, bool, str]] = []
    for start, end, makes_dust, id_ in sorted(spans):
        if start >= end:
            continue
        there = [one for one in there if one[0] > start]
        for _, other_makes_dust, other in there:
            if makes_dust != other_makes_dust and id_ != other:
                yield (id_, other) if makes_dust else (other, id_)
        there.append((end, makes_dust, id_))


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


def _is_fixed(project: Project, one: Placed) -> bool:
    return project.step_of[one.step_id].fixed is not None


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
    by_person = _by_person(placed)
    for person in project.people:
        todo, there = by_person.get(person.id, []), list[Placed]()
        k = 0
        for begin, end in person.open:
            while k < len(todo) and todo[k].start < end:
                there.append(todo[k])
                k += 1
            there = [one for one in there if one.end > begin]
            total += _idle(there, begin, end)
            zones = [project.step_of[one.step_id].walk_zone for one in there]
            stood = [zone for zone in zones if zone is not None]
            total += sum(left != right for left, right in pairwise(stood))
    return total


def _idle(there: Sequence[Placed], begin: Slot, end: Slot) -> int:
    """Give the slots of a span between the first and the last of some work in which none of it is done."""
    idle, until = 0, None
    for one in there:  # in the order in which they begin
        idle += 0 if until is None else max(0, one.start - until)
        until = min(end, one.end if until is None else max(until, one.end))
    return idle


def _uneven(project: Project, placed: Sequence[Placed]) -> int:
    loads = {person.id: 0 for person in project.people}
    for one in placed:
        for id_ in one.people:
            if id_ in loads:
                loads[id_] += one.end - one.start
    return max(loads.values()) - sum(loads.values()) // len(loads) if loads else 0
