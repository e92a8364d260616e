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

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast import columns
from tackwatch.plan.forecast.compiled.play import play as compiled
from tackwatch.plan.forecast.found import Trees
from tackwatch.plan.forecast.net import Net

Ints = NDArray[np.int32]
THREADS: Final = 2
PART: Final = 500


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

    def most(self, piece: int) -> tuple[int, int]:
        """Give the most jobs that are found in one sample, and the most pieces."""
        jobs = np.diff(self.trees.start).max(initial=0)
        upto = np.concatenate(([0], np.cumsum(-(-self.found_work // piece))))
        return int(jobs), int(np.diff(upto[self.trees.start]).max(initial=0))


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """How samples went: when the last thing was done that must be, and what else was asked for.

    Attributes
    ----------
    end
        Shape (chosen samples,); LATER where it does not end in what is looked at.
    on_chain
        Whether each job lay on the chain that decided the end; by sample and job, empty when not asked for.
    labour
        By sample and day; empty when not asked for.
    start
        Where each step began; empty when not asked for.
    missed
        How many windows each step missed; empty when `start` is.
    """

    end: Ints
    on_chain: NDArray[np.bool_]
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
    steps, jobs = net.row.shape[0], net.jobs
    made = Played(
        np.zeros(which.size, dtype=np.int32),
        np.zeros((which.size if criticality else 0, jobs), dtype=np.bool_),
        np.zeros((which.size if labour else 0, net.days), dtype=np.float32),
        np.zeros((which.size if starts else 0, steps), dtype=np.int32),
        np.zeros((which.size if starts else 0, steps), dtype=np.int32),
    )
    trees = draws.trees
    given = (
        *net.arrays(),
        draws.work,
        draws.wet,
        *(trees.start, trees.root, trees.parent, trees.endless),
        draws.found_work,
        np.zeros(jobs, dtype=np.bool_) if dropped is None else dropped,
        np.zeros(steps, dtype=np.int32) if floor is None else floor,
    )

    most, pieces = draws.most(int(net.scale[columns.PIECE]))

    def part(at: slice) -> None:
        compiled(
            *given,
            which[at],
            made.end[at],
            made.on_chain[at],
            made.labour[at],
            made.start[at],
            made.missed[at],
            *_desk(net, most, pieces),
        )

    in_parts(part, which.size, min(PART, max(64, -(-which.size // THREADS))))
    return made


def _desk(net: Net, most: int, pieces: int) -> tuple[Ints, ...]:
    """Give room to work in, since what is compiled takes none itself (`compiled.how`)."""
    steps, people = net.row.shape[0], net.hours.shape[0]
    ways = int(net.scale[columns.WAYS])
    return (
        np.empty((people, steps + pieces + 1, 4), dtype=np.int32),
        np.empty((ways, steps, 4), dtype=np.int32),
        np.empty(people, dtype=np.int32),
        np.empty(people, dtype=np.int32),
        np.empty(people, dtype=np.int32),
        np.empty(ways, dtype=np.int32),
        np.empty(ways, dtype=np.int32),
        np.empty(steps, dtype=np.int32),
        np.empty(net.jobs, dtype=np.int32),
        np.empty(net.jobs, dtype=np.int32),
        np.empty(most, dtype=np.int32),
        np.empty(steps + most, dtype=np.int32),
    )


def in_parts(part: Callable[[slice], None], samples: int, size: int = PART) -> None:
    """Do samples part by part, on two threads."""
    parts = [slice(at, min(at + size, samples)) for at in range(0, samples, size)]
    if len(parts) < 2:
        for one in parts:
            part(one)
        return
    with ThreadPoolExecutor(THREADS) as threads:
        list(threads.map(part, parts))
