"""Samples that are asked which of them are in time when jobs are dropped; they remember what was asked.

Rules
-----
* A sample ends no later than with fewer jobs dropped. So what a part of a set saves, the set saves, and what
  is late with every job dropped that may be is late with any.
* Whether a set is enough is seen from the samples that were late most often first, and only until it is sure.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.dispatch import Draws, Played, play
from tackwatch.plan.forecast.net import Net

Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]
Chosen = frozenset[int]
AT_ONCE: Final = 128
TINY: Final = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Went:
    """How samples went: their ends, and which jobs lie on the chain of each; shape (samples, jobs)."""

    end: Ints
    on_chain: Bools


class Samples:
    """Samples with the launch.

    Parameters
    ----------
    start
        How they go with nothing dropped, where that is known.
    """

    def __init__(
        self, net: Net, draws: Draws, floor: Ints, launch: int, start: Played | None = None
    ) -> None:
        self.net, self.draws, self.floor, self.launch = net, draws, floor, launch
        first = start or play(net, draws, floor=floor, criticality=True)
        self._known: dict[Chosen, Went] = {frozenset(): Went(first.end, first.on_chain)}
        self._often = (first.end > launch).astype(np.int32)
        self._lost = np.zeros(first.end.size, dtype=np.bool_)

    @property
    def p_best(self) -> float:
        """The chance with all dropped that was given up."""
        return 1.0 - float(self._lost.mean())

    def give_up(self, all_: Chosen) -> None:
        """Look at no sample any more that is late with all of these dropped."""
        self._lost = self.went(all_).end > self.launch

    def went(self, dropped: Chosen) -> Went:
        """Give how samples go with jobs dropped."""
        if dropped not in self._known:
            before = self._at_best(dropped)
            late = np.flatnonzero((before.end > self.launch) & ~self._lost)
            self._known[dropped] = self._again(before, dropped, late)
            self._often += self._known[dropped].end > self.launch
        return self._known[dropped]

    def tried(self, before: Went, chosen: Chosen, more: Chosen) -> Went:
        """Give how samples go with more jobs dropped, dispatching only those on whose chain they lie."""
        late = (before.end > self.launch) & ~self._lost
        met = before.on_chain[:, sorted(more)].any(axis=1)
        return self._again(before, chosen | more, np.flatnonzero(late & met))

    def _at_best(self, dropped: Chosen) -> Went:
        """Give the best of what is known with a part of the jobs dropped."""
        best = self._known[frozenset()]
        for part, went in self._known.items():
            if part and part < dropped:
                sooner = went.end < best.end
                best = Went(
                    np.where(sooner, went.end, best.end),
                    np.where(sooner[:, None], went.on_chain, best.on_chain),
                )
        return best

    def _again(self, before: Went, dropped: Chosen, which: NDArray[np.intp]) -> Went:
        if not which.size:
            return before
        played = self._played(dropped, which, chains=True)
        sooner = played.end < before.end[which]
        end, on_chain = before.end.copy(), before.on_chain.copy()
        end[which[sooner]] = played.end[sooner]
        on_chain[which[sooner]] = played.on_chain[sooner]
        return Went(end, on_chain)

    def _played(self, dropped: Chosen, which: NDArray[np.intp], *, chains: bool = False) -> Played:
        mask = np.zeros(self.net.jobs, dtype=np.bool_)
        mask[list(dropped)] = True
        return play(
            self.net,
            self.draws,
            chosen=which,
            dropped=mask,
            floor=self.floor,
            criticality=chains,
        )

    def ends(self, dropped: Chosen) -> Ints:
        """Give the ends with jobs dropped."""
        return self.went(dropped).end

    def p(self, dropped: Chosen) -> float:
        """Give the chance of making the launch."""
        return float((self.ends(dropped) <= self.launch).mean())

    def enough(self, went: Went, goal: float) -> bool:
        """Say whether the share of samples in time is at least `goal`."""
        return int((went.end > self.launch).sum()) <= self._may_be_late(goal)

    def gain(self, before: Went, after: Went) -> tuple[float, float]:
        """Give the share of samples that are saved, and how much sooner they end on average."""
        over = [np.clip(one.end - self.launch, 0, LATER // 1024) for one in (before, after)]
        saved = (over[0] > 0) & (over[1] == 0)
        return float(saved.mean()), float((over[0] - over[1]).mean())

    def holds(self, dropped: Chosen, goal: float) -> bool:
        """Say whether a set is enough; dispatches no more than it takes to know."""
        if dropped in self._known:
            return self.enough(self._known[dropped], goal)
        open_ = (self._at_best(dropped).end > self.launch) & ~self._lost
        most, late = self._may_be_late(goal), int(self._lost.sum())
        which = np.flatnonzero(open_)
        which = which[np.argsort(-self._often[which], kind="stable")]
        while which.size:
            if late > most or late + which.size <= most:
                break
            now, which = which[:AT_ONCE], which[AT_ONCE:]
            still = self._played(dropped, now).end > self.launch
            self._often[now] += still
            late += int(still.sum())
        return late + which.size <= most

    def may_hold(self, dropped: Chosen, more: Chosen, goal: float) -> bool:
        """Say whether a set with more jobs may be enough, by the chains on which they lie."""
        went = self.went(dropped)
        out = (went.end > self.launch) & ~went.on_chain[:, sorted(more)].any(axis=1)
        return int((out | self._lost).sum()) <= self._may_be_late(goal)

    def _may_be_late(self, goal: float) -> int:
        """Give how many samples may be late."""
        return int((1 - goal) * self._lost.size + TINY)
