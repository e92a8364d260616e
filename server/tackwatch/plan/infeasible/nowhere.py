"""What it would take that a step which has nowhere to go has room.

Rules
-----
* Nobody who is able: as many more people with its skills, on all days on which anybody works. A day too short for it:
  days that are as much longer.
* Where another step lacks room then, that is told as well; the last answer says when all would be done.
"""

from typing import Final

from tackwatch.plan.build.project import Built
from tackwatch.plan.engine.errors import CannotPlaceError
from tackwatch.plan.infeasible import changed
from tackwatch.plan.infeasible.answers import Answer, Param
from tackwatch.plan.infeasible.quick import done_at, quick_plan
from tackwatch.plan.model import Project, Slot
from tackwatch.plan.why.standing import hours_allow

MOST_LACKING: Final = 6
MOST_HOURS: Final = 8


def nowhere(built: Built, error: CannotPlaceError) -> tuple[Answer, ...]:
    """Say what it would take that a step which has nowhere to go has room, one after the other where there are more.

    Parameters
    ----------
    built : Built
        What was to be planned.
    error : CannotPlaceError
        What the engine said.
    """
    found: list[Answer] = []
    now = built
    done: Slot | None = None
    for _ in range(MOST_LACKING):
        answer, project = _room_for(now, error)
        found.append(answer)
        if project is None:
            break
        now = _with(now, project)
        try:
            plan = quick_plan(project)
            done = None if plan is None else done_at(project, plan.placed)
            break
        except CannotPlaceError as other:
            error = other
    last = found[-1]
    return (*found[:-1], Answer(last.code, last.step_ids, last.params, done))


def _room_for(built: Built, error: CannotPlaceError) -> tuple[Answer, Project | None]:
    project = built.project
    step = project.step_of[error.step_id]
    part = next((one for one in built.parts.values() if step.id in one.ids), None)
    ids = () if part is None else (part.step.id,)
    skills = frozenset() if part is None else part.step.skills
    if error.code == "people":
        params: dict[str, Param] = {"n": step.crew - len(step.able)}
        if len(skills) == 1:
            params["skill_id"] = next(iter(skills))
        days = changed.yard_days(built).values()
        n = step.crew - len(step.able)
        more = changed.with_person(built, skills, days, n) if days else None
        return Answer("skill", ids, params), more
    if error.code == "hours":
        for hours in range(1, MOST_HOURS + 1):
            longer = changed.with_longer_days(project, hours)
            begins = {begin for one in longer.people for begin, _ in one.open}
            if any(hours_allow(longer, step, begin) for begin in begins):
                return Answer("hours", ids, {"hours": hours}), longer
        return Answer("hours", ids), None
    return Answer("zone" if error.code == "place" else "chain", ids), None


def _with(built: Built, project: Project) -> Built:
    return Built(built.facts, project, built.clock, built.parts, built.notes)
