"""A project as arrays, which is what the compiled search reads.

Rules
-----
* Steps, people, places, links (here: arcs) and zones are numbers from 0, in the project's order.
* Lists of different lengths are one array with pointers: those of `i` are `idx[ptr[i]:ptr[i + 1]]`.
* Instants past the horizon are cut to `FAR`, so that sums of them stay small.
* Links into fixed steps bind nobody and are left out.
* An arc is an *order* arc where the step after cannot begin before the step before, by length and least gap alone;
  these have no circle, and steps are placed along them. The others (least gaps below zero, as largest gaps are in
  RCPSP/max) are looked at from whichever end is placed last.
"""

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.errors import CannotPlaceError
from tackwatch.plan.engine.gaps import order_arcs
from tackwatch.plan.model import Link, Project, Step, Table

FAR: Final = 2**29
NONE: Final = -1

I32 = NDArray[np.int32]
I8 = NDArray[np.int8]


class Arrays(NamedTuple):
    """A project in numbers; see the head of the module.

    Attributes
    ----------
    slots, people
        How many.
    launch
        The slot of the launch.
    work, crew, earliest, must, fixed, told, walk, group, dry
        By step; `must`: by launch; `fixed`, `told`: the start, `FAR` where there is none; the rest `NONE`.
    able_*, held_*, use_*, opp_*
        By step: who may; who does a fixed one; places; what it may not overlap in a zone (`opp_dust`: the step
        itself is the dusty one).
    told_by
        Shape (steps, people): who was told.
    arc_*
        By arc: ends, gaps, rows of tables, extra work (`NONE`: may not be missed), whether it is an order arc, the
        row of `fits`.
    in_*, out_*
        By step: arcs that end, begin there.
    tables
        Shape (rows, slots + 1).
    fits
        Shape (rows, slots + 1): the next end of the step before for which the step after, by the hours of those
        who may do it, fits into its window.
    free
        Shape (people, slots + 1): where the free stretch ends that holds a slot, 0 where the person is not there.
    comes
        Shape (people, slots + 2): the next slot in which the person is there.
    """

    slots: int
    people: int
    launch: int
    work: I32
    crew: I32
    earliest: I32
    must: I8
    fixed: I32
    told: I32
    walk: I32
    group: I32
    dry: I32
    able_ptr: I32
    able_idx: I32
    held_ptr: I32
    held_idx: I32
    told_by: I8
    use_ptr: I32
    use_idx: I32
    use_units: I32
    holds: I32
    opp_ptr: I32
    opp_idx: I32
    opp_dust: I8
    arc_before: I32
    arc_after: I32
    arc_min: I32
    arc_max: I32
    arc_ready: I32
    arc_last: I32
    arc_miss: I32
    arc_order: I8
    arc_fits: I32
    in_ptr: I32
    in_idx: I32
    out_ptr: I32
    out_idx: I32
    tables: I32
    fits: I32
    free: I32
    comes: I32
    span_ptr: I32
    span_from: I32
    span_to: I32


