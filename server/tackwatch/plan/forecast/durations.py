"""How long work takes, learned from what it took.

Theory
------
The logarithm of actual over estimate is the sum of three normal parts: one that is common to the
whole refit (this crew's estimates are short), one of the job (it is harder than it looked), and one
of the piece of work. What is independent averages out over a hundred steps; what is common does not,
and without it the late end of a forecast is far too early.

Rules
-----
* The common part has a normal prior, and is integrated out exactly. The spreads of job and piece are
  weighed on a grid of values, each with its prior, by how well they explain the record. A sample draws its
  spreads from the grid and its common part from what is believed given them, so that not knowing
  the parameters widens the forecast as it should.
* What is to come is never quite like what has been: `DRIFT_SD` is added to the common part, however
  long the record is.
* Ratios beyond `RATIO_LIMIT` to either side are taken as that: a clock that was forgotten.
* A piece that is under way has already taken so long: its factor is drawn from those that take longer.

Source
------
The normal model with one random effect for each group is textbook matter. The priors are our own:
work is reckoned short by a sixth, give or take a third (common practice, no source).
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast.record import Took

Floats = NDArray[np.float64]

COMMON_MEAN: Final = 0.15
COMMON_SD: Final = 0.28
DRIFT_SD: Final = 0.10
OWN_MEDIAN: Final = 0.35
JOB_MEDIAN: Final = 0.20
OWN_LOG_SD: Final = 0.40
JOB_LOG_SD: Final = 0.60
RATIO_LIMIT: Final = 8.0
GRID_N: Final = 17
REDRAWS: Final = 12


@dataclass(frozen=True, slots=True, eq=False)
class DurationBelief:
    """What is believed after the record: an entry for each pair of spreads.

    Attributes
    ----------
    own_sd, job_sd
        The spreads.
    weight
        How likely they are; sums to 1.
    mean, sd
        Of the common part, given them; without drift.
    n
        How many pieces of work it was learned from.
    """

    own_sd: Floats
    job_sd: Floats
    weight: Floats
    mean: Floats
    sd: Floats
    n: int


@dataclass(frozen=True, slots=True, eq=False)
class DurationDraw:
    """For each sample its common part and its spreads, as columns."""

    common: Floats
    job_sd: Floats
    own_sd: Floats


def learn(took: Sequence[Took]) -> DurationBelief:
    """Weigh the grid of spreads by the record."""
    own_sd, job_sd, log_weight = _grid()
    n, mean, within = _by_job(took)
    own_var, job_var = own_sd[:, None] ** 2, job_sd[:, None] ** 2
    of_mean = own_var + n * job_var
    precision = 1 / COMMON_SD**2 + (n / of_mean).sum(axis=1)
    pulled = COMMON_MEAN / COMMON_SD**2 + (n * mean / of_mean).sum(axis=1)
    log_weight += -0.5 * (
        ((n - 1) * np.log(own_var) + np.log(of_mean) + within / own_var).sum(axis=1)
        + (n * mean**2 / of_mean).sum(axis=1)
        - pulled**2 / precision
        + np.log(precision)
    )
    weight = np.exp(log_weight - log_weight.max())
    return DurationBelief(
        own_sd,
        job_sd,
        weight / weight.sum(),
        pulled / precision,
        1 / np.sqrt(precision),
        len(took),
    )


def draw(belief: DurationBelief, rng: np.random.Generator, samples: int) -> DurationDraw:
    """Draw parameters for each sample."""
    which = rng.choice(belief.weight.size, size=samples, p=belief.weight)
    sd = np.hypot(belief.sd[which], DRIFT_SD)
    common = belief.mean[which] + sd * rng.standard_normal(samples)
    return DurationDraw(common, belief.job_sd[which], belief.own_sd[which])


def factors(
    drawn: DurationDraw, rng: np.random.Generator, job: NDArray[np.intp], piece: NDArray[np.intp]
) -> NDArray[np.float32]:
    """Draw actual over estimate.

    Parameters
    ----------
    drawn
        The parameters of `samples` samples.
    job, piece
        For each of `steps` steps the number of its job, and of the piece of work from which it is cut.

    Returns
    -------
    Shape (samples, steps).
    """
    samples = drawn.common.size
    of_job = rng.standard_normal((samples, int(job.max(initial=-1)) + 1), dtype=np.float32)
    of_piece = rng.standard_normal((samples, int(piece.max(initial=-1)) + 1), dtype=np.float32)
    of_job *= drawn.job_sd[:, None].astype(np.float32)
    of_job += drawn.common[:, None].astype(np.float32)
    of_piece *= drawn.own_sd[:, None].astype(np.float32)
    if piece.size == of_piece.shape[1] and np.array_equal(piece, np.arange(piece.size)):
        of_piece += of_job[:, job]
        return np.asarray(np.exp(of_piece, out=of_piece))
    return np.asarray(np.exp(of_job[:, job] + of_piece[:, piece]))


def longer_than(
    drawn: DurationDraw, rng: np.random.Generator, ratio: float, given: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Draw those of the factors anew that are not above `ratio`; the rest ends just now.

    Parameters
    ----------
    given
        Factors of one step, one for each sample; they are kept where they are above.
    """
    factor = given.copy()
    sd = np.hypot(drawn.job_sd, drawn.own_sd)
    for _ in range(REDRAWS):
        short = np.flatnonzero(factor <= ratio)
        if short.size == 0:
            break
        factor[short] = np.exp(drawn.common[short] + sd[short] * rng.standard_normal(short.size))
    return np.maximum(factor, np.float32(ratio))


def _grid() -> tuple[Floats, Floats, Floats]:
    z = np.linspace(-2.4, 2.4, GRID_N)
    own, job = np.meshgrid(z, z, indexing="ij")
    log_weight = -0.5 * (own.ravel() ** 2 + job.ravel() ** 2)
    own_sd = OWN_MEDIAN * np.exp(OWN_LOG_SD * own.ravel())
    job_sd = JOB_MEDIAN * np.exp(JOB_LOG_SD * job.ravel())
    return own_sd, job_sd, log_weight


def _by_job(took: Sequence[Took]) -> tuple[Floats, Floats, Floats]:
    """Give, for each job, how many pieces, their mean, and their squares about it."""
    logs: dict[str, list[float]] = defaultdict(list)
    limit = np.log(RATIO_LIMIT)
    for one in took:
        ratio = float(np.log(one.actual / one.estimate))
        logs[one.job_id].append(float(np.clip(ratio, -limit, limit)))
    groups = [np.array(values) for values in logs.values()]
    return (
        np.array([values.size for values in groups], dtype=np.float64),
        np.array([values.mean() for values in groups]),
        np.array([((values - values.mean()) ** 2).sum() for values in groups]),
    )
