"""What is drawn for samples."""

import numpy as np
from tools.bench.forecast_refits import refit_of

from tackwatch.plan.forecast import found
from tackwatch.plan.forecast.dispatch import PART
from tackwatch.plan.forecast.future import Future


def test_fewer_samples_in_whole_parts_are_the_first_of_more():
    refit = refit_of(5, 0.3, 8)
    future = Future(refit.project, refit.plan, refit.record)
    few, more = future.draw(PART, 3), future.draw(2 * PART + 100, 3)
    many = few.trees.start[-1]
    assert many > 100
    assert (few.work == more.work[:PART]).all()
    assert (few.wet == more.wet[:PART]).all()
    assert few.wet.any()
    assert (few.trees.start == more.trees.start[: PART + 1]).all()
    assert (few.trees.root == more.trees.root[:many]).all()
    assert (few.found_work == more.found_work[:many]).all()


def test_parts_are_not_one_another_s_copies():
    refit = refit_of(5, 0.3, 8)
    draws = Future(refit.project, refit.plan, refit.record).draw(2 * PART, 3)
    assert (draws.work[:PART] != draws.work[PART:]).mean() > 0.5
    sizes = np.diff(draws.trees.start)
    assert (sizes[:PART] != sizes[PART:]).mean() > 0.3


def test_trees_behind_one_another_are_the_trees_of_each():
    rng = np.random.default_rng(5)
    parts = [
        found.grow(rng, np.full(many, 0.7), np.full(many, 1.5), np.ones(4), 30)
        for many in (40, 1, 25)
    ]
    whole = found.joined(parts)
    assert whole.endless.size == 66
    assert whole.endless.any()
    at = 0
    for part in parts:
        for sample in range(part.endless.size):
            mine = slice(part.start[sample], part.start[sample + 1])
            joined = slice(whole.start[at], whole.start[at + 1])
            assert (part.root[mine] == whole.root[joined]).all()
            assert (part.parent[mine] == whole.parent[joined]).all()
            assert part.endless[sample] == whole.endless[at]
            at += 1
