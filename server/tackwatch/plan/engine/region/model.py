"""The model of a part of a plan, and what CP-SAT makes of it.

Theory
------
Every step of the part has one optional interval for each person who may do it; a person's intervals
do not overlap, and a place's units are a cumulative. That people are not in two places is said a
second time as cumulatives over those who may do the same work, which cuts much more of the search. A
missed window is a choice that makes the step longer and leaves it fewer starts. All variables have the
plan in hand as a hint, so that the answer is never worse.

The levels of the score are weighed into one sum whose weights are larger than all that can come below.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from tackwatch.plan.engine.arrays import FAR, I32, NONE, Arrays
from tackwatch.plan.engine.compiled.desk import Desk
from tackwatch.plan.engine.region.ends import Choice, Ends, Expr
from tackwatch.plan.engine.region.masks import Part, Room, Stays, closes, opens

Bool = cp_model.IntVar


@dataclass(frozen=True)
class Limits:
    """How long CP-SAT may search: seconds of the clock, and of its own count of work."""

    seconds: float
    work: float
    workers: int = 1
    seed: int = 0


@dataclass(frozen=True)
class Found:
    """What came of it: starts and crews of all steps, and whether there is proof that it is the best of the part.

    `late_bound` is what the lateness is at least, with what stays where it is; `moved_bound`: what moves at least, at
    the lateness and the missed work that were found.
    """

    start: I32
    crew: I32
    proved: bool
    late_bound: int
    moved_bound: int


@dataclass
class PartModel:
    """A part of a plan as a model."""

    a: Arrays
    d: Desk
    part: Part
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    rooms: dict[int, Room] = field(default_factory=dict)
    start: dict[int, cp_model.IntVar] = field(default_factory=dict)
    size: dict[int, Expr] = field(default_factory=dict)
    does: dict[tuple[int, int], Bool] = field(default_factory=dict)
    misses: dict[int, Bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.ends = Ends(self.model)
        self.stays = Stays(self.a, self.d, self.part)

    def build(self) -> bool:
        """Make the model; False when a step has no room, which only a plan in hand with a fault has."""
        steps = [int(i) for i in np.flatnonzero(self.part.free)]
        for i in steps:
            room = self.stays.room(i)
            if not len(room.starts()):
                return False
            self.rooms[i] = room
            self._step(i)
        for i in steps:
            self._arcs(i)
        self._people(steps)
        self._places(steps)
        self._zones(steps)
        self._aim(steps)
        return True

    def _step(self, i: int) -> None:
        model, room, now = self.model, self.rooms[i], self.d.steps[i]
        starts = room.starts()
        start = model.new_int_var_from_domain(_domain(starts), "")
        model.add_hint(start, int(now["start"]))
        self.start[i] = start
        for k in room.soft:
            self.misses[k] = model.new_bool_var("")
            model.add_hint(self.misses[k], int(self.d.missed[k]))
        work = int(self.a.steps["work"][i])
        self.size[i] = work + sum(int(self.a.arcs["miss"][k]) * self.misses[k] for k in room.soft)
        ends = room.ends()
        self.ends.can_end[i], self.ends.at[i] = ends, int(now["end"])
        self.ends.end[i] = start + work
        if room.soft:
            end = model.new_int_var(int(ends[0]), int(ends[-1]), "")
            model.add_hint(end, int(now["end"]))
            model.add(end == start + self.size[i])
            self.ends.end[i] = end
            if len(room.soft) > 1:
                size = model.new_int_var(work, int(now["end"] - now["start"]) + 10_000, "")
                model.add(size == self.size[i])
                model.add_hint(size, int(now["end"] - now["start"]))
                self.size[i] = size
        self._who(i, starts)

    def _who(self, i: int, starts: NDArray[np.int64]) -> None:
        """Tie the people, and the choice of what is missed, to where the step may begin."""
        model, room = self.model, self.rooms[i]
        able = sorted({p for _, who in room.by_misses.values() for p in who if p != NONE})
        crew = self.d.crew[i]
        for p in able:
            self.does[i, p] = model.new_bool_var("")
            model.add_hint(self.does[i, p], int(p in crew))
        if able:
            model.add(sum(self.does[i, p] for p in able) == int(self.a.steps["crew"][i]))
        for misses, (_, who) in room.by_misses.items():
            when = [
                self.misses[k] if m else ~self.misses[k]
                for k, m in zip(room.soft, misses, strict=True)
            ]
            if not who:
                model.add_bool_or([~one for one in when])
            for p, can in who.items():
                if len(can) < len(starts):
                    only = when if p == NONE else [*when, self.does[i, p]]
                    here = model.add_linear_expression_in_domain(self.start[i], _domain(can))
                    if only:
                        here.only_enforce_if(*only)
            for p in able:
                if who and p not in who:
                    model.add_bool_or([~self.does[i, p], *(~one for one in when)])

    def _arcs(self, i: int) -> None:
        """Put what hangs on the end of step `i` into constraints."""
        a, ends = self.a, self.ends.can_end[i]
        for k in a.lists[a.steps["out_at"][i] : a.steps["out_to"][i]]:
            j = int(a.arcs["after"][k])
            if j not in self.start:
                continue
            can = self.rooms[j].starts()
            opened = np.maximum.accumulate(opens(a, k, ends))
            self.ends.start_after(i, opened, self.start[j], can)
            closed = closes(a, k, ends)
            if (closed < can[-1]).any():
                only: list[Choice] = [~self.misses[k]] if int(k) in self.misses else []
                self.ends.start_until(i, closed, self.start[j], can, only)

    def _people(self, steps: list[int]) -> None:
        model, a = self.model, self.a
        theirs: dict[int, list[cp_model.IntervalVar]] = {}
        for (i, p), does in self.does.items():
            interval = model.new_optional_interval_var(
                self.start[i], self.size[i], self.ends.end[i], does, ""
            )
            theirs.setdefault(p, []).append(interval)
        for intervals in theirs.values():
            if len(intervals) > 1:
                model.add_no_overlap(intervals)
        self.interval = {
            i: model.new_interval_var(self.start[i], self.size[i], self.ends.end[i], "")
            for i in steps
        }
        able = {
            i: frozenset(p for _, who in self.rooms[i].by_misses.values() for p in who)
            for i in steps
            if a.steps["crew"][i] > 0
        }
        for group in {*able.values(), frozenset(range(a.people))}:
            inside = [i for i, who in able.items() if who <= group]
            if len(inside) > len(group) > 1:
                model.add_cumulative(
                    [self.interval[i] for i in inside],
                    [int(a.steps["crew"][i]) for i in inside],
                    len(group),
                )

    def _places(self, steps: list[int]) -> None:
        a, d, free = self.a, self.d, self.part.free
        units: dict[int, list[tuple[int, int]]] = {}
        for i in range(len(a.steps)):
            for place, n in a.lists[a.steps["use_at"][i] : a.steps["use_to"][i]].reshape(-1, 2):
                units.setdefault(int(place), []).append((i, int(n)))
        for place, uses in units.items():
            holds = int(a.holds[place])
            moving = [(self.interval[i], n) for i, n in uses if free[i]]
            if not moving:
                continue
            taken = np.zeros(self.stays.to - self.stays.from_, dtype=np.int64)
            for i, n in uses:
                if not free[i]:
                    begin, end = (int(d.steps[x][i]) - self.stays.from_ for x in ("start", "end"))
                    taken[max(begin, 0) : max(end, 0)] += n
            if sum(n for _, n in moving) + taken.max() <= holds:
                continue
            edges = np.flatnonzero(np.diff(taken, prepend=0, append=0))
            for left, right in pairwise(edges):
                if taken[left]:
                    still = self.model.new_fixed_size_interval_var(
                        int(left) + self.stays.from_, int(right - left), ""
                    )
                    moving.append((still, min(int(taken[left]), holds)))
            self.model.add_cumulative([x for x, _ in moving], [n for _, n in moving], holds)

    def _zones(self, steps: list[int]) -> None:
        """Keep what makes dust from what is wet, for pairs that both move."""
        a, model = self.a, self.model
        for i in steps:
            for j, dusty in a.lists[a.steps["opp_at"][i] : a.steps["opp_to"][i]].reshape(-1, 2):
                if not dusty or int(j) not in self.start:
                    continue
                self._pair(i, int(j), model)

    def _pair(self, dusty: int, wet: int, model: cp_model.CpModel) -> None:
        dries = self.stays.wet(wet, self.ends.can_end[wet])
        can = self.rooms[dusty].starts()
        if self.rooms[wet].starts()[0] >= self.ends.can_end[dusty][-1] or can[0] >= dries[-1]:
            return
        now = self.d.steps
        after = model.new_bool_var("")
        model.add_hint(after, int(now[dusty]["start"] >= now[wet]["wet"]))
        model.add(self.start[wet] >= self.ends.end[dusty]).only_enforce_if(~after)
        self.ends.start_after(wet, np.maximum.accumulate(dries), self.start[dusty], can, [after])

    def _aim(self, steps: list[int]) -> None:
        """Weigh what is to be small: lateness, missed work, what moved."""
        a, d, model = self.a, self.d, self.model
        must = [i for i in steps if a.steps["must"][i]]
        still = (a.steps["must"] == 1) & ~self.part.free
        base = max(0, int(d.steps["end"][still].max(initial=0)) - a.launch)
        most = max([base, *(int(self.ends.can_end[i][-1]) - a.launch for i in must)])
        late = model.new_int_var(base, max(base, most), "")
        now = max(int(d.steps["end"][a.steps["must"] == 1].max(initial=0)) - a.launch, base)
        model.add_hint(late, now)
        for i in must:
            if self.ends.can_end[i][-1] - a.launch > base:
                model.add(late >= self.ends.end[i] - a.launch)
        missed = [(int(a.arcs["miss"][k]), one) for k, one in self.misses.items()]
        moved, most_moved = self._moved(steps)
        self._moved_sum = sum(moved)
        heavy = most_moved + 1
        heaviest = heavy * (sum(n for n, _ in missed) + 1)
        self._base, self._heaviest = base, heaviest
        model.minimize(
            heaviest * (late - base) + heavy * sum(n * one for n, one in missed) + sum(moved)
        )

    def _moved(self, steps: list[int]) -> tuple[list[Expr], int]:
        a, model = self.a, self.model
        terms: list[Expr] = []
        self._surely_moved = 0
        for i in steps:
            told = int(a.steps["told"][i])
            if told >= FAR:
                continue
            if told in self.rooms[i].starts():
                kept = model.new_bool_var("")
                model.add(self.start[i] == told).only_enforce_if(kept)
                model.add_hint(kept, int(self.d.steps["start"][i] == told))
                terms.append(1 - kept)
            else:
                self._surely_moved += 1
            others = [p for (j, p) in self.does if j == i and not a.told_by[i, p]]
            terms.extend(self.does[i, p] for p in others)
        return terms, len(terms)

    def ask(self, limits: Limits) -> Found | None:
        """Have CP-SAT look for the best; None when it found nothing in time."""
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = limits.workers
        solver.parameters.random_seed = limits.seed
        # Probing takes longer than all the rest of a small model, and finds little that the domains do not say.
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.max_time_in_seconds = limits.seconds
        solver.parameters.max_deterministic_time = limits.work
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        start, crew = self.d.steps["start"].copy(), self.d.crew.copy()
        for i, var in self.start.items():
            start[i] = solver.value(var)
            crew[i] = NONE
        for (i, p), does in self.does.items():
            if solver.boolean_value(does):
                crew[i, np.flatnonzero(crew[i] == NONE)[0]] = p
        least = int(np.ceil(solver.best_objective_bound - 1e-6))
        late = max(0, self._base + least // self._heaviest)
        others = round(solver.objective_value) - int(solver.value(self._moved_sum))
        moved = max(0, least - others) + self._surely_moved
        return Found(start, crew, status == cp_model.OPTIMAL, late, moved)


def _domain(slots: NDArray[np.int64]) -> cp_model.Domain:
    """Make a domain of slots that rise."""
    cuts = np.flatnonzero(np.diff(slots) > 1)
    first, last = np.r_[slots[0], slots[cuts + 1]], np.r_[slots[cuts], slots[-1]]
    return cp_model.Domain.from_intervals(np.stack([first, last], axis=1).tolist())
