"""What hangs on the end of a step that moves: cures and windows as constraints.

Theory
------
`start >= opens(end)` for a table that never falls is, for each value at which the table rises, "the
end is before it, or the start is not before what it opens". What a table opens in closed hours it
opens at the next slot at which the step after may begin at all: rounded so, a cure over night has one
rise a day, and a short one is nearly a constant gap. The constant that holds everywhere is a
constraint of its own, and only rises beyond it need a choice.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

Expr = Any  # what can be added up: a number, a variable, a sum of them
Choice = cp_model.LiteralT
Slots = NDArray[np.int64]


class Ends:
    """The ends of steps, and choices such as "not before slot `v`"; `at` are those of the plan in hand."""

    def __init__(self, model: cp_model.CpModel) -> None:
        self.model = model
        self.end: dict[int, Expr] = {}
        self.can_end: dict[int, Slots] = {}
        self.at: dict[int, int] = {}
        self._choices: dict[tuple[int, int], cp_model.IntVar] = {}

    def not_before(self, i: int, slot: int) -> cp_model.IntVar:
        """Give the choice that step `i` ends at a slot or after it."""
        if (i, slot) not in self._choices:
            choice = self.model.new_bool_var("")
            self.model.add(self.end[i] >= slot).only_enforce_if(choice)
            self.model.add(self.end[i] <= slot - 1).only_enforce_if(~choice)
            self.model.add_hint(choice, self.at[i] >= slot)
            self._choices[i, slot] = choice
        return self._choices[i, slot]

    def start_after(
        self,
        i: int,
        opened: Slots,
        start: Expr,
        can_start: Slots,
        only: Sequence[Choice] = (),
    ) -> None:
        """Have a start wait for what the end of `i` opens; `opened` are the slots for each of its ends."""
        ends = self.can_end[i]
        at = np.searchsorted(can_start, opened)
        never = at >= len(can_start)
        if never.any():
            self._enforce(self.end[i] <= int(ends[never][0]) - 1, only)
            ends, at = ends[~never], at[~never]
        if not len(ends):
            return
        rounded = can_start[at]
        gap = int((rounded - ends).min())
        self._enforce(start >= self.end[i] + gap, only)
        rises = np.flatnonzero(np.diff(rounded, prepend=rounded[0] - 1))
        for r in rises:
            end, slot = int(ends[r]), int(rounded[r])
            if slot <= end + gap or slot <= can_start[0]:
                continue
            if r == 0:
                self._enforce(start >= slot, only)
            else:
                self._enforce(start >= slot, [*only, self.not_before(i, end)])

    def start_until(
        self,
        i: int,
        closed: Slots,
        start: Expr,
        can_start: Slots,
        only: Sequence[Choice] = (),
    ) -> None:
        """Have a start come before what the end of `i` closes."""
        ends = self.can_end[i]
        at = np.searchsorted(can_start, closed, side="right") - 1
        never = at < 0
        if never.any():
            self._enforce(self.end[i] >= int(ends[never][-1]) + 1, only)
            ends, at = ends[~never], at[~never]
        if not len(ends):
            return
        rounded = can_start[at]
        gap = int((rounded - ends).max())
        self._enforce(start <= self.end[i] + gap, only)
        for r in np.flatnonzero(np.diff(rounded, append=rounded[-1] + 1)):
            end, slot = int(ends[r]), int(rounded[r])
            if slot >= end + gap or slot >= can_start[-1]:
                continue
            if r == len(ends) - 1:
                self._enforce(start <= slot, only)
            else:
                later = self.not_before(i, int(ends[r + 1]))
                self._enforce(start <= slot, [*only, ~later])

    def _enforce(self, what: Any, only: Sequence[Choice]) -> None:
        constraint = self.model.add(what)
        if only:
            constraint.only_enforce_if(*only)
