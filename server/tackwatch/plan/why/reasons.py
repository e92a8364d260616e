"""Why each step of a plan stands where it stands: what is in its way one slot earlier.

Rules
-----
* What holds a step is found by a try: it is put one slot earlier, all others as they are, with whoever can do it,
  and what is in the way then is the reason. Where only closed hours are in the way, it is put at the last slot
  before at which its people's hours would let it begin; where there is no such slot, the hours are the reason.
* Of several reasons the one that people can do least about is told: what comes before it and has to cure, the part
  that is not there, the place, the people, the window of what hangs on it.
* Where nothing is in the way, it is `now` (nothing begins sooner), `told` (where the crew was told it would), or
  `free`: it could be earlier, and nothing needs it.
* A step that is done or under way has `begun`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from tackwatch.plan.model import Placed, Project, Slot, Step
from tackwatch.plan.why.standing import InTheWay, Obstacle, Standing, hours_allow

Code = Literal[
    "begun", "now", "told", "free", "cure", "after", "part", "zone", "person", "hours", "window"
]
ORDER: Final[tuple[InTheWay, ...]] = (
    "part", "cure", "after", "zone", "person", "window", "gap", "hours"
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Why:
    """Why a step stands where it stands.

    Attributes
    ----------
    tried
        The earlier slot at which it was tried; None where there is none.
    step_id, person_id
        Whose fault it is: the step before, what takes the place, what the person does; the person.
    until
        The slot until which that is in the way. Of a `window`: the slot at which it closes as things stand.
    """

    code: Code
    tried: Slot | None = None
    step_id: str | None = None
    person_id: str | None = None
    until: Slot | None = None


def why_all(project: Project, placed: Sequence[Placed]) -> dict[str, Why]:
    """Give, by step, why it stands where it stands.

    Parameters
    ----------
    project : Project
        What was planned.
    placed : sequence of Placed
        Where each step stands: a plan that keeps all rules.
    """
    standing = Standing(project, placed)
    return {step.id: _why(standing, step) for step in project.steps}


def _why(standing: Standing, step: Step) -> Why:
    one = standing.at[step.id]
    if step.fixed is not None:
        return Why("begun")
    if one.start <= 0:
        return Why("now")
    tried, against = one.start - 1, standing.in_the_way(step.id, one.start - 1)
    if against and all(it.code == "hours" for it in against):
        open_slot = _open_before(standing.project, step, one.start - 1)
        if open_slot is None:
            return Why("hours", tried, until=one.start)
        tried, against = open_slot, standing.in_the_way(step.id, open_slot)
    if not against:
        told = step.told is not None and step.told.start == one.start
        return Why("told" if told else "free", tried)
    return _reason(standing, one, tried, against)


def _reason(standing: Standing, one: Placed, tried: Slot, against: Sequence[Obstacle]) -> Why:
    it = min(against, key=lambda it: (_rank(it.code), -(it.until or 0)))
    if it.code == "window" or it.code == "gap":  # what hangs on it could not follow
        return Why("window", tried, it.step_id, until=_closes(standing, one, it))
    if it.code == "hours" or it.code == "past" or it.code == "horizon":
        return Why("hours", tried, until=one.start)
    return Why(it.code, tried, it.step_id, it.person_id, it.until)


def _closes(standing: Standing, one: Placed, it: Obstacle) -> Slot | None:
    """Give when the window of what hangs on a step closes as the plan stands."""
    closes = [
        standing.closes(link)
        for link in standing.project.links
        if (link.before, link.after) == (one.step_id, it.step_id)
    ]
    return min((slot for slot in closes if slot is not None), default=None)


def _open_before(project: Project, step: Step, slot: Slot) -> Slot | None:
    """Give the last slot before one at which a step could begin by the hours of those who are able."""
    ends = {
        end
        for id_ in step.able
        if id_ in project.person_of
        for _, end in project.person_of[id_].open
    }
    for start in sorted({end - step.work for end in ends}, reverse=True):
        if 0 <= start < slot and hours_allow(project, step, start):
            return start
    return None


def _rank(code: InTheWay) -> int:
    return ORDER.index(code) if code in ORDER else len(ORDER)
