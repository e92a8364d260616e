"""A project as arrays, which is what the compiled search reads.

Rules
-----
* Steps, people, places, links (here: arcs) and zones are numbers from 0, in the project's order.
* Lists of different lengths stand one behind the other in one array.
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
from tackwatch.plan.engine.fits import fitting
from tackwatch.plan.engine.gaps import order_arcs
from tackwatch.plan.model import Link, Project, Step, Table

FAR: Final = 2**29
NONE: Final = -1

I32 = NDArray[np.int32]
I8 = NDArray[np.int8]


STEP: Final = np.dtype(
    [(name, "i4") for name in (
        "work", "crew", "earliest", "must", "fixed", "told", "walk", "group", "dry",
        "able_at", "able_to", "held_at", "held_to", "use_at", "use_to", "opp_at", "opp_to",
        "in_at", "in_to", "out_at", "out_to",
    )],
    align=True,
)  # fmt: skip
ARC: Final = np.dtype(
    [(name, "i4") for name in (
        "before", "after", "least", "most", "ready", "last", "miss", "order", "fits",
    )],
    align=True,
)  # fmt: skip


class Arrays(NamedTuple):
    """A project in numbers; see the head of the module.

    There are few arrays, since each makes everything that is compiled longer.

    Attributes
    ----------
    slots, people, launch
        How many, how many, and the slot of the launch.
    steps
        Records of type `STEP`. `must`: by launch; `fixed`, `told`: the start, `FAR` where there is none; `walk`,
        `group`, `dry` (a row of `tables`): `NONE` where there is none. `*_at` and `*_to` are spans of `lists`:
        who is able; who does a fixed one; places with units; what it may not overlap in a zone, with 1 where
        the step itself is the dusty one; arcs that end, that begin at it.
    arcs
        Records of type `ARC`: ends, gaps, rows of `tables`, extra work (`NONE`: may not be missed), whether it is
        an order arc, the row of `fits`.
    lists
        Numbers.
    told_by
        Shape (steps, people): who was told.
    holds
        By place.
    tables
        Shape (rows, slots + 1).
    fits
        Shape (rows, slots + 1): the next end of the step before for which the step after, by the hours of those
        who may do it, fits into its window.
    free
        Shape (people, slots + 1): where the free stretch ends that holds a slot, 0 where the person is not there.
    comes
        Shape (people, slots + 1): the next slot in which the person is there.
    spans
        Shape (spans, 3): person, begin, end.
    """

    slots: int
    people: int
    launch: int
    steps: NDArray[np.void]
    arcs: NDArray[np.void]
    lists: I32
    told_by: I8
    holds: I32
    tables: I32
    fits: I32
    free: I32
    comes: I32
    spans: I32


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
    columns: dict[str, Sequence[int] | I32 | I8] = {
        "before": before, "after": after, "least": least, "most": most, "ready": ready, "last": last,
        "miss": [NONE if k.missed_work is None else k.missed_work for k in links], "order": order,
    }  # fmt: skip
    alone = [(tuple(who), step.crew, step.work) for who, step in zip(able, steps, strict=True)]
    fits, columns["fits"] = fitting(alone, free, tables, columns)
    arcs = np.zeros(len(links), dtype=ARC)
    for name, column in columns.items():
        arcs[name] = column
    lists = _Lists()
    records = np.zeros(len(steps), dtype=STEP)
    _fill(records, steps, dry)
    lists.add(records, "able", able)
    lists.add(records, "held", [[person[p] for p in _held(step) if p in person] for step in steps])
    lists.add(records, "use", [
        [x for u in step.uses if u.units > 0 for x in (place[u.place_id], u.units)] for step in steps
    ])  # fmt: skip
    lists.add(records, "opp", [[x for pair in one for x in pair] for one in _opposed(steps)])
    lists.add(records, "in", _by(after, len(steps)))
    lists.add(records, "out", _by(before, len(steps)))
    return Arrays(
        slots=slots,
        people=len(person),
        launch=project.launch,
        steps=records,
        arcs=arcs,
        lists=lists.joined(),
        told_by=_told_by(steps, person),
        holds=_i32(one.holds for one in project.places),
        tables=tables,
        fits=fits,
        free=free,
        comes=comes,
        spans=_spans(project),
    )


def _fill(records: NDArray[np.void], steps: Sequence[Step], dry: Sequence[int]) -> None:
    """Write what is one number a step."""
    walks, groups = _numbers(s.walk_zone for s in steps), _numbers(s.group for s in steps)
    records["work"] = [step.work for step in steps]
    records["crew"] = [step.crew for step in steps]
    records["earliest"] = [min(max(step.earliest, 0), FAR) for step in steps]
    records["must"] = [step.by_launch for step in steps]
    records["fixed"] = [FAR if step.fixed is None else step.fixed.start for step in steps]
    records["told"] = [FAR if step.told is None else step.told.start for step in steps]
    records["walk"] = [walks[step.walk_zone] for step in steps]
    records["group"] = [groups[step.group] for step in steps]
    records["dry"] = dry


class _Lists:
    """Lists by step, one behind the other."""

    def __init__(self) -> None:
        self._all: list[int] = []

    def add(self, records: NDArray[np.void], name: str, lists: Sequence[Sequence[int]]) -> None:
        for record, one in zip(records, lists, strict=True):
            record[name + "_at"] = len(self._all)
            self._all.extend(one)
            record[name + "_to"] = len(self._all)

    def joined(self) -> I32:
        return np.array(self._all or [0], dtype=np.int32)


def _numbers(names: Iterable[str | None]) -> dict[str | None, int]:
    """Number names from 0; None is `NONE`."""
    return {None: NONE} | {
        name: n for n, name in enumerate(sorted({x for x in names if x is not None}))
    }


def _spans(project: Project) -> I32:
    slots = project.grid.slots
    spans = [
        (p, max(0, a), min(b, slots))
        for p, one in enumerate(project.people)
        for a, b in one.open
        if a < slots
    ]
    return np.array(spans or [(0, 0, 0)], dtype=np.int32)


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
    comes = np.full((max(len(people), 1), slots + 1), FAR, dtype=np.int32)
    for p, one in enumerate(people):
        for a, b in one.open:
            free[p, max(a, 0) : min(b, slots)] = min(b, slots)
        here = np.where(free[p] > 0, np.arange(slots + 1), FAR)
        comes[p] = np.minimum.accumulate(here[::-1])[::-1]
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


def _by(ends: I32, n: int) -> list[list[int]]:
    arcs: list[list[int]] = [[] for _ in range(n)]
    for k, i in enumerate(ends):
        arcs[i].append(k)
    return arcs


def _i32(values: Iterable[int]) -> I32:
    return np.array(list(values), dtype=np.int32)
