"""Chance for what is compiled: a state of one number, changed in place."""

import numpy as np

from tackwatch.plan.engine.compiled.how import inner


@inner
def draw(state):
    """Draw a number in [0, 1) (xorshift64*, Vigna 2016)."""
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@inner
def below(state, n):
    """Draw a whole number of 0 .. n - 1."""
    return min(int(draw(state) * n), n - 1)
