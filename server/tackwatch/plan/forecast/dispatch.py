"""Plays a plan on with durations that are drawn: who does what when, in each sample.

Theory
------
List scheduling. Steps are taken in the order of the plan and put where they can first be begun, with
what was put before them left where it is; a wait is filled with a later step that fits into it. With
every factor 1 this is the plan moved as early as it goes: no step begins later than planned.

Rules
-----
* Nobody knows beforehand how long a step takes: it is begun where the estimate fits into what is left
  of the day, and whatever is over goes on in the next open hours. What is cut from longer work may be
  begun in any open hour.
* The people are those of the plan. A step for one that is late is taken over by somebody else who is
  able, if they are free half a day sooner.
* A step is held back for at most two days when the window after it would otherwise close outside the
  hours of those who come next. A window that is missed costs its work, drawn longer or shorter as the step is.
* Found jobs come after what is planned, in the order in which they are revealed: by anybody who is
  able for the job that revealed them, one at a time, in pieces, in the gaps that are left.
* What decides a start is the last thing that moved it: a link, a person, a place, a zone.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast import columns, kernel
from tackwatch.plan.forecast.found import Trees
from tackwatch.plan.forecast.net import Net

Ints = NDArray[np.int32]
THREADS: Final = 2


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """What is drawn for each sample.

    Attributes
    ----------
    work
        Slots that each step takes, or still takes when it is under way; shape (samples, steps).
    wet
        Days on which nothing is done outdoors; shape (samples, days).
    found_work
        Slots that each found job of `trees` takes.
    """

    work: Ints
    wet: NDArray[np.bool_]
    trees: Trees
    found_work: Ints

    def most_pieces(self, piece: int) -> int:
        """Give the most pieces of found work in one sample."""
        upto = np.concatenate(([0], np.cumsum(-(-self.found_work // piece))))
        return int(np.diff(upto[self.trees.start]).max(initial=0))


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """How samples went: when the last thing was done that must be, and what else was asked for.

    Attributes
    ----------
    end
        Shape (chosen samples,); LATER where it does not end in what is looked at.
    critical
        In how many of them each job lay on the chain.
    labour
        By sample and day; empty when not asked for.
    start
        Where each step began; empty when not asked for.
    missed
        How many windows each step missed; empty when `start` is.
    """

    end: Ints
    critical: NDArray[np.int64]
    labour: NDArray[np.float32]
    start: Ints
    missed: Ints


def play(
    net: Net,
    draws: Draws,
    *,
    chosen: NDArray[np.intp] | None = None,
    dropped: NDArray[np.bool_] | None = None,
    floor: Ints | None = None,
    criticality: bool = False,
    labour: bool = False,
    starts: bool = False,
) -> Played:
    """Dispatch samples, on two threads.

    Parameters
    ----------
    chosen
        Which samples; all without.
    dropped
        Jobs that are not done, by number.
    floor
        Slots before which steps are not begun.
    criticality, labour, starts
        What to keep beside the ends.
    """
    which = np.arange(draws.work.shape[0]) if chosen is None else chosen
    steps, days, jobs = net.row.shape[0], net.days, net.jobs
    no_drop = np.zeros(jobs, dtype=np.bool_)
    no_floor = np.zeros(steps, dtype=np.int32)
    room = steps + draws.most_pieces(int(net.scale[columns.PIECE]))

    compiled: Any = kernel.play

    def part(of: NDArray[np.intp]) -> Played:
        made = Played(
            np.zeros(of.size, dtype=np.int32),
            np.zeros(jobs, dtype=np.int64),
            np.zeros((of.size if labour else 0, days), dtype=np.float32),
            np.zeros((of.size if starts else 0, steps), dtype=np.int32),
            np.zeros((of.size if starts else 0, steps), dtype=np.int32),
        )
        compiled(
            *net.arrays(),
            draws.work,
            draws.wet,
            draws.trees.start,
            draws.trees.root,
            draws.trees.parent,
            draws.trees.endless,
            draws.found_work,
            of,
            no_drop if dropped is None else dropped,
            no_floor if floor is None else floor,
            room,
            criticality,
            made.end,
            made.critical,
            made.labour,
            made.start,
            made.missed,
        )
        return made

    return _joined(_in_parts(part, which))


def _in_parts(part: Any, which: NDArray[np.intp]) -> Sequence[Played]:
    if which.size < 64:
        return [part(which)]
    with ThreadPoolExecutor(THREADS) as threads:
        return list(threads.map(part, np.array_split(which, THREADS)))


def _joined(parts: Sequence[Played]) -> Played:
    return Played(
        np.concatenate([one.end for one in parts]),
        np.sum([one.critical for one in parts], axis=0),
        np.concatenate([one.labour for one in parts]),
        np.concatenate([one.start for one in parts]),
        np.concatenate([one.missed for one in parts]),
    )
