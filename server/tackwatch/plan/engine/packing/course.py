"""The course of packing: a population of orders, then a constraint model with the best of them as a hint.

Rules
-----
* Where a gap reaches back, an order gives no schedule for certain: the model comes first.
* Breeding goes on while it is worth it; the model has the rest of the time, and may prove.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import I32
from tackwatch.plan.engine.compiled.packing import Pack, Pool, breed
from tackwatch.plan.engine.errors import InfeasibleError
from tackwatch.plan.engine.packing.model import pack_by_model
from tackwatch.plan.engine.packing.short import Ints, Short, least_span, tails, to_pack

MANY: Final = 50
SHARES: Final = (
    (40, 0.1),
    (80, 0.25),
    (10**9, 0.6),
)  # of the time, for breeding, by the number of steps


class Packing:
    """A packing under way; `start` is the best so far, `least` what it takes at least."""

    def __init__(
        self,
        p: Short,
        start: Ints | None,
        workers: int,
        seed: int,
        rounds: int | None,
        left: Callable[[], float],
        cancelled: Callable[[], bool],
    ) -> None:
        self.p, self.start, self.least = p, start, least_span(p)
        self._workers, self._seed, self._rounds = workers, seed, rounds
        self._left, self._cancelled = left, cancelled
        self._total = left()

    @property
    def span(self) -> int:
        """When all that must be done by launch is done, in the best packing so far."""
        if self.start is None:
            return self.p.slots
        return int((self.start + self.p.work)[self.p.must].max(initial=0))

    def run(self) -> None:
        """Search until the time is over or the best is proved.

        Raises
        ------
        InfeasibleError
            When there is proof that there is none.
        """
        if self.p.orders:
            self._breed()
        if self.span > self.least or self.start is None:
            self._model()

    def _breed(self) -> None:
        pack = to_pack(self.p)
        pools = [self._pool(pack, w) for w in range(self._workers)]
        states = [
            np.array([self._seed * 7919 + w * 104_729 + 977], dtype=np.uint64)
            for w in range(len(pools))
        ]
        share = next(share for most, share in SHARES if len(self.p.work) <= most)
        rounds, stale, children = 0, 0, 200
        with ThreadPoolExecutor(len(pools)) as threads:
            while self.span > self.least and not self._cancelled():
                before, began = self.span, self._left()
                if rounds == self._rounds or began < (1 - share) * self._total:
                    break
                jobs = [
                    threads.submit(breed, pack, pool, state, children, self.least)
                    for pool, state in zip(pools, states, strict=True)
                ]
                for job, pool in zip(jobs, pools, strict=True):
                    job.result()
                    self._offer(pool.best.astype(np.int64))
                _visit(pools)
                rounds += 1
                stale = 0 if self.span < before else stale + 1
                if self._rounds is None:
                    took = max(began - self._left(), 1e-3)
                    children = int(np.clip(children * 0.25 / took, 50, 4 * children))

    def _pool(self, pack: Pack, worker: int) -> Pool:
        """Draw orders by how much hangs on a step, with ever more chance."""
        chance = np.random.default_rng((self._seed, worker))
        n, tail = len(self.p.work), tails(self.p)
        orders = np.zeros((MANY, n), dtype=np.int32)
        for m in range(MANY):
            key = -tail * (1 + (0.1 + m / MANY) * chance.random(n))
            orders[m] = _along(pack, key)
        most = int(self.p.work.sum() + np.maximum(self.p.gap, 0).max(initial=0) + self.p.slots) + 2
        return Pool(
            order=orders,
            span=np.full(MANY, -1, dtype=np.int64),
            early=np.zeros(MANY, dtype=np.int64),
            best=np.zeros(n, dtype=np.int32),
            start=np.zeros(n, dtype=np.int32),
            child=np.zeros(n, dtype=np.int32),
            tally=np.zeros(most, dtype=np.int32),
            taken=np.zeros((most, len(pack.holds)), dtype=np.int32),
        )

    def _offer(self, start: Ints) -> None:
        span = int((start + self.p.work)[self.p.must].max(initial=0))
        if self.start is None or span < self.span:
            self.start = start

    def _model(self) -> None:
        answer = pack_by_model(
            self.p, self.start, self.least, self.span, self._left(), self._workers, self._seed
        )
        if answer.infeasible and self.start is None:
            raise InfeasibleError(proved=True)
        if answer.start is not None:
            self._offer(answer.start)
            self.least = max(self.least, answer.bound)


def _along(pack: Pack, key: NDArray[np.float64]) -> I32:
    """Sort along the arcs, least key first."""
    waits = np.diff(pack.in_ptr).copy()
    free = [int(i) for i in np.flatnonzero(waits == 0)]
    order = []
    while free:
        i = min(free, key=lambda j: key[j])
        free.remove(i)
        order.append(i)
        for j in pack.out_step[pack.out_ptr[i] : pack.out_ptr[i + 1]].tolist():
            waits[j] -= 1
            if waits[j] == 0:
                free.append(j)
    return np.array(order, dtype=np.int32)


def _visit(pools: list[Pool]) -> None:
    """Have the best order of each population visit the next one, in place of its worst."""
    bests = [(int(pool.span.argmin()), pool) for pool in pools]
    for (m, pool), other in zip(bests, pools[1:] + pools[:1], strict=True):
        if other is not pool:
            worst = int(other.span.argmax())
            other.order[worst] = pool.order[m]
            other.span[worst], other.early[worst] = pool.span[m], pool.early[m]
