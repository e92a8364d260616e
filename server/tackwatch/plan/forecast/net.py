"""Project and plan as arrays, for the dispatch.

Rules
-----
* A place that can never be full is left out.
* A window that the plan keeps is looked ahead for: a table gives the first end, at or after each, from
  which the step after finds open hours inside its window.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast import columns as k
from tackwatch.plan.forecast.calendars import (
    LATER,
    Reach,
    day_starts,
    hours_of,
    longer,
    open_mask,
)
from tackwatch.plan.forecast.order import in_order, needed
from tackwatch.plan.forecast.record import Record
from tackwatch.plan.model import Link, Placed, Plan, Project, Step

Ints = NDArray[np.int32]
WAIT_WEIGHT: Final = 1e-6
"""So that a job that is nothing but a wait is a job too, and a milestone is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Net:
    """What the dispatch reads; its columns and their order are named in `columns`.

    Attributes
    ----------
    row
        A step in each row, in the order of the dispatch.
    flat
        People, links, uses and zones of steps, where the columns of `row` point to.
    holds
        Units of each place that can be full.
    tables
        By end: cures, windows, and the next end from which a window can be met.
    hours, slot_of
        See `calendars.hours_of`.
    day, day_start
        The day of each slot; the first slot of each day, and the end.
    helper_at, helper
        Who may do what is found while doing a job: `helper[helper_at[job] : helper_at[job + 1]]`.
    scale
        Now; a piece of found work; by how much sooner somebody must be free to take a step over; how
        long a step is held back for a window; how many places and zones are looked at.
    """

    row: Ints
    flat: Ints
    holds: Ints
    tables: Ints
    hours: Ints
    slot_of: Ints
    day: Ints
    day_start: Ints
    helper_at: Ints
    helper: Ints
    scale: Ints

    def column(self, name: int) -> Ints:
        """Give a column of the steps."""
        return np.asarray(self.row[:, name])

    @property
    def jobs(self) -> int:
        """How many jobs there are."""
        return self.helper_at.size - 1

    @property
    def days(self) -> int:
        """How many days are looked at."""
        return self.day_start.size - 1

    def arrays(self) -> tuple[Ints, ...]:
        """Give the arrays in the order in which they are played."""
        return tuple(getattr(self, one.name) for one in fields(self))


