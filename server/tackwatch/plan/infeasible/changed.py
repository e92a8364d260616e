"""The project as it would be if something were changed: more people, days, hours, a part sooner, a job left out."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from tackwatch.plan.build.grid import HOUR_SLOTS
from tackwatch.plan.build.hours import open_spans
from tackwatch.plan.build.project import Built
from tackwatch.plan.facts import WEEKDAYS, Facts, Member
from tackwatch.plan.model import Link, Person, Project, Slot, Span, Step, Window

NEW: Final = "+"
MOST_OF_A_DAY: Final = timedelta(hours=16)


def yard_days(built: Built) -> dict[date, Span]:
    """Give, by local day, the longest hours that anybody works on it."""
    days: dict[date, Span] = {}
    for person in built.project.people:
        for begin, end in person.open:
            on = local_day(built, begin)
            if on not in days or end - begin > days[on][1] - days[on][0]:
                days[on] = (begin, end)
    return dict(sorted(days.items()))


def local_day(built: Built, slot: Slot) -> date:
    """Give the day of the refit's zone on which a slot begins."""
    return built.clock.at(slot).astimezone(ZoneInfo(built.facts.time_zone)).date()


def with_person(built: Built, skills: frozenset[str], spans: Iterable[Span], n: int = 1) -> Project:
    """Give the project with so many more people who have these skills, at these hours."""
    project = built.project
    asked = {id_: part.step.skills for part in built.parts.values() for id_ in part.ids}
    ids = tuple(f"{NEW}{len(project.people)}.{i}" for i in range(n))
    steps = tuple(
        replace(step, able=(*step.able, *ids))
        if step.crew and step.fixed is None and asked[step.id] <= skills
        else step
        for step in project.steps
    )
    more = tuple(Person(id_, tuple(spans)) for id_ in ids)
    return replace(project, steps=steps, people=(*project.people, *more))


def with_free_day(built: Built, on: date) -> Project:
    """Give the project with everybody who is not away working on a day on which nobody does."""
    project, zone = built.project, ZoneInfo(built.facts.time_zone)
    begin = built.clock.up(datetime.combine(on, time(0), zone))
    end = built.clock.up(datetime.combine(on + timedelta(days=1), time(0), zone))
    members = {one.id: replace(one, work_days=WEEKDAYS) for one in built.facts.members}

    def spans(person: Person) -> Iterable[Span]:
        member: Member | None = members.get(person.id)
        if member is None:
            return ()
        all_days = open_spans(member, built.facts.closed, zone, built.clock, project.grid.slots)
        return (span for span in all_days if begin <= span[0] < end)

    people = (replace(one, open=merged([*one.open, *spans(one)])) for one in project.people)
    return replace(project, people=tuple(people))


def with_longer_days(project: Project, hours: int) -> Project:
    """Give the project with everybody working so many hours longer each day."""
    more, slots = hours * HOUR_SLOTS, project.grid.slots
    people = (
        replace(one, open=merged([(begin, min(end + more, slots)) for begin, end in one.open]))
        for one in project.people
    )
    return replace(project, people=tuple(people))


def longer_days(facts: Facts, hours: int) -> Facts:
    """Give the refit with everybody working so many hours longer each day, up to `MOST_OF_A_DAY`."""
    more = timedelta(hours=hours)

    def member(one: Member) -> Member:
        begin, end = (datetime.combine(date.min, at) for at in (one.day_starts, one.day_ends))
        end += timedelta(days=1) if end <= begin else timedelta(0)
        longest = max(end, begin + MOST_OF_A_DAY)
        return replace(one, day_ends=min(end + more, longest).time())

    return replace(facts, members=tuple(member(one) for one in facts.members))


def without_waiting(project: Project, step_ids: frozenset[str]) -> Project:
    """Give the project with the parts for some steps there now."""
    return _each_step(project, lambda one: replace(one, earliest=0) if one.id in step_ids else one)


def without_steps(project: Project, step_ids: frozenset[str]) -> Project:
    """Give the project without some steps."""
    links = (one for one in project.links if not {one.before, one.after} & step_ids)
    steps = (one for one in project.steps if one.id not in step_ids)
    return replace(project, steps=tuple(steps), links=tuple(links))


def without_cures(built: Built) -> Project:
    """Give the project as if all that is laid cured at once."""
    project = built.project
    now = np.arange(project.grid.slots + 1, dtype=np.int64)
    laid = {part.laid_id for part in built.parts.values()} - {None}
    windows = {
        id_: Window(np.minimum(one.ready, now), one.last) for id_, one in project.windows.items()
    }

    def link(one: Link) -> Link:
        return replace(one, min_gap=min(one.min_gap, 0)) if one.before in laid else one

    tables = dict.fromkeys(project.tables, now)
    links = tuple(link(one) for one in project.links)
    return replace(project, windows=windows, tables=tables, links=links)


def without_crowding(project: Project) -> Project:
    """Give the project as if there were room for everybody everywhere, and dust did no harm."""
    places = tuple(replace(one, holds=1000 + one.holds) for one in project.places)
    free = _each_step(project, lambda one: replace(one, dust_in=(), wet_in=()))
    return replace(free, places=places)


def with_everybody_twice(project: Project) -> Project:
    """Give the project as if there were two of everybody."""
    twins = tuple(Person(f"{NEW}{one.id}", one.open) for one in project.people)

    def step(one: Step) -> Step:
        return replace(one, able=(*one.able, *(f"{NEW}{id_}" for id_ in one.able)))

    return replace(_each_step(project, step), people=(*project.people, *twins))


def merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Give spans in order and apart."""
    found: list[Span] = []
    for begin, end in sorted(spans):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((begin, end))
    return tuple(found)


def _each_step(project: Project, change: Callable[[Step], Step]) -> Project:
    return replace(project, steps=tuple(one if one.fixed else change(one) for one in project.steps))
