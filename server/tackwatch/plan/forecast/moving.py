"""Which jobs to move to after the launch, so that it is made with 90 %.

Rules
-----
* A job may be moved when it may wait until afloat, nothing of it is begun, and the same holds for all
  that comes after it: those go with it. What would be found while doing it goes too.
* The smallest set is the one with the fewest jobs. It is looked for greedily with common random numbers (most
  samples saved for each job, then most time), thinned out, and tried for one less by exchanging two for one.
* Dropping work never makes it later: who drops a job may idle in its place, so a sample ends at the
  earlier of the two. Only samples that are late are dispatched again.
* What was chosen on some samples looks better on these: it is confirmed on fresh ones, and more is
  moved until it holds there. The chance that is told is that of the fresh samples.
* Where nothing is enough, the set that comes nearest is told, with its chance.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.dispatch import Draws, play
from tackwatch.plan.forecast.net import Jobs, Net

Ints = NDArray[np.int32]
Chosen = frozenset[int]
GOAL: Final = 0.9
TRIES: Final = 4
EXCHANGES: Final = 400


@dataclass(eq=False)
class Samples:
    """Samples with the launch, and how they end with sets of jobs dropped; remembers what was asked."""

    net: Net
    draws: Draws
    floor: Ints
    launch: int
    _ends: dict[Chosen, Ints] = field(default_factory=dict)

    def ends(self, dropped: Chosen, above: Chosen = frozenset()) -> Ints:
        """Give the ends with jobs dropped, never later than with `above`, a part of them."""
        if dropped not in self._ends:
            if not dropped:
                self._ends[dropped] = play(self.net, self.draws, floor=self.floor).end
            else:
                self._ends[dropped] = self._again(dropped, self.ends(above))
        return self._ends[dropped]

    def _again(self, dropped: Chosen, before: Ints) -> Ints:
        late = np.flatnonzero(before > self.launch)
        mask = np.zeros(self.net.jobs, dtype=np.bool_)
        mask[list(dropped)] = True
        ends = before.copy()
        if late.size:
            played = play(self.net, self.draws, chosen=late, dropped=mask, floor=self.floor)
            ends[late] = np.minimum(before[late], played.end)
        return ends

    def p(self, dropped: Chosen) -> float:
        """Give the chance of making the launch."""
        return float((self.ends(dropped) <= self.launch).mean())

    def late(self, dropped: Chosen, above: Chosen = frozenset()) -> tuple[float, float]:
        """Give the share of late samples, and how late they are on average."""
        ends = self.ends(dropped, above)
        over = np.maximum(ends.astype(np.float64) - self.launch, 0)
        return float((over > 0).mean()), float(np.minimum(over, LATER // 1024).mean())


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
    chosen = _greedy(samples, units, goal)
    if samples.late(chosen)[0] > 1 - goal + 1e-12:
        return _thinned(samples, units, chosen, 1 - samples.late(chosen)[0])
    return _exchanged(samples, units, _thinned(samples, units, chosen, goal), goal)


def _greedy(samples: Samples, units: dict[int, Chosen], goal: float) -> Chosen:
    chosen: Chosen = frozenset()
    while samples.late(chosen)[0] > 1 - goal + 1e-12:
        share, over = samples.late(chosen)
        best, gain = chosen, (0.0, 0.0)
        for with_it in units.values():
            trial = chosen | with_it
            if trial == chosen:
                continue
            trial_share, trial_over = samples.late(trial, chosen)
            many = len(trial) - len(chosen)
            made = ((share - trial_share) / many, (over - trial_over) / many)
            if made > gain:
                best, gain = trial, made
        if best == chosen:
            break
        chosen = best
    return chosen


def _holds(samples: Samples, trial: Chosen, goal: float) -> bool:
    return samples.late(trial)[0] <= 1 - goal + 1e-12


def _thinned(samples: Samples, units: dict[int, Chosen], chosen: Chosen, goal: float) -> Chosen:
    """Take out again what is not needed, the last in the order of jobs first."""
    for job in sorted(chosen, reverse=True):
        trial = _closed(units, chosen - {job}) if job in chosen else chosen
        if len(trial) < len(chosen) and _holds(samples, trial, goal):
            chosen = trial
    return chosen


def _closed(units: dict[int, Chosen], jobs: Chosen) -> Chosen:
    """Keep only jobs that are there with all that goes with them."""
    return frozenset(one for one in jobs if units[one] <= jobs)


def _exchanged(samples: Samples, units: dict[int, Chosen], chosen: Chosen, goal: float) -> Chosen:
    """Look for a set with fewer jobs: first each single unit, then one for two."""
    tries = 0
    better = True
    while better and len(chosen) > 1:
        better = False
        for trial in _fewer(units, chosen):
            if tries >= EXCHANGES:
                break
            tries += 1
            if _holds(samples, trial, goal):
                chosen, better = trial, True
                break
    return chosen


def _fewer(units: dict[int, Chosen], chosen: Chosen) -> Iterable[Chosen]:
    seen = set()
    size = len(chosen)
    for with_it in units.values():
        for out in combinations(sorted(chosen), 2):
            trial = _closed(units, chosen - set(out)) | with_it
            if len(trial) < size and trial not in seen:
                seen.add(trial)
                yield trial


def confirmed(
    samples: Samples, units: dict[int, Chosen], fresh: Callable[[], Samples]
) -> tuple[Chosen, float]:
    """Find a set, and its chance on samples that did not choose it; more is moved until that holds.

    Parameters
    ----------
    fresh
        Makes samples from another seed.
    """
    judge = fresh()
    goal = GOAL
    for _ in range(TRIES):
        chosen = smallest(samples, units, goal)
        p_launch = judge.p(chosen)
        if p_launch >= GOAL or not _holds(samples, chosen, goal):
            break
        goal = min(0.999, goal + (GOAL - p_launch) + 0.002)
    return chosen, p_launch