@dataclass(frozen=True, slots=True)
class Jobs:
    """The jobs of the steps that are dispatched; all by the number of the job.

    Attributes
    ----------
    share_left
        How much of each is still to be done, by the record where that says it.
    labour
        People times slots of the whole job.
    begun
        Whether anything of each is under way or done.
    after
        Jobs that cannot be done without it.
    """

    ids: tuple[str, ...]
    share_left: NDArray[np.float64]
    labour: NDArray[np.float64]
    begun: NDArray[np.bool_]
    after: tuple[frozenset[int], ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """The steps in the order of the dispatch, and what is drawn for them."""

    steps: tuple[Step, ...]
    job: NDArray[np.intp]
    piece: NDArray[np.intp]
    left: Ints  # slots that each is reckoned to take from now on


def job_of(step: Step, record: Record) -> str:
    """Say to which job a step belongs."""
    return record.job_of.get(step.id, step.group or step.id)


def build(project: Project, plan: Plan, record: Record) -> tuple[Net, Jobs, Drawn]:
    """Make the arrays."""
    return _Builder(project, plan, record).build()


class _Builder:
    def __init__(self, project: Project, plan: Plan, record: Record) -> None:
        self.project, self.record = project, record
        self.placed: dict[str, Placed] = {one.step_id: one for one in plan.placed}
        wanted = needed(project)
        chosen = [step for step in project.steps if step.id in wanted]
        self.links = [one for one in project.links if {one.before, one.after} <= wanted]
        self.links_to: dict[str, list[Link]] = defaultdict(list)
        for link in self.links:
            self.links_to[link.after].append(link)
        start = {step.id: self.placed[step.id].start for step in chosen}
        self.steps = in_order(chosen, self.links, start)
        self.number = {step.id: n for n, step in enumerate(self.steps)}
        self.person = {one.id: n for n, one in enumerate(project.people)}
        self.slots_in_day = max(1, 86_400 // project.grid.slot_s)
        self.reach = Reach.of(project.grid.slots, project.grid.slot_s)
        self.masks = [np.ones(self.reach.n, dtype=np.bool_)]
        self.masks += [open_mask(one.open, self.reach) for one in project.people]
        self.joint: dict[tuple[int, ...], int] = {}
        self.job_number = _numbers(job_of(step, record) for step in self.steps)
        self.job = np.array(
            [self.job_number[job_of(step, record)] for step in self.steps], dtype=np.intp
        )
        self.zones = _numbers(z for step in self.steps for z in (*step.dust_in, *step.wet_in))
        self.tables: list[Ints] = []
        self.table_row: dict[tuple[str, str], int] = {}

    def build(self) -> tuple[Net, Jobs, Drawn]:
        people = [self._people(step) for step in self.steps]
        calendar = [self._calendar(who) for who in people]
        hours, slot_of = hours_of(self.masks)
        row = np.zeros((len(self.steps), k.COLUMNS), dtype=np.int32)
        row[:, k.CALENDAR] = calendar
        longest = hours[:, :-1, k.LEFT].max(axis=1)
        row[:, k.NEED] = [
            min(1 if step.group is not None else step.work, int(longest[c]))
            for step, c in zip(self.steps, calendar, strict=True)
        ]
        self._plain_columns(row)
        self._look_ahead(row, hours)
        day_start = day_starts(self.record.days, self.reach, self.project.grid.slot_s)
        day = np.searchsorted(day_start, np.arange(self.reach.n + 1), side="right") - 1
        half_day = max(1, self.slots_in_day // 6)  # of work: four hours
        helper = self._helpers()
        scarce = self._scarce()
        net = Net(
            row=row,
            flat=self._flat(row, people, scarce),
            holds=_ints(one.holds for one in self.project.places if one.id in scarce),
            tables=self._stacked(),
            hours=hours,
            slot_of=slot_of,
            day=day.astype(np.int32),
            day_start=day_start,
            helper_at=_ints([0, *np.cumsum([len(one) for one in helper])]),
            helper=_ints(p for one in helper for p in one),
            scale=_ints(
                [
                    max(self.record.now, 0),
                    half_day,
                    half_day,
                    2 * self.slots_in_day,
                    len(scarce) + 2 * len(self.zones),
                ]
            ),
        )
        return net, self._jobs(), self._drawn()

    def _plain_columns(self, row: Ints) -> None:
        steps, outdoors = self.steps, self.record.outdoors
        row[:, k.WORK] = [step.work for step in steps]
        row[:, k.EARLIEST] = _ints(s.fixed.start if s.fixed else s.earliest for s in steps)
        row[:, k.FIXED] = [step.fixed is not None for step in steps]
        row[:, k.FIXED_END] = [self.placed[step.id].end for step in steps]
        row[:, k.FIXED_LEFT] = [self._left(step) for step in steps]
        row[:, k.PLANNED] = [self.placed[step.id].start for step in steps]
        row[:, k.OUTDOORS] = [step.id in outdoors for step in steps]
        row[:, k.COUNTS] = [step.by_launch for step in steps]
        row[:, k.JOB] = self.job
        row[:, k.WINDOW] = [
            any(one.max_gap is not None or one.window_id for one in self.links_to[step.id])
            for step in steps
        ]
        row[:, k.DRY] = [self._table("dry", step.dry_id) for step in steps]

    def _flat(self, row: Ints, people: Sequence[Sequence[int]], scarce: Mapping[str, int]) -> Ints:
        """Put all that steps have several of into one array, and where it lies into their columns."""
        flat: list[int] = []
        for n, (step, crew) in enumerate(zip(self.steps, people, strict=True)):
            uses = [(scarce[u.place_id], u.units) for u in step.uses if u.place_id in scarce]
            parts: dict[int, Iterable[int]] = {
                k.PEOPLE: crew,
                k.OTHER: self._others(step, crew),
                k.LINK: (x for link in self.links_to[step.id] for x in self._link(link)),
                k.USE: (x for use in uses for x in use),
                k.DUST: (self.zones[z] for z in step.dust_in),
                k.WET: (self.zones[z] for z in step.wet_in),
            }
            for column, values in parts.items():
                row[n, column] = len(flat)
                flat.extend(values)
                row[n, column + 1] = len(flat)
        return _ints(flat)

    def _stacked(self) -> Ints:
        if not self.tables:
            return np.zeros((0, self.reach.n + 1), dtype=np.int32)
        return np.stack(self.tables).astype(np.int32)

    def _people(self, step: Step) -> list[int]:
        return sorted(self.person[one] for one in self.placed[step.id].people)

    def _others(self, step: Step, people: Sequence[int]) -> list[int]:
        if step.crew != 1 or step.fixed is not None:
            return []
        able = sorted(self.person[one] for one in step.able if one in self.person)
        return [one for one in able if one not in people]

    def _calendar(self, people: Sequence[int]) -> int:
        if len(people) < 2:
            return people[0] + 1 if people else 0
        key = tuple(people)
        if key not in self.joint:
            self.joint[key] = len(self.masks)
            self.masks.append(np.logical_and.reduce([self.masks[one + 1] for one in key]))
        return self.joint[key]

    def _helpers(self) -> list[list[int]]:
        able: list[set[int]] = [set() for _ in self.job_number]
        for n, step in enumerate(self.steps):
            able[self.job[n]].update(self.person[one] for one in step.able if one in self.person)
        everybody = set(self.person.values())
        return [sorted(one or everybody) for one in able]

    def _table(self, kind: str, name: str | None) -> int:
        if name is None:
            return -1
        key = (kind, name)
        if key not in self.table_row:
            tables, windows = self.project.tables, self.project.windows
            table = tables[name] if kind == "dry" else getattr(windows[name], kind)
            self.table_row[key] = len(self.tables) if table is not None else -1
            if table is not None:
                self.tables.append(longer(table, self.reach))
        return self.table_row[key]

    def _link(self, link: Link) -> tuple[int, ...]:
        return (
            self.number[link.before],
            link.min_gap,
            LATER if link.max_gap is None else link.max_gap,
            self._table("ready", link.window_id),
            self._table("last", link.window_id),
            link.missed_work or 0,
        )

    def _look_ahead(self, row: Ints, hours: Ints) -> None:
        fits: dict[int, NDArray[np.bool_]] = {}
        for link in self.links:
            self._link(link)  # so that all tables are there
            closes = self._closes(link)
            if closes is None or link.before in self.placed[link.after].missed:
                continue
            a, b = self.number[link.before], self.number[link.after]
            room = hours[row[b, k.CALENDAR], :, k.LEFT] >= max(1, row[b, k.NEED])
            opens = np.clip(self._opens(link), 0, self.reach.n)
            fit = _first_true(room)[opens] <= closes
            fits[a] = fits[a] & fit if a in fits else fit
        row[:, k.GOOD] = -1
        for a, fit in fits.items():
            row[a, k.GOOD] = len(self.tables)
            self.tables.append(_first_true(fit))

    def _opens(self, link: Link) -> Ints:
        opens = np.arange(self.reach.n + 1, dtype=np.int32) + link.min_gap
        ready = self._table("ready", link.window_id)
        return opens if ready < 0 else np.maximum(opens, self.tables[ready])

    def _closes(self, link: Link) -> Ints | None:
        last = self._table("last", link.window_id)
        if link.max_gap is None:
            return None if last < 0 else self.tables[last]
        closes = np.arange(self.reach.n + 1, dtype=np.int32) + link.max_gap
        return closes if last < 0 else np.minimum(closes, self.tables[last])

    def _scarce(self) -> dict[str, int]:
        most: dict[str, int] = defaultdict(int)
        for step in self.steps:
            for use in step.uses:
                most[use.place_id] += use.units
        return _numbers(one.id for one in self.project.places if most[one.id] > one.holds)

    def _jobs(self) -> Jobs:
        n = len(self.job_number)
        labour, left, begun = np.zeros(n), np.zeros(n), np.zeros(n, dtype=np.bool_)
        for job, step in zip(self.job, self.steps, strict=True):
            amount = step.work * (step.crew or WAIT_WEIGHT)
            labour[job] += amount
            left[job] += amount * self._share_left(step)
            begun[job] |= step.fixed is not None
        share = np.divide(left, labour, out=np.zeros(n), where=labour > 0)
        for one in self.record.found_while:
            if (known := self.job_number.get(one.job_id)) is not None:
                share[known], begun[known] = 1 - one.share, True
        for took in self.record.took:
            if (known := self.job_number.get(took.job_id)) is not None:
                begun[known] = True
        after: list[set[int]] = [set() for _ in range(n)]
        for link in self.links:
            a, b = (int(self.job[self.number[one]]) for one in (link.before, link.after))
            if a != b:
                after[a].add(b)
        every_after = tuple(frozenset(one) for one in after)
        return Jobs(tuple(self.job_number), share, labour, begun, every_after)

    def _share_left(self, step: Step) -> float:
        if step.fixed is None:
            return 1.0
        placed = self.placed[step.id]
        return min(1.0, self._left(step) / max(placed.end - placed.start, 1))

    def _left(self, step: Step) -> int:
        """Give the slots from now, or from its start, to its end by the plan."""
        placed = self.placed[step.id]
        return max(0, placed.end - max(self.record.now, placed.start))

    def _drawn(self) -> Drawn:
        piece = _numbers(step.group or f"step {step.id}" for step in self.steps)
        of_step = [piece[step.group or f"step {step.id}"] for step in self.steps]
        left = [step.work if step.fixed is None else self._left(step) for step in self.steps]
        return Drawn(tuple(self.steps), self.job, np.array(of_step, dtype=np.intp), _ints(left))


def _ints(values: Iterable[int]) -> Ints:
    return np.array([min(int(value), LATER) for value in values], dtype=np.int32)


def _numbers(names: Iterable[str]) -> dict[str, int]:
    return {name: n for n, name in enumerate(dict.fromkeys(names))}


def _first_true(true: NDArray[np.bool_]) -> Ints:
    """Give the first index at or after each at which it is true; LATER where there is none."""
    found = np.where(true, np.arange(true.size), LATER)
    return np.minimum.accumulate(found[::-1])[::-1].astype(np.int32)
