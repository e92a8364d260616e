"""A morning that differs from the plan: two steps take longer, somebody is ill for two days, work uncovers a job.

Rules
-----
* The crew was told of all of a plan.
* The first two steps of a crew are under way and take half as long again.
* One of the crew, not the first, is away for the two days of theirs that come after the first day.
* The found job has five steps in a row (fewer where no job has so many) like those of a job that is there, with its
  cures, and nobody was told of it.
"""

from dataclasses import replace
from random import Random

from tackwatch.plan.model import Link, Person, Plan, Project, Step, Told

DAY = 96
FOUND_STEPS = 5


def changed(project: Project, plan: Plan, seed: int) -> Project:
    """Tell the crew of a plan, and change the morning."""
    chance = Random(f"changed {seed}")
    at = {one.step_id: Told(one.start, one.people) for one in plan.placed}
    steps = {step.id: replace(step, told=at[step.id]) for step in project.steps}
    crewed = [step for step in steps.values() if step.crew and step.work > 2]
    for step in sorted(crewed, key=lambda one: at[one.id].start)[:2]:
        steps[step.id] = replace(step, work=step.work * 3 // 2, fixed=at[step.id])
    found, links = _found(chance, project)
    return replace(
        project,
        steps=(*steps.values(), *found),
        links=(*project.links, *links),
        people=_with_one_ill(chance, project.people),
    )


def _with_one_ill(chance: Random, people: tuple[Person, ...]) -> tuple[Person, ...]:
    ill = people[chance.randrange(1, len(people))]
    days = sorted({begin // DAY for begin, _ in ill.open if begin >= DAY})[:2]
    there = tuple(span for span in ill.open if span[0] // DAY not in days)
    return tuple(Person(one.id, there) if one is ill else one for one in people)


def _found(chance: Random, project: Project) -> tuple[list[Step], list[Link]]:
    jobs: dict[str, list[Step]] = {}
    for step in project.steps:
        jobs.setdefault(step.id.partition(".")[0], []).append(step)
    most = min(FOUND_STEPS, max(len(one) for one in jobs.values()))
    like = chance.choice([one for one in jobs.values() if len(one) >= most])[:most]
    id_of = {step.id: f"found.{i}" for i, step in enumerate(like)}
    steps = [replace(step, id=id_of[step.id], earliest=0, by_launch=True) for step in like]
    links = [
        replace(link, before=id_of[link.before], after=id_of[link.after])
        for link in project.links
        if link.before in id_of and link.after in id_of
    ]
    return steps, links
