"""Which packs to buy: enough, with as few packs as can be, and of those the least left over.

Theory
------
The fewest packs are ceil(need / largest). Starting from so many of the largest, each may be changed
for a smaller one as long as the rest still suffices; the most that can be taken away so is found by
trying all sums of the differences (a bounded knapsack in whole millilitres).

Rules
-----
* Sizes count in whole millilitres. A pack is never opened in part: packs are rounded up.
* The need may be missed by a billionth, so that rounding does not buy a pack.

Source
------
Common practice, no source; the search is checked against trying everything.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, gcd
from typing import Final

from tackwatch.trade.errors import OutOfRangeError

ML_PER_L: Final = 1000
EDGE: Final = 1e-9
PACKS_MOST: Final = 100_000


@dataclass(frozen=True, slots=True)
class PackCount:
    """So many packs of one size."""

    pack_l: float
    count: int


def packs_for(need_l: float, sizes_l: Sequence[float]) -> tuple[PackCount, ...]:
    """Choose the packs that hold at least `need_l`.

    Parameters
    ----------
    need_l : float
        What is needed.
    sizes_l : sequence of float
        The sizes that are sold, in any order.

    Raises
    ------
    OutOfRangeError
        When a size is less than a millilitre, or the packs would be too many to count.

    Source
    ------
    See the head of the module.
    """
    sizes_ml = sorted({_ml(size, i) for i, size in enumerate(sizes_l)}, reverse=True)
    need_ml = ceil(need_l * ML_PER_L * (1.0 - EDGE))
    count = max(0, -(-need_ml // sizes_ml[0]))
    if count > PACKS_MOST:
        raise OutOfRangeError("pack_sizes_l", "the packs are too small for so much")
    spare_ml = count * sizes_ml[0] - need_ml
    changed = _best_changes([sizes_ml[0] - size for size in sizes_ml[1:]], spare_ml, count)
    counts = (count - sum(changed), *changed)
    return tuple(
        PackCount(size / ML_PER_L, n) for size, n in zip(sizes_ml, counts, strict=True) if n
    )


def _ml(size_l: float, index: int) -> int:
    size_ml = int(size_l * ML_PER_L + 0.5)
    if size_ml < 1:
        raise OutOfRangeError(f"pack_sizes_l[{index}]", "must be at least a millilitre")
    return size_ml


def _best_changes(steps_ml: Sequence[int], spare_ml: int, count: int) -> tuple[int, ...]:
    """Give how many packs to change by each step, so that the most is taken away within the spare."""
    if not steps_ml:
        return ()
    unit = gcd(*steps_ml)
    steps = [step // unit for step in steps_ml]
    fewest: list[int] = [0]
    came_by: list[int] = [-1]
    for total in range(1, spare_ml // unit + 1):
        best, by = count + 1, -1
        for i, step in enumerate(steps):
            if step <= total and fewest[total - step] + 1 < best:
                best, by = fewest[total - step] + 1, i
        fewest.append(best)
        came_by.append(by)
    total = max(i for i, n in enumerate(fewest) if n <= count)
    changed = [0] * len(steps)
    while total:
        changed[came_by[total]] += 1
        total -= steps[came_by[total]]
    return tuple(changed)
