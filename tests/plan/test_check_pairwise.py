"""The checker's walks along the time are held to looking at every pair and every slot, on plans with many faults."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise
from random import Random

from tackwatch.plan.check import Violation, check, score
from tackwatch.plan.model import Placed, Plan, Project, Slot, Step
from tests.support.random_refits import random_project
from tests.support.simple_plan import simple_plan

Span = tuple[Slot, Slot]
WALKED = ("person_twice", "place_full", "dust_on_wet")


def shuffled(project: Project, chance: Random) -> tuple[Placed, ...]:
    """Give a plan in which some steps were moved about, and some were given other people, or somebody twice."""
    placed = []
    for one in simple_plan(project).placed:
        start, people = one.start, one.people
        if chance.random() < 0.3:
            start = max(0, start + chance.randint(-60, 60))
        if people and chance.random() < 0.2:
            people = tuple(chance.choice(project.people).id for _ in people)
        length = chance.choice((0, 1, one.end - one.start, one.end - one.start))
        placed.append(Placed(one.step_id, start, start + length, people, one.missed))
    return tuple(placed)


def in_one_zone(step: Step) -> Step:
    """Let all dust and all paint of the boat be in one zone, and some of it in another besides."""
    zones = ("hull", *step.dust_in, *step.wet_in)
    return replace(step, dust_in=zones if step.dust_in else (), wet_in=zones if step.wet_in else ())


def overlap(left: Span, right: Span) -> bool:
    return max(left[0], right[0]) < min(left[1], right[1])


def span(one: Placed) -> Span:
    return one.start, one.end


def fixed(project: Project, one: Placed) -> bool:
    return project.step_of[one.step_id].fixed is not None


def last_free(project: Project, *ones: Placed) -> str:
    free = [one for one in ones if not fixed(project, one)]
    return max(free, key=lambda one: (one.start, one.step_id)).step_id


def pairs_of_people(project: Project, placed: tuple[Placed, ...]) -> Iterator[Violation]:
    for left, right in combinations(placed, 2):
        if overlap(span(left), span(right)) and not (
            fixed(project, left) and fixed(project, right)
        ):
            for id_ in {*left.people} & {*right.people}:
                yield Violation("person_twice", last_free(project, left, right), id_)


def moments_of_places(project: Project, placed: tuple[Placed, ...]) -> Iterator[Violation]:
    at = {one.step_id: one for one in placed}
    for place in project.places:
        uses = [
            (at[s.id], u.units) for s in project.steps for u in s.uses if u.place_id == place.id
        ]
        for moment in {one.start for one, _ in uses}:
            there = [(one, n) for one, n in uses if one.start <= moment < one.end]
            free = [one for one, _ in there if not fixed(project, one)]
            if free and sum(n for _, n in there) > place.holds:
                yield Violation("place_full", last_free(project, *free), place.id)


def pairs_of_dust_and_paint(project: Project, placed: tuple[Placed, ...]) -> Iterator[Violation]:
    at = {one.step_id: one for one in placed}
    for dusty in project.steps:
        for wet in project.steps:
            if dusty is wet or not {*dusty.dust_in} & {*wet.wet_in}:
                continue
            dust, paint = at[dusty.id], at[wet.id]
            dry = paint.end
            if wet.dry_id is not None:
                table = project.tables[wet.dry_id]
                dry = int(table[min(max(paint.end, 0), len(table) - 1)])
            both = fixed(project, dust) and fixed(project, paint)
            if overlap(span(dust), (paint.start, dry)) and not both:
                yield Violation("dust_on_wet", dusty.id, wet.id)


def idle_and_walks(project: Project, placed: tuple[Placed, ...]) -> int:
    """Count slot by slot."""
    total = 0
    for person in project.people:
        theirs = [one for one in placed if person.id in one.people and one.start < one.end]
        theirs.sort(key=span)
        for begin, end in person.open:
            here = [one for one in theirs if overlap(span(one), (begin, end))]
            busy = {n for one in here for n in range(max(one.start, begin), min(one.end, end))}
            total += max(busy) + 1 - min(busy) - len(busy) if busy else 0
            zones = [project.step_of[one.step_id].walk_zone for one in here]
            stood = [zone for zone in zones if zone is not None]
            total += sum(left != right for left, right in pairwise(stood))
    return total


def test_every_fault_that_is_found_pair_by_pair_is_found_as_often() -> None:
    seen: Counter[str] = Counter()
    for seed in range(12):
        project = random_project(seed, 60, 4, told=True, under_way=seed % 2 == 1)
        placed = shuffled(project, Random(seed))
        narrow = tuple(replace(place, holds=1) for place in project.places)
        project = replace(project, places=narrow, steps=tuple(map(in_one_zone, project.steps)))
        found = Counter(check(project, Plan(placed, score(project, placed))))
        wanted = Counter(
            (
                *pairs_of_people(project, placed),
                *moments_of_places(project, placed),
                *pairs_of_dust_and_paint(project, placed),
            )
        )
        assert Counter({one: n for one, n in found.items() if one.code in WALKED}) == wanted, seed
        assert score(project, placed).idle_and_walks == idle_and_walks(project, placed)
        seen.update(one.code for one in wanted)
    assert all(seen[code] > 5 for code in WALKED), seen
