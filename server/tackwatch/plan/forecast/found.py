"""Work that nobody knows of yet: each finished job reveals more.

Theory
------
A branching process. A job reveals a number of jobs with the mean `r`, each of which reveals more.
Below 1 it dies out: one job becomes 1 / (1 - r) on average. At 1 or more it need not, and above 1 it
goes on for ever with a positive chance: the work does not end by itself. The number is Poisson, or
more uneven: a job's own rate is `r` times a gamma with the mean 1 and the shape `k`.

Rules
-----
* `r` has a gamma prior and `k` is one of a few; both are weighed by the record on a grid. Each sample
  draws its own.
* A job of which a part is done has revealed that part, and reveals the rest later.
* How much labour a found job takes is log-normal. The prior is the refit's own jobs, with the weight
  of `PRIOR_N` found jobs; mean and spread are drawn for each sample (normal-inverse-gamma). None is larger
  than `LABOUR_LIMIT` times the largest that is known.
* A sample in which more than so many jobs are found is endless, and ends `NEVER`.

Source
------
Poisson branching: the total progeny is Borel, with the mean 1 / (1 - r) and the variance
r / (1 - r)^3; the chance that it dies out is the least root of q = exp(r (q - 1)). Textbook matter.
The prior of `r` is our own (common practice, no source): one job in four or five reveals another.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import lgamma
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast.record import FoundWhile

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

PRIOR_SHAPE: Final = 2.0
PRIOR_RATE: Final = 8.0
POISSON: Final = 1e9
SHAPES: Final = (0.7, 1.5, 4.0, POISSON)
RATE_LOW, RATE_HIGH, RATE_N = 0.004, 4.0, 240
PRIOR_N: Final = 3.0
PRIOR_LOG_SD: Final = 0.8
LABOUR_LIMIT: Final = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class RateBelief:
    """The weights of pairs of a rate and a shape; `log_width` is the distance of two rates."""

    r: Floats
    k: Floats
    weight: Floats
    log_width: float
    n: int

    def mean(self) -> float:
        """Give the mean of `r`."""
        return float((self.r * self.weight).sum())

    def quantile(self, p: float) -> float:
        """Give the rate below which it is with the chance `p`."""
        order = np.argsort(self.r, kind="stable")
        reached = np.cumsum(self.weight[order])
        return float(self.r[order][min(int(np.searchsorted(reached, p)), self.r.size - 1)])


@dataclass(frozen=True, slots=True, eq=False)
class Trees:
    """The jobs found in each sample, parents before children, samples one after the other.

    Attributes
    ----------
    start
        Where each sample begins; shape (samples + 1,).
    root
        The number of the planned job from which each stems.
    parent
        The found job that revealed it, counted within the sample; -1: the root did.
    endless
        Samples in which more than the limit were found; none of theirs are listed.
    """

    start: NDArray[np.int64]
    root: Ints
    parent: Ints
    endless: NDArray[np.bool_]


def none(samples: int) -> Trees:
    """Give samples in which nothing is found."""
    nothing, endless = np.zeros(0, dtype=np.int32), np.zeros(samples, dtype=np.bool_)
    return Trees(np.zeros(samples + 1, dtype=np.int64), nothing, nothing, endless)


def joined(parts: Sequence[Trees]) -> Trees:
    """Put samples behind one another."""
    ends = np.cumsum([0, *(int(one.start[-1]) for one in parts)])
    starts = [one.start[1:] + end for one, end in zip(parts, ends[:-1], strict=True)]
    return Trees(
        np.concatenate([ends[:1], *starts]),
        *(
            np.concatenate([getattr(one, name) for one in (none(0), *parts)])
            for name in ("root", "parent", "endless")
        ),
    )


def learn_rate(found: Sequence[FoundWhile], shapes: Sequence[float] = SHAPES) -> RateBelief:
    """Weigh rates and shapes by what was found."""
    log_r = np.linspace(np.log(RATE_LOW), np.log(RATE_HIGH), RATE_N)
    rates, ks = np.meshgrid(np.exp(log_r), np.array(shapes, dtype=np.float64), indexing="ij")
    r, k = rates.ravel(), ks.ravel()
    log_weight = PRIOR_SHAPE * np.log(r) - PRIOR_RATE * r  # in steps of ln(r)
    for one in found:
        log_weight += _log_chance(one, r, k)
    weight = np.exp(log_weight - log_weight.max())
    return RateBelief(r, k, weight / weight.sum(), float(log_r[1] - log_r[0]), len(found))


def _log_chance(one: FoundWhile, r: Floats, k: Floats) -> Floats:
    mean = r * one.share
    chance = np.empty_like(r)
    for shape in np.unique(k):
        at = k == shape
        if shape >= POISSON:
            chance[at] = one.found * np.log(mean[at]) - mean[at]
        else:
            ways = lgamma(one.found + shape) - lgamma(shape)
            chance[at] = ways + shape * np.log(shape / (shape + mean[at]))
            chance[at] += one.found * np.log(mean[at] / (shape + mean[at]))
    return chance


def draw_rate(belief: RateBelief, rng: np.random.Generator, samples: int) -> tuple[Floats, Floats]:
    """Draw a rate and a shape for each sample."""
    which = rng.choice(belief.weight.size, size=samples, p=belief.weight)
    within = np.exp(belief.log_width * (rng.random(samples) - 0.5))
    return belief.r[which] * within, belief.k[which]


def grow(rng: np.random.Generator, r: Floats, k: Floats, share_left: Floats, limit: int) -> Trees:
    """Let the jobs reveal others, generation by generation.

    Parameters
    ----------
    r, k
        The rate and the shape of each sample.
    share_left
        For each planned job, how much of it is still to be done.
    limit
        So many found jobs in one sample are endless.
    """
    samples, jobs = r.size, share_left.size
    counts = rng.poisson(_rates(rng, r[:, None], k[:, None], (samples, jobs)) * share_left)
    sample, root = (at.astype(np.int32) for at in np.nonzero(counts))
    many = counts[sample, root]
    sample, root = np.repeat(sample, many), np.repeat(root, many)
    parent = np.full(sample.size, -1, dtype=np.int32)  # counted over all, for now
    layers = [(sample, root, parent)]
    total = np.bincount(sample, minlength=samples)
    known = sample.size
    while sample.size:
        alive = total[sample] <= limit
        first = known - sample.size
        sample, root, here = sample[alive], root[alive], (first + np.flatnonzero(alive))
        many = rng.poisson(_rates(rng, r[sample], k[sample], sample.shape))
        sample, root = np.repeat(sample, many), np.repeat(root, many)
        parent = np.repeat(here, many).astype(np.int32)
        layers.append((sample, root, parent))
        known += sample.size
        total += np.bincount(sample, minlength=samples)
    return _sorted(layers, total > limit, samples)


def _rates(rng: np.random.Generator, r: Floats, k: Floats, shape: tuple[int, ...]) -> Floats:
    """Give the own rates of jobs: `r` times a gamma with the mean 1, or `r` itself where it is Poisson."""
    if not (k < POISSON).any():
        return np.broadcast_to(r, shape)
    uneven = rng.standard_gamma(np.broadcast_to(np.minimum(k, 1e6), shape))
    return np.asarray(np.where(k < POISSON, r / k * uneven, r))


def _sorted(
    layers: Sequence[tuple[Ints, Ints, Ints]], endless: NDArray[np.bool_], samples: int
) -> Trees:
    sample, root, parent = (np.concatenate(part) for part in zip(*layers, strict=True))
    order = np.argsort(sample, kind="stable")  # generations stay in order
    order = order[~endless[sample[order]]]
    sample, root, parent = sample[order], root[order], parent[order]
    start = np.concatenate(([0], np.cumsum(np.bincount(sample, minlength=samples))))
    place = np.zeros(int(order.max(initial=-1)) + 1, dtype=np.int64)
    place[order] = np.arange(order.size) - start[sample]
    within = np.where(parent < 0, -1, place[np.maximum(parent, 0)] if place.size else -1)
    return Trees(start.astype(np.int64), root, within.astype(np.int32), endless)


def draw_labour(
    rng: np.random.Generator, trees: Trees, known: Sequence[float], found: Sequence[float]
) -> Floats:
    """Draw the labour at which each found job would be reckoned.

    Parameters
    ----------
    known
        Labour of the refit's own jobs: the prior.
    found
        Labour of those that were found so far.

    Returns
    -------
    One value for each found job of `trees`, in the unit that was given.
    """
    prior, seen = np.log(np.array(known or (1.0,))), np.log(np.array(found))
    mean0 = float(prior.mean())
    spread0 = float(prior.std()) if prior.size > 2 else PRIOR_LOG_SD
    n0, a0 = PRIOR_N, 1.0 + PRIOR_N
    b0 = a0 * max(spread0, 0.3) ** 2
    mean1 = float(seen.mean()) if seen.size else mean0
    n = n0 + seen.size
    mean = (n0 * mean0 + seen.size * mean1) / n
    a = a0 + seen.size / 2
    b = b0 + 0.5 * float(((seen - mean1) ** 2).sum())
    b += 0.5 * n0 * seen.size / n * (mean1 - mean0) ** 2
    samples = trees.endless.size
    var = b / rng.standard_gamma(a, samples)
    centre = mean + np.sqrt(var / n) * rng.standard_normal(samples)
    sizes = np.diff(trees.start)
    log = np.repeat(centre, sizes) + np.repeat(np.sqrt(var), sizes) * rng.standard_normal(
        trees.root.size
    )
    most = max(float(np.exp(prior.max())), float(np.exp(seen.max())) if seen.size else 0.0)
    return np.minimum(np.exp(log), LABOUR_LIMIT * most)
