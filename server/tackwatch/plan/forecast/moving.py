"""Which jobs to move to after the launch, so that it is made with 90 %.

Rules
-----
* A job may be moved when it may wait until afloat, nothing of it is begun, and the same holds for all
  that comes after it: those go with it. What would be found while doing it goes too.
* The smallest set is the one with the fewest jobs. It is looked for greedily with common random numbers (most
  samples saved for each job, then most time), thinned out, and tried for one less by exchanging two for one.
* Dropping work never makes it later: who drops a job may idle in its place, so a sample ends at the
  earlier of the two. Only samples that are late are dispatched again.
* What is looked for greedily, and what is put in for two, is tried only on samples in which it lies on the chain
  that decides the end. Whether a set is enough is seen on all.
* What was chosen on some samples looks better on these: it is confirmed on others, and more is
  moved until it holds there. The chance that is told is that of the others.
* Where nothing is enough, the set that comes nearest is told, with its chance.
"""

from collections.abc import Iterable
from itertools import combinations
from typing import Final

from tackwatch.plan.forecast.net import Jobs
from tackwatch.plan.forecast.saved import Chosen, Samples

GOAL: Final = 0.9
TRIES: Final = 4
EXCHANGES: Final = 400


def movable(jobs: Jobs, afloat: Iterable[str]) -> dict[int, Chosen]:
    """Give the jobs that may be moved, each with all that goes with it."""
    free = {n for n, one in enumerate(jobs.ids) if one in set(afloat) and not jobs.begun[n]}
    taken: dict[int, Chosen] = {}
    for job in sorted(free):
        with_it, todo = {job}, [job]
        while todo:
            for after in jobs.after[todo.pop()] - with_it:
                with_it.add(after)
                todo.append(after)
        if with_it <= free:
            taken[job] = frozenset(with_it)
    return taken


def smallest(samples: Samples, units: dict[int, Chosen], goal: float = GOAL) -> Chosen:
    """Find a small set after which the share of samples in time is at least `goal`, or as near as it goes."""
    samples.give_up(frozenset().union(*units.values()))
    reachable = min(goal, samples.p_best)
    chosen = _thinned(samples, units, _greedy(samples, units, reachable), reachable)
    return chosen if reachable < goal else _exchanged(samples, units, chosen, goal)


def _greedy(samples: Samples, units: dict[int, Chosen], goal: float) -> Chosen:
    chosen: Chosen = frozenset()
    went = samples.went(chosen)
    while not samples.enough(went, goal):
        best, gain = None, (0.0, 0.0)
        for with_it in units.values():
            more = with_it - chosen
            if not more:
                continue
            trial = samples.tried(went, chosen, more)
            saved, sooner = samples.gain(went, trial)
            made = (saved / len(more), sooner / len(more))
            if made > gain:
                best, gain = (chosen | more, trial), made
        if best is None:  # nothing on the chains helps by itself
            return frozenset().union(*units.values())
        chosen, went = best
    return chosen


def _thinned(samples: Samples, units: dict[int, Chosen], chosen: Chosen, goal: float) -> Chosen:
    """Take out again what is not needed, the last in the order of jobs first."""
    for job in sorted(chosen, reverse=True):
        trial = _closed(units, chosen - {job}) if job in chosen else chosen
        if len(trial) < len(chosen) and samples.holds(trial, goal):
            chosen = trial
    return chosen


def _closed(units: dict[int, Chosen], jobs: Chosen) -> Chosen:
    """Keep only jobs that are there with all that goes with them."""
    return frozenset(one for one in jobs if units[one] <= jobs)


def _exchanged(samples: Samples, units: dict[int, Chosen], chosen: Chosen, goal: float) -> Chosen:
    """Look for a set with fewer jobs: one for two."""
    tries = 0
    better = True
    while better and len(chosen) > 1:
        better = False
        for trial in _fewer(samples, units, chosen, goal):
            if tries >= EXCHANGES:
                break
            tries += 1
            if samples.holds(trial, goal):
                chosen, better = trial, True
                break
    return chosen


def _fewer(
    samples: Samples, units: dict[int, Chosen], chosen: Chosen, goal: float
) -> Iterable[Chosen]:
    """Give sets in which one stands for two; each of the two alone must be made good by it first."""
    seen = set()
    without = {job: _closed(units, chosen - {job}) for job in sorted(chosen)}
    for with_it in units.values():
        good = [job for job, rest in without.items() if samples.may_hold(rest, with_it, goal)]
        for out in combinations(good, 2):
            trial = _closed(units, chosen - set(out)) | with_it
            if len(trial) < len(chosen) and trial not in seen:
                seen.add(trial)
                yield trial


def confirmed(samples: Samples, units: dict[int, Chosen], judge: Samples) -> tuple[Chosen, float]:
    """Find a set, and its chance on samples that did not choose it; more is moved until that holds."""
    goal = GOAL
    for _ in range(TRIES):
        chosen = smallest(samples, units, goal)
        p_launch = judge.p(chosen)
        if p_launch >= GOAL or not samples.holds(chosen, goal):
            break
        goal = min(0.999, goal + (GOAL - p_launch) + 0.002)
    return chosen, p_launch
