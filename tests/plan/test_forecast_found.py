"""Found work against what is known of branching processes."""

import math

import numpy as np
import pytest

from tackwatch.plan.forecast import found
from tackwatch.plan.forecast.record import FoundWhile


def totals(r: float, samples: int, limit: int = 100_000) -> tuple[np.ndarray, np.ndarray]:
    """Give how many jobs one job becomes, itself with it, and which samples do not end."""
    rng = np.random.default_rng(7)
    poisson = np.full(samples, found.POISSON)
    trees = found.grow(rng, np.full(samples, r), poisson, np.ones(1), limit)
    return 1 + np.diff(trees.start), trees.endless


@pytest.mark.parametrize("r", [0.2, 0.5, 0.7])
def test_one_job_becomes_as_many_as_a_borel_variable_total_progeny_of_a_poisson_process(r):
    # Source: Borel's distribution (textbook): mean 1/(1-r), variance r/(1-r)^3.
    many, endless = totals(r, 200_000)
    assert not endless.any()
    assert many.mean() == pytest.approx(1 / (1 - r), rel=0.02)
    assert many.var() == pytest.approx(r / (1 - r) ** 3, rel=0.08)


def test_the_shares_of_small_trees_are_those_of_borel():
    # Source: Borel's distribution (textbook): P(n) = exp(-r n) (r n)^(n-1) / n!
    many, _ = totals(0.5, 200_000)
    for n in range(1, 7):
        expected = math.exp(-0.5 * n) * (0.5 * n) ** (n - 1) / math.factorial(n)
        assert (many == n).mean() == pytest.approx(expected, abs=0.004)


def test_work_that_reveals_more_than_itself_goes_on_with_the_chance_of_the_least_root():
    # Source: extinction of a branching process (textbook): the least root of q = exp(r (q - 1)).
    r, q = 1.05, 0.0
    for _ in range(5_000):
        q = math.exp(r * (q - 1))
    _, endless = totals(r, 20_000, limit=1_500)
    assert endless.mean() == pytest.approx(1 - q, abs=0.008)
    assert 1 - q == pytest.approx(0.0937, abs=0.0005)


def test_uneven_finds_have_the_same_mean_and_a_wider_spread():
    # Source: a Poisson with a gamma rate is negative binomial (textbook): variance r + r^2/k.
    rng, samples = np.random.default_rng(3), 100_000
    trees = found.grow(rng, np.full(samples, 0.6), np.full(samples, 0.7), np.ones(1), 10_000)
    first = np.add.reduceat(
        np.append(trees.parent < 0, 0), np.minimum(trees.start[:-1], trees.parent.size)
    ) * (np.diff(trees.start) > 0)
    assert first.mean() == pytest.approx(0.6, rel=0.03)
    assert first.var() == pytest.approx(0.6 + 0.36 / 0.7, rel=0.06)


def test_the_rate_is_that_of_gamma_and_poisson_where_finds_are_even():
    # Source: the conjugate pair (textbook): shape + finds over rate + jobs.
    record = [FoundWhile(f"j{n}", n % 3) for n in range(30)]
    belief = found.learn_rate(record, shapes=(found.POISSON,))
    assert belief.mean() == pytest.approx((2 + 30) / (8 + 30), rel=0.002)
    assert found.learn_rate([]).mean() == pytest.approx(0.25, rel=0.005)


def test_half_a_job_tells_half_as_much():
    halves = found.learn_rate([FoundWhile(f"j{n}", 0, 0.5) for n in range(20)])
    wholes = found.learn_rate([FoundWhile(f"j{n}", 0) for n in range(10)])
    assert halves.quantile(0.5) == pytest.approx(wholes.quantile(0.5), rel=0.05)


def test_a_long_record_narrows_the_rate_and_finds_it():
    few = found.learn_rate([FoundWhile("a", 1), FoundWhile("b", 0)])
    long_ = found.learn_rate([FoundWhile(f"j{n}", int(n % 2 == 0)) for n in range(200)])
    assert long_.quantile(0.1) < 0.5 < long_.quantile(0.9)
    assert (
        long_.quantile(0.9) - long_.quantile(0.1)
        < 0.3 * (few.quantile(0.9) - few.quantile(0.1)) * 1.2
    )


def test_parents_stand_before_their_children_in_their_own_sample():
    rng = np.random.default_rng(5)
    trees = found.grow(rng, np.full(500, 0.8), np.full(500, 1.5), np.ones(5), 2_000)
    for sample in range(500):
        part = slice(trees.start[sample], trees.start[sample + 1])
        parent, root = trees.parent[part], trees.root[part]
        assert (parent < np.arange(parent.size)).all()
        children = np.flatnonzero(parent >= 0)
        assert (root[children] == root[parent[children]]).all()


def test_found_labour_follows_what_was_found():
    rng = np.random.default_rng(1)
    trees = found.grow(rng, np.full(4_000, 0.5), np.full(4_000, 1e9), np.ones(4), 1_000)
    known = [20.0, 40.0, 80.0]
    small = found.draw_labour(np.random.default_rng(2), trees, known, [4.0] * 30)
    prior = found.draw_labour(np.random.default_rng(2), trees, known, [])
    assert np.median(small) == pytest.approx(4.7, rel=0.25)
    assert np.median(prior) == pytest.approx(40.0, rel=0.15)
    assert prior.max() <= 1.5 * 80.0
