"""The engine's door: a project in, the best plan that was found in time out."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import repeat
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine import keys
from tackwatch.plan.engine.arrays import FAR, Arrays, to_arrays
from tackwatch.plan.engine.compiled.decode import Desk, Genes, desk
from tackwatch.plan.engine.compiled.levels import LEVELS
from tackwatch.plan.engine.compiled.search import better
from tackwatch.plan.engine.errors import CannotPlaceError, InfeasibleError
from tackwatch.plan.model import Placed, Plan, Project, Score

DAY_S: Final = 86_400


@dataclass(frozen=True, slots=True)
class Budget:
    """How long to search.

    Attributes
    ----------
    seconds
        At most so long, by the clock that is passed in.
    workers
        Threads.
    seed
        Of chance.
    rounds
        At most so many rounds of search; with a number the outcome hangs on nothing but the project and the
        seed, as long as the seconds do not run out first.
    """

    seconds: float
    workers: int = 2
    seed: int = 0
    rounds: int | None = None


def never() -> bool:
    """Say that nobody has cancelled."""
    return False


@dataclass
class Hand:
    """A plan in hand: its keys, its desk, its levels."""

    keys: Genes
    trial: Genes
    desk: Desk
    levels: NDArray[np.int64]
    chance: NDArray[np.uint64]


def solve(
    project: Project,
    budget: Budget,
    *,
    clock: Callable[[], float],
    cancelled: Callable[[], bool] = never,
    hint: Plan | None = None,
    on_better: Callable[[Plan], None] | None = None,
) -> Plan:
    """Plan a project.

    Parameters
    ----------
    project : Project
        What is to be planned.
    budget : Budget
        How long to search.
    clock : callable
        Seconds that go by.
    cancelled : callable
        Asked now and then; the best plan so far is given when it says so.
    hint : Plan, optional
        A plan to begin with, of this project or one like it; where it keeps all rules, the answer is no worse.
    on_better : callable, optional
        Told of each better plan.

    Raises
    ------
    CannotPlaceError
        When a step has nowhere to go.
    InfeasibleError
        When the gaps contradict one another.
    """
    a = to_arrays(project)
    if not project.steps:
        return Plan((), Score(0, 0, 0, 0, 0), 0)
    ends_at = clock() + budget.seconds
    hands = [_hand(a, budget.seed, w) for w in range(max(1, budget.workers))]
    best = _begin(a, project, hands, hint)
    if on_better and best.levels[0] == 0:
        on_better(to_plan(project, a, best))
    day = max(1, DAY_S // project.grid.slot_s)
    tries, rounds = 8, 0
    with ThreadPoolExecutor(len(hands)) as pool:
        while clock() < ends_at and not cancelled() and rounds != (budget.rounds or -1):
            began = clock()
            before = best.levels.copy()
            list(pool.map(_run, repeat(a), hands, repeat(tries), repeat(day)))
            best = min(hands, key=lambda hand: tuple(hand.levels))
            for hand in hands:
                if tuple(hand.levels) > tuple(best.levels):
                    _take(best, hand)
            if on_better and best.levels[0] == 0 and tuple(best.levels) < tuple(before):
                on_better(to_plan(project, a, best))
            if budget.rounds is None:
                tries = int(np.clip(tries * 0.2 / max(clock() - began, 1e-3), 1, 4 * tries))
            rounds += 1
    if best.levels[0] > 0:
        raise _nowhere(project, a, best)
    return to_plan(project, a, best)


def to_plan(project: Project, a: Arrays, hand: Hand) -> Plan:
    """Read a plan off a desk."""
    d = hand.desk
    _run(a, hand, 0, 1)
    people = [one.id for one in project.people]
    missed: dict[int, list[str]] = {}
    for k in np.flatnonzero(d.missed):
        missed.setdefault(int(a.arcs["after"][k]), []).append(project.steps[a.arcs["before"][k]].id)
    placed = tuple(
        Placed(
            step.id,
            int(d.steps["start"][i]),
            int(d.steps["end"][i]),
            tuple(people[p] for p in d.crew[i] if p >= 0),
            tuple(dict.fromkeys(missed.get(i, ()))),
        )
        for i, step in enumerate(project.steps)
    )
    return Plan(placed, Score(*(int(x) for x in hand.levels[1:6])))


def _hand(a: Arrays, seed: int, worker: int) -> Hand:
    start = np.array([(seed * 1_000_003 + worker * 7919 + 88_172_645) % 2**62 + 1], dtype=np.uint64)
    plain = keys.by_told(a)
    return Hand(plain, keys.by_told(a), desk(a), np.full(LEVELS, FAR, dtype=np.int64), start)


def _begin(a: Arrays, project: Project, hands: list[Hand], hint: Plan | None) -> Hand:
    """Try some ways to begin, and give the best."""
    chance = np.random.default_rng(int(hands[0].chance[0]))
    ways = [keys.by_told(a), keys.by_tail(a, 0.0, chance)]
    ways += [keys.by_tail(a, 0.3, chance) for _ in range(4)]
    if hint is not None:
        ways += [keys.by_plan(a, project, hint, exactly) for exactly in (True, False)]
    tried = []
    for way in ways:
        keys.copy(way, hands[0].keys)
        _run(a, hands[0], 0, 1)
        tried.append((tuple(int(x) for x in hands[0].levels), way))
    tried.sort(key=lambda one: one[0])
    for hand in hands:
        keys.copy(tried[0][1], hand.keys)
        hand.levels[:] = tried[0][0]
    return hands[0]


def _run(a: Arrays, hand: Hand, tries: int, day: int) -> None:
    better(a, hand.desk, hand.keys, hand.trial, hand.levels, hand.chance, tries, day)


def _take(source: Hand, target: Hand) -> None:
    keys.copy(source.keys, target.keys)
    target.levels[:] = source.levels


def _nowhere(project: Project, a: Arrays, hand: Hand) -> Exception:
    """Say why there is no plan: the first step, in the order of steps, that could be placed but has no room."""
    _run(a, hand, 0, 1)
    if hand.desk.failed[1] >= 0:
        return InfeasibleError(proved=False)
    return CannotPlaceError(project.steps[int(hand.desk.failed[0])].id, "horizon")
