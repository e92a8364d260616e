"""Which packs to buy: enough, with as few packs as can be, and of those the least left over.

Theory
------
The fewest packs are ceil(need / largest). Starting from so many of the largest, each may be changed
for a smaller one as long as the rest still suffices; the most that can be taken away so is found among
all sums of the differences (a bounded knapsack in whole millilitres, all sums at once as the bits of one
number). What is to spare is less than one pack, so that the work is bounded by the largest size that
may be asked for and by the number of packs: some milliseconds at the very most.

Rules
-----
* Sizes count in whole millilitres. A pack is never opened in part: packs are rounded up.
* At most `PACKS_MOST` packs: more are refused, for nobody buys a drum by the tin.
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
PACKS_MOST: Final = 500


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
    """Give how many packs to change by each step, so that the most is taken away within the spare.

    Bit t of `layers[n]` says that t can be taken away by at most n changes: one more change of each
    kind is one shift of the whole number. There are at most `PACKS_MOST` layers, each of as many bits
    as the largest pack has millilitres, which bounds the work whatever the sizes are.
    """
    if not steps_ml:
        return ()
    unit = gcd(*steps_ml)
    steps = [step // unit for step in steps_ml]
    most = spare_ml // unit
    layers = _layers(steps, most, count)
    n, total = len(layers) - 1, layers[-1].bit_length() - 1
    changed = [0] * len(steps)
    while total:
        while n and layers[n - 1] >> total & 1:
            n -= 1
        by = next(i for i, step in enumerate(steps) if _can(layers[n - 1], total - step))
        changed[by] += 1
        total -= steps[by]
    return tuple(changed)


def _layers(steps: Sequence[int], most: int, count: int) -> list[int]:
    """Give what 0, 1, 2 ... changes can take away, up to the first that brings nothing more."""
    within = (1 << (most + 1)) - 1
    layers = [1]
    while len(layers) <= count and not layers[-1] >> most & 1:
        more = layers[-1]
        for step in steps:
            more |= layers[-1] << step
        more &= within
        if more == layers[-1]:
            break
        layers.append(more)
    return layers


def _can(layer: int, total: int) -> bool:
    return total >= 0 and bool(layer >> total & 1)
