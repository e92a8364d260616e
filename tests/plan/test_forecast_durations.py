"""What is learned from estimates and actuals."""

import numpy as np
import pytest

from tackwatch.plan.forecast import durations
from tackwatch.plan.forecast.record import Took


def record_of(jobs: int, each: int, common: float, job_sd: float, own_sd: float) -> list[Took]:
    rng = np.random.default_rng(11)
    took = []
    for job in range(jobs):
        part = job_sd * rng.standard_normal()
        for _ in range(each):
            log = common + part + own_sd * rng.standard_normal()
            took.append(Took(f"job {job}", 8.0, 8.0 * float(np.exp(log))))
    return took


def mean_of(belief: durations.DurationBelief, values: np.ndarray) -> float:
    return float((belief.weight * values).sum())


def test_nothing_on_record_leaves_the_prior():
    belief = durations.learn([])
    assert mean_of(belief, belief.mean) == pytest.approx(durations.COMMON_MEAN)
    assert belief.sd == pytest.approx(durations.COMMON_SD)


def test_a_long_record_finds_its_three_parts():
    belief = durations.learn(record_of(150, 5, 0.4, 0.3, 0.25))
    assert mean_of(belief, belief.mean) == pytest.approx(0.4, abs=0.06)
    assert mean_of(belief, belief.job_sd) == pytest.approx(0.3, abs=0.05)
    assert mean_of(belief, belief.own_sd) == pytest.approx(0.25, abs=0.03)


def test_a_short_record_is_drawn_toward_the_prior_as_normals_are():
    # Source: normal mean with a normal prior (textbook), for the spreads that one grid entry holds.
    took = record_of(1, 1, 0.9, 0.0, 0.01)
    belief = durations.learn(took)
    log = float(np.log(took[0].actual / took[0].estimate))
    var = belief.own_sd**2 + belief.job_sd**2
    weight = durations.COMMON_SD**2 / (durations.COMMON_SD**2 + var)
    assert belief.mean == pytest.approx(
        durations.COMMON_MEAN + weight * (log - durations.COMMON_MEAN)
    )
    assert belief.sd == pytest.approx(np.sqrt(1 / (1 / durations.COMMON_SD**2 + 1 / var)))


def test_the_likelihood_is_that_of_correlated_normals():
    # Source: scipy's multivariate normal, whose covariance is written out in full.
    from scipy.stats import multivariate_normal

    took = record_of(4, 3, 0.2, 0.3, 0.3)
    logs = np.array([np.log(one.actual / one.estimate) for one in took])
    same = np.kron(np.eye(4), np.ones((3, 3)))
    belief = durations.learn(took)
    prior = durations.learn([])
    expected = [
        multivariate_normal(
            np.full(12, durations.COMMON_MEAN),
            durations.COMMON_SD**2 + job**2 * same + own**2 * np.eye(12),
        ).logpdf(logs)
        for own, job in zip(belief.own_sd, belief.job_sd, strict=True)
    ]
    weight = prior.weight * np.exp(np.array(expected) - max(expected))
    assert belief.weight == pytest.approx(weight / weight.sum(), rel=1e-6, abs=1e-12)


def test_what_is_common_does_not_average_out():
    drawn = durations.draw(durations.learn([]), np.random.default_rng(1), 4_000)
    steps = np.arange(140)
    factor = durations.factors(drawn, np.random.default_rng(2), steps // 4, steps)
    spread = float(np.log(factor.mean(axis=1)).std())
    assert spread > 0.25  # independent noise of this size would leave 0.04


def test_pieces_cut_from_one_work_take_the_same_factor():
    drawn = durations.draw(durations.learn([]), np.random.default_rng(1), 50)
    factor = durations.factors(
        drawn, np.random.default_rng(2), np.zeros(3, dtype=np.intp), np.array([0, 0, 1])
    )
    assert (factor[:, 0] == factor[:, 1]).all()
    assert (factor[:, 0] != factor[:, 2]).any()


def test_work_under_way_takes_longer_than_it_has():
    drawn = durations.draw(durations.learn([]), np.random.default_rng(1), 2_000)
    given = durations.factors(
        drawn, np.random.default_rng(2), np.zeros(1, dtype=np.intp), np.zeros(1, dtype=np.intp)
    )[:, 0]
    longer = durations.longer_than(drawn, np.random.default_rng(3), 1.2, given)
    assert longer.min() >= np.float32(1.2)
    assert (longer[given > 1.2] == given[given > 1.2]).all()


def test_a_forgotten_clock_does_not_decide_the_forecast():
    took = record_of(10, 4, 0.1, 0.2, 0.3)
    odd = durations.learn([*took, Took("odd", 1.0, 500.0)])
    assert (
        mean_of(odd, odd.mean) < mean_of(durations.learn(took), durations.learn(took).mean) + 0.15
    )