def to_arrays(project: Project) -> Arrays:
    """Turn a project into arrays.

    Raises
    ------
    CannotPlaceError
        When a step lacks people, hours or a place whatever the others do.
    InfeasibleError
        When the gaps contradict one another.
    """
    steps, slots = project.steps, project.grid.slots
    number = {step.id: i for i, step in enumerate(steps)}
    person = {one.id: p for p, one in enumerate(project.people)}
    place = {one.id: k for k, one in enumerate(project.places)}
    links = [link for link in project.links if steps[number[link.after]].fixed is None]
    able = [sorted({person[a] for a in step.able if a in person}) for step in steps]
    held = [[person[p] for p in _held(step) if p in person] for step in steps]
    free, comes = _free(project)
    _look_for_room(project, able, free)
    rows = _Rows(slots)
    ready = [_row(rows, _ready(project, link)) for link in links]
    last = [_row(rows, _last(project, link)) for link in links]
    dry = [NONE if s.dry_id is None else rows.add(project.tables[s.dry_id]) for s in steps]
    tables = rows.stacked()
    before = _i32(number[link.before] for link in links)
    after = _i32(number[link.after] for link in links)
    work = _i32(step.work for step in steps)
    least = _i32(max(link.min_gap, -FAR) for link in links)
    most = _i32(FAR if link.max_gap is None else min(link.max_gap, FAR) for link in links)
    order = order_arcs(
        work, before, after, least, most, np.array([r != NONE for r in ready], dtype=np.int8),
        np.array([link.missed_work is None for link in links], dtype=np.int8),
    )  # fmt: skip
    fits, arc_fits = _fits(steps, able, free, tables, before, after, least, most, ready, last)
    use = [[(place[u.place_id], u.units) for u in step.uses if u.units > 0] for step in steps]
    opposed = _opposed(steps)
    spans = [
        [(max(0, a), min(b, slots)) for a, b in one.open if a < slots] for one in project.people
    ]
    zones = {name: z for z, name in enumerate(sorted({s.walk_zone or "" for s in steps}))}
    groups = {name: g for g, name in enumerate(sorted({s.group or "" for s in steps}))}
    return Arrays(
        slots=slots,
        people=len(person),
        launch=project.launch,
        work=work,
        crew=_i32(step.crew for step in steps),
        earliest=_i32(min(max(step.earliest, 0), FAR) for step in steps),
        must=np.array([step.by_launch for step in steps], dtype=np.int8),
        fixed=_i32(FAR if step.fixed is None else step.fixed.start for step in steps),
        told=_i32(FAR if step.told is None else step.told.start for step in steps),
        walk=_i32(NONE if s.walk_zone is None else zones[s.walk_zone] for s in steps),
        group=_i32(NONE if s.group is None else groups[s.group] for s in steps),
        dry=_i32(dry),
        able_ptr=_ptr(able),
        able_idx=_flat(able),
        held_ptr=_ptr(held),
        held_idx=_flat(held),
        told_by=_told_by(steps, person),
        use_ptr=_ptr(use),
        use_idx=_flat([[k for k, _ in one] for one in use]),
        use_units=_flat([[n for _, n in one] for one in use]),
        holds=_i32(one.holds for one in project.places),
        opp_ptr=_ptr(opposed),
        opp_idx=_flat([[j for j, _ in one] for one in opposed]),
        opp_dust=_flat([[d for _, d in one] for one in opposed]).astype(np.int8),
        arc_before=before,
        arc_after=after,
        arc_min=least,
        arc_max=most,
        arc_ready=_i32(ready),
        arc_last=_i32(last),
        arc_miss=_i32(NONE if k.missed_work is None else k.missed_work for k in links),
        arc_order=order,
        arc_fits=arc_fits,
        in_ptr=_ptr(_by(after, len(steps))),
        in_idx=_flat(_by(after, len(steps))),
        out_ptr=_ptr(_by(before, len(steps))),
        out_idx=_flat(_by(before, len(steps))),
        tables=tables,
        fits=fits,
        free=free,
        comes=comes,
        span_ptr=_ptr(spans),
        span_from=_flat([[a for a, _ in one] for one in spans]),
        span_to=_flat([[b for _, b in one] for one in spans]),
    )


class _Rows:
    """Tables, each kept once."""

    def __init__(self, slots: int) -> None:
        self._slots = slots
        self._number: dict[int, int] = {}
        self._rows: list[Table] = []

    def add(self, table: Table) -> int:
        if id(table) not in self._number:
            self._number[id(table)] = len(self._rows)
            self._rows.append(table)
        return self._number[id(table)]

    def stacked(self) -> I32:
        rows = np.zeros((max(len(self._rows), 1), self._slots + 1), dtype=np.int32)
        for r, table in enumerate(self._rows):
            rows[r] = np.minimum(table[: self._slots + 1], FAR)
        return rows


def _row(rows: _Rows, table: Table | None) -> int:
    return NONE if table is None else rows.add(table)


def _ready(project: Project, link: Link) -> Table | None:
    return None if link.window_id is None else project.windows[link.window_id].ready


def _last(project: Project, link: Link) -> Table | None:
    return None if link.window_id is None else project.windows[link.window_id].last


def _held(step: Step) -> tuple[str, ...]:
    return () if step.fixed is None else step.fixed.people


def _told_by(steps: Sequence[Step], person: dict[str, int]) -> I8:
    told = np.zeros((len(steps), max(len(person), 1)), dtype=np.int8)
    for i, step in enumerate(steps):
        for id_ in step.told.people if step.told else ():
            if id_ in person:
                told[i, person[id_]] = 1
    return told


def _free(project: Project) -> tuple[I32, I32]:
    slots, people = project.grid.slots, project.people
    free = np.zeros((max(len(people), 1), slots + 1), dtype=np.int32)
    comes = np.full((max(len(people), 1), slots + 2), FAR, dtype=np.int32)
    for p, one in enumerate(people):
        for a, b in one.open:
            free[p, max(a, 0) : min(b, slots)] = min(b, slots)
        here = np.where(free[p] > 0, np.arange(slots + 1), FAR)
        comes[p, : slots + 1] = np.minimum.accumulate(here[::-1])[::-1]
    return free, comes


