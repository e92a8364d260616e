"""What a plan changes of what the crew was told, and for whom.

Rules
-----
* A change is a step whose start, end or people are others than those that it was told, or one that nobody was told
  of. They come in the order of the days: by the new start.
* `moved` counts as `Score.moved` does, over the pieces of the step: a piece that begins at another slot, and each of
  its people who was not told of it, count one each. So the sum over all changes is the score's figure.
* It is told for whoever was told before, and whoever does it now.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from tackwatch.plan.build.instants import PlannedStep, planned_steps
from tackwatch.plan.build.project import Built
from tackwatch.plan.facts import RefitStep
from tackwatch.plan.model import Placed


@dataclass(frozen=True, slots=True)
class Change:
    """A step that is planned otherwise than it was told.

    Attributes
    ----------
    start_before, end_before
        None: nobody was told of it.
    people_before, people_after
        By id, in order.
    moved
        What it adds to `Score.moved`; 0 where only its end is another, or nobody was told.
    """

    step_id: str
    start_before: datetime | None
    start_after: datetime
    end_before: datetime | None
    end_after: datetime
    people_before: tuple[str, ...]
    people_after: tuple[str, ...]
    moved: int

    @property
    def for_whom(self) -> tuple[str, ...]:
        """Whose day it changes, by id."""
        return tuple(sorted({*self.people_before, *self.people_after}))


def changes(built: Built, placed: Sequence[Placed]) -> tuple[Change, ...]:
    """Give what a plan changes.

    Parameters
    ----------
    built : Built
        What the plan was made from.
    placed : sequence of Placed
        Where the steps of its project stand.
    """
    moved = moved_by_step(built, placed)
    steps = {step.id: step for step in built.facts.steps}
    found = []
    for one in planned_steps(built, placed):
        change = _change(steps[one.step_id], one, moved.get(one.step_id, 0))
        if change is not None:
            found.append(change)
    return tuple(sorted(found, key=lambda one: (one.start_after, one.end_after, one.step_id)))


def moved_by_step(built: Built, placed: Sequence[Placed]) -> dict[str, int]:
    """Give, by step of the refit, what it adds to `Score.moved`."""
    step_of = {id_: part.step.id for part in built.parts.values() for id_ in part.ids}
    moved: dict[str, int] = {}
    for one in placed:
        told = built.project.step_of[one.step_id].told
        if told is not None:
            id_ = step_of.get(one.step_id, one.step_id)
            n = (one.start != told.start) + len(set(one.people) - set(told.people))
            moved[id_] = moved.get(id_, 0) + n
    return moved


def _change(step: RefitStep, one: PlannedStep, moved: int) -> Change | None:
    told = step.told
    start, end = (told[0].start_at, told[-1].end_at) if told else (None, None)
    before, after = set(step.assignees), set(one.member_ids)
    if (start, end, before) == (one.start_at, one.end_at, after) and not moved:
        return None
    return Change(
        step.id,
        start,
        one.start_at,
        end,
        one.end_at,
        tuple(sorted(before)),
        one.member_ids,
        moved,
    )
