"""Which projects take the short way, and what they are then.

Rules
-----
* Nobody's time, no windows, nothing missed, told, fixed, wet or dusty: steps, gaps and places.
* Gaps are from start to start: `start(b) >= start(a) + gap`, where a largest gap is a negative one the other way.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, I32, NONE, Arrays
from tackwatch.plan.engine.compiled.packing import Pack

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Short:
    """A project that takes the short way.

    `work`, `demand` (steps, places), `holds`, `earliest`; gaps `tail`, `head`, `gap`; `must`: by launch.
    """

    work: Ints
    demand: Ints
    holds: Ints
    earliest: Ints
    tail: Ints
    head: Ints
    gap: Ints
    must: NDArray[np.bool_]
    launch: int
    slots: int

    @property
    def orders(self) -> bool:
        """Whether no gap reaches back, so that any order along the gaps gives a schedule."""
        return bool((self.gap >= 0).all()) and not self.earliest.any() and bool(self.must.all())


def short_way(a: Arrays) -> Short | None:
    """Give the project for the short way, if it can take it."""
    s, arcs = a.steps, a.arcs
    people = s["crew"].any() or (s["fixed"] < FAR).any() or (s["told"] < FAR).any()
    wet = (s["opp_to"] > s["opp_at"]).any()
    windows = (
        (arcs["ready"] != NONE).any()
        or (arcs["last"] != NONE).any()
        or (arcs["miss"] != NONE).any()
    )
    if people or wet or windows or not len(s):
        return None
    work = s["work"].astype(np.int64)
    demand = np.zeros((len(s), len(a.holds)), dtype=np.int64)
    for i, step in enumerate(s):
        for place, units in a.lists[step["use_at"] : step["use_to"]].reshape(-1, 2):
            demand[i, place] += units
    before, after = arcs["before"].astype(np.int64), arcs["after"].astype(np.int64)
    bound = arcs["most"] < FAR
    return Short(
        work=work,
        demand=demand,
        holds=a.holds.astype(np.int64),
        earliest=s["earliest"].astype(np.int64),
        tail=np.concatenate([before, after[bound]]),
        head=np.concatenate([after, before[bound]]),
        gap=np.concatenate([work[before] + arcs["least"], -(work[before] + arcs["most"])[bound]]),
        must=s["must"] == 1,
        launch=a.launch,
        slots=a.slots,
    )


def heads(p: Short) -> Ints:
    """Give the earliest starts by gaps alone."""
    start = p.earliest.copy()
    for _ in range(len(p.work) + 1):
        later = start.copy()
        np.maximum.at(later, p.head, start[p.tail] + p.gap)
        if np.array_equal(later, start):
            break
        start = later
    return start


def tails(p: Short) -> Ints:
    """Give, by step, the slots from its start to when all that hangs on it and must be done by launch is done.

    Far below 0 where nothing is.
    """
    tail = np.where(p.must, p.work, -(2**40))
    for _ in range(len(p.work) + 1):
        longer = tail.copy()
        np.maximum.at(longer, p.tail, tail[p.head] + p.gap)
        if np.array_equal(longer, tail):
            break
        tail = longer
    return tail


def least_span(p: Short) -> int:
    """Give a time before which not all can be done.

    It is the longest path, and at each place the work of the steps that cannot begin before, and have to
    wait after, some time.

    Source
    ------
    The second: the energy bound with heads and tails (Carlier and Pinson 1989).
    """
    head, tail = heads(p), tails(p)
    least = max(0, int((head + tail).max(initial=0)))
    rest = np.maximum(tail - p.work, 0)
    for k, holds in enumerate(p.holds):
        energy = p.work * p.demand[:, k] * p.must
        if not energy.any() or holds == 0:
            continue
        for h in np.unique(head[energy > 0]):
            inside = (head >= h) & (energy > 0)
            for r in np.unique(rest[inside])[:40]:
                both = inside & (rest >= r)
                least = max(least, int(h + -(-energy[both].sum() // holds) + r))
    return least


def to_pack(p: Short) -> Pack:
    """Make a project ready to be packed, where all gaps order its steps."""
    n = len(p.work)
    order = np.argsort(heads(p), kind="stable")
    order = _along(p, order)
    ins: list[list[tuple[int, int]]] = [[] for _ in range(n)]
    outs: list[list[tuple[int, int]]] = [[] for _ in range(n)]
    for tail, head, gap in zip(p.tail.tolist(), p.head.tolist(), p.gap.tolist(), strict=True):
        ins[head].append((tail, gap))
        outs[tail].append((head, gap))
    (in_ptr, in_step, in_gap), (out_ptr, out_step, out_gap) = _csr(ins), _csr(outs)
    return Pack(
        work=p.work.astype(np.int32),
        demand=p.demand.astype(np.int32),
        holds=p.holds.astype(np.int32),
        in_ptr=in_ptr,
        in_step=in_step,
        in_gap=in_gap,
        out_ptr=out_ptr,
        out_step=out_step,
        out_gap=out_gap,
        topo=order.astype(np.int32),
        whole=int((p.gap >= p.work[p.tail]).all()),
    )


def _along(p: Short, order: Ints) -> Ints:
    """Sort along the gaps, by `order` where there is a choice."""
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    waits = np.bincount(p.head, minlength=len(order))
    after: dict[int, list[int]] = {}
    for tail, head in zip(p.tail.tolist(), p.head.tolist(), strict=True):
        after.setdefault(tail, []).append(head)
    free = sorted(np.flatnonzero(waits == 0).tolist(), key=lambda i: place[i])
    done: list[int] = []
    while free:
        i = free.pop(0)
        done.append(i)
        for j in after.get(i, ()):
            waits[j] -= 1
            if waits[j] == 0:
                free.append(j)
        free.sort(key=lambda i: place[i])
    return np.array(done, dtype=np.int64)


def _csr(lists: list[list[tuple[int, int]]]) -> tuple[I32, I32, I32]:
    ptr = np.concatenate([[0], np.cumsum([len(one) for one in lists])]).astype(np.int32)
    flat = np.array([x for one in lists for x in one] or [(0, 0)], dtype=np.int32)
    return ptr, flat[:, 0].copy(), flat[:, 1].copy()
