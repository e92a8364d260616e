"""The least that has to move of what was told, at the lateness and the missed work of a plan: proved, or found."""

from dataclasses import dataclass

from tackwatch.plan.engine import keys
from tackwatch.plan.engine.arrays import to_arrays
from tackwatch.plan.engine.hands import Hands
from tackwatch.plan.engine.region import choose
from tackwatch.plan.engine.region.model import Limits, PartModel
from tackwatch.plan.model import Plan, Project


@dataclass(frozen=True)
class Least:
    """The least that was found; `bound` is what moves at least at that lateness and missed work."""

    late: int
    missed_work: int
    moved: int
    bound: int

    @property
    def proved(self) -> bool:
        """Say whether no plan moves less."""
        return self.bound >= self.moved


def least_moved(project: Project, plan: Plan, seconds: float, workers: int) -> Least:
    """Look for the least with one model of the whole project, in which every step may go anywhere."""
    a = to_arrays(project)
    hand = Hands(a, 0, 1).all[0]
    keys.copy(keys.by_plan(a, project, plan, exactly=True), hand.keys)
    hand.draw_up()
    model = PartModel(a, hand.desk, choose.whole(a, hand.desk, a.slots))
    bound = 0
    if model.build():
        found = model.ask(Limits(seconds, 1e9, workers, 1))
        if found is not None:
            bound = found.moved_bound
            hand.take([keys.by_starts(a, found.start, found.crew)])
    _, late, missed_work, moved = hand.cares()
    return Least(late, missed_work, moved, bound)
