"""The course of a search: keys first, then parts made anew by constraint programming, then keys again.

Rules
-----
* Search among keys is quick to a good plan and does not know when it is the best. Constraint
  programming is quick near a good plan, and fails far from one.
* A plan of few steps is made anew as a whole within a day of where it is, then two, four and so on.
  Where nothing of it is out of reach any more, what is proved is proved of the whole project.
* What moved of what was told is put back step by step, and windows that are missed are met, see `compiled.restore`,
  until that betters nothing for a while; where nothing else is left to be better, parts come next: each is quick, and
  moves are far apart.
* A larger plan is made anew in parts, one for each thread at once; what they find is put together
  where it goes together.
* A late plan falls in leaps, by a night or a Sunday, once enough of it has moved: search among keys is guided there,
  and takes turns with the rest. The last part of the time is not guided, for people care about no such ends.
* CP-SAT counts its own work, which comes near seconds of a processor, so that a busy machine changes no choice; with
  counted rounds everything is counted, and nothing is timed.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np

from tackwatch.plan.engine.arrays import FAR, Arrays
from tackwatch.plan.engine.bounds import least_lateness
from tackwatch.plan.engine.hands import Hand, Hands
from tackwatch.plan.engine.region import choose
from tackwatch.plan.engine.region.masks import Part
from tackwatch.plan.engine.region.model import Found, Limits, PartModel

DAY: Final = 96
COUNTED_TRIES: Final = 40
COUNTED_BACKS: Final = 1_000
COUNTED_WORK: Final = 0.3
PART_WORK: Final = 0.12  # most parts are proved in half of that; the others are not worth the wait
STALE: Final = 3
RESERVED: Final = 0.1  # of the time, for what was begun to come to its end
UNGUIDED: Final = 0.1  # of the time
UNGUIDED_TOLD: Final = 0.25  # where something was told, since what moved is put back in it
START_BACKS: Final = 600  # tries from each way to begin
STARTS: Final = 0.25  # of the time
STUCK: Final = 2
BACKS_S: Final = 0.4  # of putting steps back before it is asked whether that bettered anything
GUIDED_S: Final = 0.3  # of search among keys before each time that something is made anew


class Course:
    """A search under way."""

    def __init__(
        self,
        a: Arrays,
        hands: Hands,
        ends_at: float,
        rounds: int | None,
        clock: Callable[[], float],
        cancelled: Callable[[], bool],
        tell: Callable[[], None],
    ) -> None:
        self.a, self.hands, self.rounds = a, hands, rounds
        self._ends_at, self._clock, self._cancelled, self._tell = ends_at, clock, cancelled, tell
        self._begun = clock()
        self._reserved = min(0.3, RESERVED * (ends_at - self._begun))
        self._tries, self._backs, self._size, self._reach = 8, 100, 50, DAY
        self._begun_back = False
        self._proved, self._stale = not (a.steps["fixed"] >= FAR).any(), 0
        late = hands.best.cares()[1] if hands.best.lacking == 0 else None
        self.late_bound = least_lateness(a, late)

    @property
    def _left(self) -> float:
        return self._ends_at - self._clock()

    def _goes_on(self) -> bool:
        return self._left > self._reserved and not self._cancelled()

    def run(self) -> None:
        """Search until the time is over."""
        if self.rounds is not None:
            for n in range(self.rounds):
                if self._goes_on():
                    self.hands.guide(self._is_late() and n + 2 < self.rounds)
                    if n % 2 == 1 and not self._done():
                        self._make_anew()
                        continue
                    self._search()
                    self._begin_to_put_back()
                    self._put_back()
        else:
            self._run_by_clock()
        self.hands.guide(False)

    def _run_by_clock(self) -> None:
        total = self._ends_at - self._begun
        unguided = UNGUIDED_TOLD if (self.a.steps["told"] < FAR).any() else UNGUIDED
        self.hands.guide(self._is_late())
        if not self._only_moved():  # parts are better at that
            self._search_for(min(0.15 * total, 1.0))
        while self._goes_on():
            self.hands.guide(self._is_late() and self._left > unguided * total)
            if self._done():
                self._search_for(min(0.5, self._left))
                continue
            if self.hands.best.guided:
                self._search_for(min(GUIDED_S, self._left))
            else:
                self._put_back_until_stuck()
            if self._goes_on():
                self._make_anew()

    def _is_late(self) -> bool:
        """Say whether the plan may be less late than it is."""
        best = self.hands.best
        return best.lacking == 0 and best.cares()[1] > self.late_bound and not self._proved

    def _done(self) -> bool:
        """Say whether constraint programming has nothing more to find."""
        _, late, missed, moved = self.hands.best.cares()
        best = late <= self.late_bound and missed == 0 and moved == 0
        return self._proved or self.hands.best.lacking > 0 or best

    def _search_for(self, seconds: float) -> None:
        until = self._clock() + seconds
        while self._clock() < until and self._goes_on():
            self._search()

    def _search(self) -> None:
        before, began = self.hands.best.rank(), self._clock()
        self.hands.search(COUNTED_TRIES if self.rounds is not None else self._tries, DAY)
        took = max(self._clock() - began, 1e-3)
        self._tries = int(np.clip(self._tries * 0.15 / took, 1, 4 * self._tries))
        self._note(before)

    def _put_back_until_stuck(self) -> None:
        """Put back what moved and meet what is missed, until that has bettered nothing for a while."""
        self._begin_to_put_back()
        stuck = 0
        while stuck < STUCK and self._is_amiss() and self._goes_on():
            stuck = 0 if self._put_back() else stuck + 1

    def _begin_to_put_back(self) -> None:
        """Try each way to begin, once."""
        if self._begun_back or not self._is_amiss():
            return
        self._begun_back = True
        before, until = self.hands.best.rank(), self._clock() + STARTS * self._left
        tries = START_BACKS if self.rounds is None else COUNTED_BACKS // 10
        self.hands.put_back_from_starts(
            tries,
            DAY,
            lambda: self._goes_on() and (self.rounds is not None or self._clock() < until),
        )
        self._note(before)

    def _is_amiss(self) -> bool:
        """Say whether something moves that was told, or a window is missed."""
        lacking, _, missed, moved = self.hands.best.cares()
        return lacking == 0 and (missed > 0 or moved > 0)

    def _put_back(self) -> bool:
        """Try some times to put back what moved; say whether that bettered anything for people."""
        if not self._is_amiss():
            return False
        before, began = self.hands.best.rank(), self._clock()
        share = min(1.0, (self._left - self._reserved / 2) / BACKS_S)
        tries = max(1, int(self._backs * share))
        self.hands.put_back(COUNTED_BACKS if self.rounds is not None else tries, DAY)
        took = max(self._clock() - began, 1e-3)
        self._backs = int(np.clip(tries * BACKS_S / took, 10, 4 * self._backs))
        self._note(before)
        return self.hands.best.cares() < before[:4]

    def _note(self, before: tuple[int, ...]) -> None:
        if self.hands.best.rank() < before and self.hands.is_news():
            self._tell()

    def _make_anew(self) -> None:
        before = self.hands.best.rank()
        small = int((self.a.steps["fixed"] >= FAR).sum()) <= choose.WHOLE
        if small and (not self._only_moved() or self._stale >= STALE):
            self._whole()
        else:
            self._parts()
        self._stale = 0 if self.hands.best.cares() < before[:4] else self._stale + 1
        self._note(before)

    def _only_moved(self) -> bool:
        """Say whether lateness and misses are as small as can be, so that what moved is all there is to better."""
        _, late, missed, moved = self.hands.best.cares()
        return late <= self.late_bound and missed == 0 and moved > 0

    def _whole(self) -> None:
        hand = self.hands.best
        part = choose.whole(self.a, hand.desk, self._reach)
        workers = 1 if self.rounds is not None else len(self.hands.all)
        found = self._ask(hand, part, workers, 4.0)
        if found is None:
            self._parts()
            return
        all_of_it = self._reach >= self.a.slots
        if all_of_it:
            self.late_bound = max(self.late_bound, found.late_bound)
        better = self.hands.offer(found.start, found.crew)
        if found.proved and all_of_it:
            self._proved = True
        elif found.proved or not better:
            self._reach = min(2 * self._reach, self.a.slots)

    def _parts(self) -> None:
        """Make a part anew in each thread, and put together what was found."""
        best = self.hands.best
        parts = [
            choose.around(
                self.a, best.desk, hand.chance, self._size, int(DAY * hand.chance.choice((1, 2, 3)))
            )
            for hand in self.hands.all
        ]
        began = self._clock()
        with ThreadPoolExecutor(len(parts)) as pool:
            asked = [pool.submit(self._ask, best, part, 1, PART_WORK) for part in parts]
            answers = [one.result() for one in asked]
        found = [one for one in answers if one is not None]
        if self.rounds is None:
            quick = self._clock() - began < 0.6 and all(one.proved for one in found)
            self._size = int(np.clip(self._size * (1.15 if quick else 0.9), 20, 150))
        old_start, old_crew = best.desk.steps["start"].copy(), best.desk.crew.copy()
        start, crew = old_start.copy(), old_crew.copy()
        for one in found:
            changed = (one.start != old_start) | (one.crew != old_crew).any(axis=1)
            start[changed], crew[changed] = one.start[changed], one.crew[changed]
        if len(found) > 1 and self.hands.offer(start, crew):
            return
        for one in found:
            self.hands.offer(one.start, one.crew)

    def _ask(self, hand: Hand, part: Part, workers: int, work: float) -> Found | None:
        model = PartModel(self.a, hand.desk, part)
        if not model.build():
            return None
        seed = int(hand.chance.integers(2**30))
        work = work if self.rounds is None else COUNTED_WORK
        return model.ask(Limits(max(0.05, self._left - self._reserved / 2), work, workers, seed))