def _look_for_room(project: Project, able: list[list[int]], free: I32) -> None:
    """Refuse a step that has no room even when it is alone."""
    holds = {place.id: place.holds for place in project.places}
    seen: set[tuple[tuple[int, ...], int, int]] = set()
    stretch = free - np.arange(project.grid.slots + 1, dtype=np.int32)
    for step, who in zip(project.steps, able, strict=True):
        if step.fixed is not None:
            continue
        if step.crew > len(who):
            raise CannotPlaceError(step.id, "people")
        if any(use.units > holds[use.place_id] for use in step.uses):
            raise CannotPlaceError(step.id, "place")
        key = (tuple(who), step.crew, step.work)
        if step.crew and key not in seen:
            seen.add(key)
            fit = (stretch[who] >= max(step.work, 1)).sum(axis=0) >= step.crew
            if not fit.any():
                raise CannotPlaceError(step.id, "hours")
            if not fit[step.earliest :].any():
                raise CannotPlaceError(step.id, "horizon")


def _opposed(steps: Sequence[Step]) -> list[list[tuple[int, int]]]:
    """Pair, by step, what makes dust with what is wet in the same zone."""
    dusty: dict[str, list[int]] = {}
    wet: dict[str, list[int]] = {}
    for i, step in enumerate(steps):
        for zone in step.dust_in:
            dusty.setdefault(zone, []).append(i)
        for zone in step.wet_in:
            wet.setdefault(zone, []).append(i)
    pairs: list[set[tuple[int, int]]] = [set() for _ in steps]
    for zone, dust in dusty.items():
        for i in dust:
            for j in wet.get(zone, ()):
                if i != j:
                    pairs[i].add((j, 1))
                    pairs[j].add((i, 0))
    return [sorted(one) for one in pairs]


def _fits(
    steps: Sequence[Step], able: list[list[int]], free: I32, tables: I32, before: I32, after: I32,
    least: I32, most: I32, ready: list[int], last: list[int],
) -> tuple[I32, I32]:  # fmt: skip
    """Say for which ends of the step before the step after fits into its window, by hours alone."""
    slots = free.shape[1] - 1
    ends = np.arange(slots + 1)
    stretch = free - ends.astype(np.int32)
    counted: dict[tuple[tuple[int, ...], int, int], NDArray[np.int64]] = {}
    rows: list[I32] = []
    number: dict[tuple[object, ...], int] = {}
    arc_fits = np.full(len(before), NONE, dtype=np.int32)
    for k in range(len(before)):
        if last[k] == NONE and most[k] >= FAR:
            continue
        step = steps[after[k]]
        who = (tuple(able[after[k]]), step.crew, step.work)
        key = (*who, int(least[k]), int(most[k]), ready[k], last[k])
        if key not in number:
            if who not in counted:
                fit = np.ones(slots + 1, dtype=bool)
                if step.crew:
                    fit = (stretch[able[after[k]]] >= max(step.work, 1)).sum(axis=0) >= step.crew
                counted[who] = np.concatenate([[0], np.cumsum(fit)])
            opens, closes = ends + int(least[k]), ends + int(most[k])
            if ready[k] != NONE:
                opens = np.maximum(opens, tables[ready[k]])
            if last[k] != NONE:
                closes = np.minimum(closes, tables[last[k]])
            opens, closes = np.clip(opens, 0, slots + 1), np.clip(closes + 1, 0, slots + 1)
            fine = counted[who][np.maximum(opens, closes)] > counted[who][opens]
            number[key] = len(rows)
            rows.append(
                np.minimum.accumulate(np.where(fine, ends, FAR)[::-1])[::-1].astype(np.int32)
            )
        arc_fits[k] = number[key]
    return (np.array(rows) if rows else np.zeros((1, slots + 1), dtype=np.int32)), arc_fits


def _by(ends: I32, n: int) -> list[list[int]]:
    arcs: list[list[int]] = [[] for _ in range(n)]
    for k, i in enumerate(ends):
        arcs[i].append(k)
    return arcs


def _i32(values: Iterable[int]) -> I32:
    return np.array(list(values), dtype=np.int32)


def _flat(lists: Sequence[Sequence[int]]) -> I32:
    return _i32(value for one in lists for value in one)


def _ptr(lists: Sequence[Sequence[object]]) -> I32:
    return np.concatenate([[0], np.cumsum([len(one) for one in lists])]).astype(np.int32)
