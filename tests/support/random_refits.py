"""Random refits as projects, by seed: chains of the trade, people with hours, cures as warm as the day.

Rules
-----
* Slot 0 is a Monday at eight in the morning, a slot is a quarter of an hour, and no clock is changed.
* Every chain goes sand, clean, coats and so on in the order of the trade; jobs have zones, some have a
  twin on the other side with the same steps.
* A window's tables are sums of a rate that doubles each ten degrees over a warm day and a cold night, so
  that the same coat has another window at noon than at midnight.
* There is always a plan: every step has somebody able whose day is long enough, and every upper side of a
  window may be missed at the cost of work. A wait's closing is far off.
* What was told comes from a quick plan that heeds links and people, and neither places nor dust.
"""

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace
from random import Random

import numpy as np

from tackwatch.plan.model import (
    NEVER,
    Grid,
    Link,
    Person,
    Place,
    Project,
    Span,
    Step,
    Table,
    Told,
    Use,
    Window,
)

SLOT_S = 900
DAY = 96
PEOPLE_OF = {140: 4, 400: 6, 1000: 11}
SKILLS = ("paint", "glass", "wood", "wire")
OF_KIND = {
    "coat": "paint", "laminate": "glass", "fillet": "glass", "fair": "glass", "fit": "wood", "bed": "wood",
    "wire": "wire",
}  # fmt: skip
DUSTY = ("grind", "sand", "open_up")
WET = ("coat", "laminate", "fillet", "fair", "bed")
# Hours at 20 degC: touch dry, opens, closes (from memory, typical of the classes).
CURES = {
    "primer": (4.0, 5.0, 168.0),
    "topcoat": (3.0, 8.0, 24.0),
    "antifouling": (2.0, 6.0, 300.0),
    "resin": (6.0, 4.0, 14.0),
    "putty": (6.0, 10.0, 36.0),
    "sealant": (3.0, 12.0, 400.0),
}
CHAINS = (
    ("survey", "sand", "clean", "coat:primer", "coat:primer", "sand", "clean", "coat:topcoat", "coat:topcoat"),
    ("grind", "clean", "laminate:resin", "laminate:resin", "laminate:resin", "fair:putty", "sand", "coat:primer"),
    ("open_up", "dry_out", "grind", "laminate:resin", "laminate:resin", "sand", "coat:primer", "fit"),
    ("sand", "mask", "coat:antifouling", "coat:antifouling", "wait"),
    ("survey", "wire", "wire", "inspect"),
    ("open_up", "clean", "bed:sealant", "fit", "inspect"),
    ("fit", "inspect"),
    ("fillet:putty", "sand", "coat:primer", "coat:topcoat"),
)  # fmt: skip


@dataclass(frozen=True)
class Cure:
    """The cumulated rate at the slots, and what can be asked of it."""

    dose: Table

    def after(self, ends: Table, hours: float, careful: int) -> Table:
        """Give the slots at which so many warm hours have gone by since each end."""
        wanted = self.dose[np.minimum(ends, len(self.dose) - 1)] + hours * 4.0
        at = np.searchsorted(self.dose, wanted) + careful
        return np.where(at >= len(self.dose), NEVER, at).astype(np.int64)


