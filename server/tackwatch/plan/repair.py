"""Two quick plans near what the crew was told: one keeps its times, the other its order.

Theory
------
When a morning differs from the plan, a plan from nothing changes everybody's day. Serial schedule generation by
keys that come from what was told takes milliseconds and changes little. The two repairs often differ: the one
keeps promises and may cost the launch, the other saves the launch and moves everything behind the delay. Which
is better is for people to say.

Rules
-----
* `keep_times`: each step that was told begins at its slot with its people where the rules of `model` allow; what
  cannot is placed around it, and so is what nobody was told of. What has lost its slot takes none that
  another could keep. Since placing takes nothing away again, no step could be put back afterwards where it was told
  to be, all others as they are.
* `keep_order`: steps are placed in the order in which they were told to begin, each as soon as it may; what cannot
  begin in its turn holds up nobody else.
* A window that is missed thereby costs its work, as everywhere.
* None where nobody was told anything, or where a step has no room in that way.

Source
------
Kolisch 1996 for serial schedule generation; the two repairs are right-shift and resequencing of the rescheduling
literature (Vieira, Herrmann, Lin 2003), with calendars and cures; from memory.
"""

from collections.abc import Callable, Iterable
from typing import Final

from tackwatch.plan.engine import keys
from tackwatch.plan.engine.arrays import Arrays, to_arrays
from tackwatch.plan.engine.compiled.desk import Genes
from tackwatch.plan.engine.hands import Hand, Hands, read_plan
from tackwatch.plan.model import Plan, Project, Step, Told
from tackwatch.plan.why.standing import Standing

LATER: Final = 1e6
ROUNDS: Final = 8


def keep_times(project: Project) -> Plan | None:
    """Keep each time that was told, as far as that is possible.

    Parameters
    ----------
    project : Project
        With what was told by step.

    Raises
    ------
    CannotPlaceError, InfeasibleError
        When no plan can be made at all, as `solve` says.
    """
    return _repaired(project, _by_rounds)


def keep_order(project: Project) -> Plan | None:
    """Keep the order that was told, each step as early as it may in it.

    Parameters
    ----------
    project : Project
        With what was told by step.

    Raises
    ------
    CannotPlaceError, InfeasibleError
        When no plan can be made at all, as `solve` says.
    """
    return _repaired(project, _in_order)


def _repaired(project: Project, find: Callable[[Project, Arrays, Hand], Genes]) -> Plan | None:
    """Give the plan of the keys that are found; None where nobody was told anything, or a step has no room."""
    if not any(step.told is not None and step.fixed is None for step in project.steps):
        return None
    a = to_arrays(project)
    hand = Hands(a, 0, 1).all[0]
    _drawn(hand, find(project, a, hand))
    return None if hand.lacking else read_plan(project, a, hand)


def _in_order(_: Project, a: Arrays, hand: Hand) -> Genes:
    ways = []
    for hold in (2, 0):  # a coat is held back for its window, or is not: whatever is late less
        way = keys.by_told(a)
        way.steps["aim"], way.steps["chain"], way.steps["hold"] = -1, 0, hold
        ways.append(way)
    return min(ways, key=lambda way: _drawn(hand, way).rank())


def _drawn(hand: Hand, way: Genes) -> Hand:
    keys.copy(way, hand.keys)
    hand.draw_up()
    return hand


def _by_rounds(project: Project, a: Arrays, hand: Hand) -> Genes:
    """Place what can keep its slot first, and what lost it after that; give the keys that move least."""
    tried: list[tuple[tuple[int, ...], Genes]] = []
    as_told = keys.by_told(a)
    for chain in (0, 1):
        way = keys.copied(as_told)
        way.steps["chain"] = chain
        lost: set[str] = set()
        for _ in range(ROUNDS):
            tried.append((_moved_first(_drawn(hand, way)), keys.copied(way)))
            more = set() if hand.lacking else _lost(project, read_plan(project, a, hand), lost)
            if not more:
                break
            lost |= more
            way.steps["prio"] += [LATER * (step.id in more) for step in project.steps]
    return min(tried, key=lambda one: one[0])[1]


def _lost(project: Project, plan: Plan, before: set[str]) -> set[str]:
    """Give the steps that lost their slot to something else than to one that lost its slot, but for those before."""
    standing = Standing(project, plan.placed)
    told = _told_of(project.steps)
    moved = {step.id for step, one in told if standing.at[step.id].start != one.start}
    lost = set()
    for step, one in told:
        if step.id in moved and step.id not in before:
            against = standing.in_the_way(step.id, one.start)
            taken = all(
                it.code in ("zone", "person", "window", "gap") and it.step_id in moved
                for it in against
            )
            lost |= set() if taken else {step.id}
    return lost


def _moved_first(hand: Hand) -> tuple[int, ...]:
    lacking, late, missed, moved, *rest = hand.rank()
    return (lacking, moved, late, missed, *rest)


def _told_of(steps: Iterable[Step]) -> list[tuple[Step, Told]]:
    told = [(step, step.told) for step in steps if step.told is not None and step.fixed is None]
    return sorted(told, key=lambda pair: pair[1].start)
