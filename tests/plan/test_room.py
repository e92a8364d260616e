"""Where a step has room beside what stands: what is found in leaps is what is found slot by slot."""

from itertools import product

import numpy as np
import pytest
from numba import njit

from tackwatch.plan.engine.arrays import FAR
from tackwatch.plan.engine.compiled import desk, eject, restore
from tests.plan.test_restore import changed_refit, hands_of

BEFORE = (0, 1, 2, 3, 5, 8, 13, 21, 34, 55, 96, 200)


@njit(nogil=True)
def in_leaps(a, d, state, i, first, last, told):
    """Take a step off, ask for room from `first` to `last`, and put it back."""
    slate = restore._slate(a, d, state)
    eject.take_off(a, d, slate, i)
    found = eject.room_from(a, d, i, first, last, told)
    eject.undo(a, d, slate)
    return found


@njit(nogil=True)
def slot_by_slot(a, d, state, i, first, last, told):
    """Do the same, but ask of each slot what is free in all that the step would take."""
    slate = restore._slate(a, d, state)
    eject.take_off(a, d, slate, i)
    found = -1
    for t in range(last, first - 1, -1):
        if _has_room(a, d, i, t, told):
            found = t
    eject.undo(a, d, slate)
    return found


@njit(nogil=True)
def _has_room(a, d, i, t, told):
    lo, hi, _, _, _, _, _ = desk.limits(a, d, i)
    e = t + desk.length_of(a, d, i, t)
    if t < lo or t > hi or e > a.slots:
        return False
    for q in range(a.steps[i].out_at, a.steps[i].out_to):
        k = a.lists[q]
        start = d.steps[a.arcs[k].after].start
        late = desk.closes(a, k, e) < start
        if start != -FAR and (desk.opens(a, k, e) > start or late != (d.missed[k] == 1)):
            return False
    n = 0
    for q in range(a.steps[i].able_at, a.steps[i].able_to):
        p = a.lists[q]
        free = not told or a.told_by[i, p] == 1
        for u in range(t, e):
            free = free and a.free[p, u] >= e and d.owner[p, u] < 0
        n += 1 if free else 0
    if n < a.steps[i].crew:
        return False
    for q in range(a.steps[i].use_at, a.steps[i].use_to, 2):
        for u in range(t, e):
            if d.taken[a.lists[q], u] + a.lists[q + 1] > a.holds[a.lists[q]]:
                return False
    return desk.zones_next(a, d, i, t, e) == t


@pytest.mark.parametrize("seed", range(6))
def test_the_first_slot_with_room_is_the_one_of_all_slots(seed):
    hand = hands_of(changed_refit(seed)).best
    for i in np.flatnonzero(hand.a.steps["fixed"] >= FAR):
        stands = int(hand.desk.steps["start"][i])
        for before, after in product(BEFORE, (0, 400)):
            first, last = max(0, stands - before), min(stands + after, hand.a.slots - 1)
            for told in (False, True):
                asked = (hand.a, hand.desk, hand.state, i, first, last, told)
                assert in_leaps(*asked) == slot_by_slot(*asked)