def random_project(
    seed: int,
    steps_n: int = 140,
    people_n: int | None = None,
    *,
    told: bool = False,
    under_way: bool = False,
    launch_share: float = 1.0,
) -> Project:
    """Make a refit of so many steps.

    `launch_share` sets the launch: 1 is about when people would be through who never had to wait.
    `told` has people told of a quick plan; `under_way` has some steps done and some begun.
    """
    chance = Random(f"refit {seed}")
    people_n = people_n or PEOPLE_OF.get(steps_n, max(3, steps_n // 90))
    zones = tuple(f"zone{i}" for i in range(max(3, steps_n // 12)))
    steps, links = _jobs(chance, steps_n, zones)
    crew = _crew(chance, people_n)
    steps = [_with_people(chance, step, crew) for step in steps]
    days = _days(steps, people_n)
    slots = days * 2 * DAY
    people = tuple(_open(chance, *one, days=days * 2) for one in crew)
    cure = _cure(chance, slots)
    project = Project(
        grid=Grid(1_772_438_400.0, SLOT_S, slots),
        launch=round(days * launch_share * 0.8) * DAY + 8,
        steps=tuple(_trimmed(step, people) for step in steps),
        links=tuple(links),
        people=people,
        places=(*(Place(zone, chance.choice((2, 2, 3, 4))) for zone in zones), Place("pump", 1)),
        windows=dict(_windows(cure, slots)),
        tables={
            kind: cure.after(np.arange(slots + 1), dry, 1) for kind, (dry, _, _) in CURES.items()
        },
    )
    if under_way:
        project = _begun(chance, project)
    return _told(project) if told else project


def _jobs(chance: Random, steps_n: int, zones: tuple[str, ...]) -> tuple[list[Step], list[Link]]:
    steps: list[Step] = []
    links: list[Link] = []
    job = 0
    while len(steps) < steps_n:
        chain = chance.choice(CHAINS)
        works = [_work(chance, kind.partition(":")[0]) for kind in chain]
        for _ in range(chance.choice((1, 1, 2))):  # a twin has the same steps in another zone
            zone = chance.choice(zones)
            begin = len(steps)
            for i, (kind, work) in enumerate(zip(chain, works, strict=True)):
                if len(steps) == steps_n:
                    break
                steps.append(_step(chance, f"job{job}.{i}", kind, work, zone))
                if len(steps) - 1 > begin:
                    links.append(_link(chance, steps[-2], steps[-1], chain[i - 1], kind))
            if begin and len(steps) > begin and chance.random() < 0.25:
                before = chance.choice(steps[:begin])
                links.append(Link(before.id, steps[begin].id))
            job += 1
    return steps, links


def _work(chance: Random, kind: str) -> int:
    if kind in ("dry_out", "wait"):
        return chance.randint(1, 5) * DAY
    low, high = {"coat": (4, 14), "laminate": (6, 16), "grind": (4, 20), "sand": (4, 20)}.get(
        kind, (2, 16)
    )
    return chance.randint(low, high)


def _step(chance: Random, id_: str, kind: str, work: int, zone: str) -> Step:
    verb, _, product = kind.partition(":")
    waits = verb in ("dry_out", "wait")
    crew = 0 if waits else chance.choice((1, 1, 1, 2))
    uses = () if waits else (Use(zone, crew),)
    if verb == "laminate" and chance.random() < 0.3:
        uses = (*uses, Use("pump", 1))
    return Step(
        id=id_,
        work=work,
        crew=crew,
        able=() if waits else (OF_KIND.get(verb, "any"),),  # a skill until the crew is known
        uses=uses,
        dust_in=(zone,) if verb in DUSTY else (),
        wet_in=(zone,) if verb in WET else (),
        dry_id=product or None,
        by_launch=verb not in ("wire", "fit") or chance.random() < 0.6,
        earliest=chance.randint(1, 8) * DAY if chance.random() < 0.05 else 0,
        walk_zone=None if waits else zone,
    )


def _link(chance: Random, before: Step, after: Step, kind: str, next_kind: str) -> Link:
    product = kind.partition(":")[2]
    if not product:
        return Link(before.id, after.id)
    verb = next_kind.partition(":")[0]
    if verb in ("sand", "grind", "wait", "fit", "inspect"):
        return Link(before.id, after.id, window_id=f"{product} hard")
    return Link(before.id, after.id, window_id=product, missed_work=chance.randint(1, 3))


def _windows(cure: Cure, slots: int) -> Iterator[tuple[str, Window]]:
    ends = np.arange(slots + 1)
    for name, (_, opens, closes) in CURES.items():
        last = np.maximum(cure.after(ends, closes, -1), ends)
        yield name, Window(ready=cure.after(ends, opens, 1), last=last)
        yield f"{name} hard", Window(ready=cure.after(ends, 2.0 * opens, 1))


def _cure(chance: Random, slots: int) -> Cure:
    """Sum a rate that doubles each 10 degC over days of its own mean, past the horizon."""
    ends = np.arange(slots + 60 * DAY)
    mean_c = 14.0 + 4.0 * np.sin(ends / DAY / 9.0 + chance.random() * 6.0)
    swing_k = 3.0 + 4.0 * chance.random()
    temp_c = mean_c + swing_k * np.cos(2.0 * np.pi * (ends / DAY + (8.0 - 15.0) / 24.0))
    rate = 2.0 ** ((temp_c - 20.0) / 10.0)
    return Cure(np.concatenate(([0.0], np.cumsum(rate))))


def _crew(chance: Random, people_n: int) -> list[tuple[str, frozenset[str], tuple[int, int], bool]]:
    """Give each person's id, skills, hours (slots of the day) and whether they work on Saturdays."""
    crew = []
    for i in range(people_n):
        skills = {"any", SKILLS[i % len(SKILLS)], SKILLS[(i + 1) % len(SKILLS)]}
        skills |= {chance.choice(SKILLS)}
        hours = (32, 68) if i < 3 else chance.choice(((32, 68), (36, 60), (28, 64), (40, 72)))
        crew.append((f"person{i}", frozenset(skills), hours, chance.random() < 0.3))
    return crew


def _with_people(chance: Random, step: Step, crew: list) -> Step:
    if not step.crew:
        return step
    skill = step.able[0]
    able = tuple(
        id_ for id_, skills, hours, _ in crew if skill in skills and hours[1] - hours[0] >= 24
    )
    if len(able) < step.crew:
        able = tuple(id_ for id_, _, hours, _ in crew if hours[1] - hours[0] >= 24)
    return replace(step, able=able)


def _days(steps: list[Step], people_n: int) -> int:
    """Give how many days the crew needs at least, weekends with, and room to wait for cures."""
    work = sum(step.work * step.crew for step in steps)
    return 14 + round(work / people_n / 30.0 * 7.0 / 5.0)


def _open(
    chance: Random,
    id_: str,
    _: frozenset[str],
    hours: tuple[int, int],
    saturdays: bool,
    *,
    days: int,
) -> Person:
    away = range(0)
    if chance.random() < 0.5:
        first = chance.randint(2, max(3, days // 3))
        away = range(first, first + chance.randint(1, 6))
    spans: list[Span] = []
    for day in range(days):
        if day % 7 == 6 or (day % 7 == 5 and not saturdays) or day in away:
            continue
        begin, end = (day * DAY + slot - 32 for slot in hours)
        spans.append((max(0, begin), end))
    return Person(id_, tuple(span for span in spans if span[1] > span[0]))


def _trimmed(step: Step, people: tuple[Person, ...]) -> Step:
    """Cut a step to what its people can do in a day, the extra work of two missed windows with it."""
    if not step.crew:
        return step
    longest = sorted(
        (max(end - begin for begin, end in one.open) for one in people if one.id in step.able),
        reverse=True,
    )
    return replace(step, work=min(step.work, min(longest[: step.crew]) - 6))


def _begun(chance: Random, project: Project) -> Project:
    """Have some chains begun: their first steps done, and a few under way by people who are there."""
    first = {step.id for step in project.steps} - {link.after for link in project.links}
    free = [one.id for one in project.people if one.open[0][0] == 0]
    steps = []
    for step in project.steps:
        begun = step
        if step.id in first and step.crew and chance.random() < 0.4:
            hands = [id_ for id_ in free if id_ in step.able][: step.crew]
            if len(hands) == step.crew and chance.random() < 0.4:
                free = [id_ for id_ in free if id_ not in hands]
                begun = replace(step, work=max(1, step.work // 2), fixed=Told(0, tuple(hands)))
            elif not step.wet_in:
                begun = replace(step, work=0, crew=0, able=(), uses=(), fixed=Told(0, ()))
        steps.append(begun)
    return replace(project, steps=tuple(steps))


def _told(project: Project) -> Project:
    """Tell people of a quick plan: what may begin first is taken first, as soon as its people allow."""
    free = {one.id: 0 for one in project.people}
    ends: dict[str, int] = {}
    told: dict[str, Told] = {}
    into: dict[str, list[Link]] = {step.id: [] for step in project.steps}
    after: dict[str, list[str]] = {step.id: [] for step in project.steps}
    for link in project.links:
        into[link.after].append(link)
        after[link.before].append(link.after)
    heap = [
        (step.earliest, i, step.id) for i, step in enumerate(project.steps) if not into[step.id]
    ]
    heapq.heapify(heap)
    while heap:
        ready, _, id_ = heapq.heappop(heap)
        step = project.step_of[id_]
        told[id_] = step.fixed or Told(*_soonest(project, step, ready, free))
        ends[id_] = min(told[id_].start + step.work, project.grid.slots)
        for person in told[id_].people:
            free[person] = max(free[person], ends[id_])
        for next_id in after[id_]:
            if all(link.before in ends for link in into[next_id]):
                opens = [_opens(project, link, ends) for link in into[next_id]]
                earliest = project.step_of[next_id].earliest
                heapq.heappush(heap, (max([earliest, *opens]), len(ends), next_id))
    steps = (step if step.fixed else replace(step, told=told[step.id]) for step in project.steps)
    return replace(project, steps=tuple(steps))


def _opens(project: Project, link: Link, ends: dict[str, int]) -> int:
    end = ends[link.before]
    if link.window_id is None:
        return end
    return max(end, min(int(project.windows[link.window_id].ready[end]), project.grid.slots))


def _soonest(
    project: Project, step: Step, ready: int, free: dict[str, int]
) -> tuple[int, tuple[str, ...]]:
    start = ready
    while step.crew and start < project.grid.slots - step.work:
        here = [
            id_
            for id_ in step.able
            if free[id_] <= start and _is_open(project.person_of[id_], start, start + step.work)
        ]
        if len(here) >= step.crew:
            return start, tuple(here[: step.crew])
        start += 1
    return start, ()


def _is_open(person: Person, start: int, end: int) -> bool:
    return any(begin <= start and end <= close for begin, close in person.open)
