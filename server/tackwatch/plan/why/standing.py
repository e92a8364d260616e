"""What a step would break if it stood elsewhere, while all others stay where they are.

Rules
-----
* The rules are those at the head of `model`. Each thing in the way says what it is, until when it is in the way,
  and whose it is: the step, the person.
* A move that changes which windows other steps miss is in the way of those: they would take longer, or less long.
* Where no people are named, any crew of those who are able will do.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from tackwatch.plan.model import Link, Placed, Project, Slot, Span, Step, Table

STRETCH: Final = 96

InTheWay = Literal[
    "past", "horizon", "part", "cure", "after", "gap", "zone", "hours", "person", "window"
]


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Something in the way of a step.

    Attributes
    ----------
    until
        The slot from which on it is in the way no more; of a `window`, the last start that it would leave to
        `step_id`. None where that is not one slot.
    """

    code: InTheWay
    step_id: str | None = None
    person_id: str | None = None
    until: Slot | None = None


class Standing:
    """A plan in which single steps are looked at.

    Parameters
    ----------
    project : Project
        What was planned.
    placed : sequence of Placed
        Where the steps stand.
    """

    def __init__(self, project: Project, placed: Sequence[Placed]) -> None:
        self.project = project
        self.at = {one.step_id: one for one in placed}
        self._into: dict[str, list[Link]] = defaultdict(list)
        self._out: dict[str, list[Link]] = defaultdict(list)
        for link in project.links:
            if project.step_of[link.after].fixed is None:
                self._into[link.after].append(link)
                self._out[link.before].append(link)
        self._holds = {place.id: place.holds for place in project.places}
        self._there: dict[str, list[Step]] = defaultdict(list)
        self._dusty: dict[str, list[Step]] = defaultdict(list)
        self._wet: dict[str, list[Step]] = defaultdict(list)
        for step in project.steps:
            for use in step.uses:
                self._there[use.place_id].append(step)
            for zone in step.dust_in:
                self._dusty[zone].append(step)
            for zone in step.wet_in:
                self._wet[zone].append(step)
        self._begins = {one.id: [begin for begin, _ in one.open] for one in project.people}
        self._theirs: dict[tuple[str, int], set[str]] = defaultdict(set)  # by person and stretch
        for one in placed:
            for id_ in one.people:
                for n in _stretches(one.start, one.end):
                    self._theirs[id_, n].add(one.step_id)

    def in_the_way(
        self, step_id: str, start: Slot, people: Sequence[str] | None = None
    ) -> list[Obstacle]:
        """Name all that forbids a step to begin at a slot.

        Parameters
        ----------
        step_id : str
            A step that is not fixed.
        start : int
            The slot.
        people : sequence of str, optional
            Who would do it; None: whoever can.
        """
        step = self.project.step_of[step_id]
        end = start + self._length(step_id, start)
        found = list(self._of_grid(step, start, end))
        found += self._before(step, start)
        found += self._behind(step, end)
        found += self._places(step, start, end)
        found += self._dust(step, start, end)
        if people is None:
            found += self._any_crew(step, start, end)
        else:
            found += [one for id_ in people for one in self._of_person(step, id_, start, end)]
        return found

    def opens(self, link: Link) -> Slot:
        """Give the first start that a link leaves to the step after it."""
        return self._opens(link, self.at[link.before].end)

    def closes(self, link: Link) -> Slot | None:
        """Give the last start that a link leaves to the step after it; None: any."""
        return self._closes(link, self.at[link.before].end)

    def _opens(self, link: Link, end: Slot) -> Slot:
        opens = end + link.min_gap
        if link.window_id is not None:
            opens = max(opens, _entry(self.project.windows[link.window_id].ready, end))
        return opens

    def _closes(self, link: Link, end: Slot) -> Slot | None:
        closes = [] if link.max_gap is None else [end + link.max_gap]
        last = None if link.window_id is None else self.project.windows[link.window_id].last
        if last is not None:
            closes.append(_entry(last, end))
        return min(closes, default=None)

    def _missed(self, step_id: str, start: Slot) -> list[Link]:
        return [
            link
            for link in self._into[step_id]
            if link.missed_work is not None and _past(start, self.closes(link))
        ]

    def _length(self, step_id: str, start: Slot) -> Slot:
        more = sum(link.missed_work or 0 for link in self._missed(step_id, start))
        return self.project.step_of[step_id].work + more

    def _of_grid(self, step: Step, start: Slot, end: Slot) -> Iterator[Obstacle]:
        if start < 0:
            yield Obstacle("past", until=0)
        if end > self.project.grid.slots:
            yield Obstacle("horizon")
        if start < step.earliest:
            yield Obstacle("part", until=step.earliest)

    def _before(self, step: Step, start: Slot) -> Iterator[Obstacle]:
        for link in self._into[step.id]:
            opens, closes = self.opens(link), self.closes(link)
            if start < opens:
                waits = self.at[link.before].end + link.min_gap < opens
                yield Obstacle("cure" if waits else "after", link.before, until=opens)
            if link.missed_work is None and _past(start, closes):
                yield Obstacle("gap", link.before)

    def _behind(self, step: Step, end: Slot) -> Iterator[Obstacle]:
        stood = self.at[step.id].end
        for link in self._out[step.id]:
            start = self.at[link.after].start
            if start < self._opens(link, end):
                yield Obstacle("gap", link.after)
            misses, missed = (
                _past(start, self._closes(link, end)),
                _past(start, self._closes(link, stood)),
            )
            if misses if link.missed_work is None else misses != missed:
                yield Obstacle("window", link.after, until=self._closes(link, end))

    def _places(self, step: Step, start: Slot, end: Slot) -> Iterator[Obstacle]:
        for use in step.uses:
            room = self._holds[use.place_id] - use.units
            others = [
                (self.at[other.id], sum(u.units for u in other.uses if u.place_id == use.place_id))
                for other in self._there[use.place_id]
                if other.id != step.id
            ]
            here = [(one, n) for one, n in others if _overlap((one.start, one.end), (start, end))]
            for moment in sorted({start, *(one.start for one, _ in here)}):
                full = [(one, n) for one, n in here if one.start <= moment < one.end]
                if start <= moment < end and sum(n for _, n in full) > room:
                    last = max((one for one, _ in full), key=lambda one: one.end)
                    yield Obstacle("zone", last.step_id, until=last.end)
                    break

    def _dust(self, step: Step, start: Slot, end: Slot) -> Iterator[Obstacle]:
        for zone in step.dust_in:
            for other in self._wet[zone]:
                paint = self.at[other.id]
                dry = self._dry(other, paint.end)
                if other is not step and _overlap((start, end), (paint.start, dry)):
                    yield Obstacle("zone", other.id, until=dry)
        for zone in step.wet_in:
            for other in self._dusty[zone]:
                dust = self.at[other.id]
                wet = (start, self._dry(step, end))
                if other is not step and _overlap((dust.start, dust.end), wet):
                    yield Obstacle("zone", other.id, until=dust.end)

    def _dry(self, step: Step, end: Slot) -> Slot:
        return end if step.dry_id is None else _entry(self.project.tables[step.dry_id], end)

    def _of_person(self, step: Step, id_: str, start: Slot, end: Slot) -> Iterator[Obstacle]:
        if id_ not in step.able or id_ not in self.project.person_of:
            yield Obstacle("person", person_id=id_)
            return
        if not self._is_open(id_, start, end):
            yield Obstacle("hours", person_id=id_)
        others = {other for n in _stretches(start, end) for other in self._theirs.get((id_, n), ())}
        for other_id in sorted(others - {step.id}):
            other = self.at[other_id]
            if _overlap((start, end), (other.start, other.end)):
                yield Obstacle("person", other_id, id_, other.end)

    def _any_crew(self, step: Step, start: Slot, end: Slot) -> Iterator[Obstacle]:
        if not step.crew:
            return
        known = [id_ for id_ in step.able if id_ in self.project.person_of]
        there = [id_ for id_ in known if self._is_open(id_, start, end)]
        if len(there) < step.crew:
            yield Obstacle("hours")
            return
        busy = {id_: list(self._of_person(step, id_, start, end)) for id_ in there}
        if sum(not ones for ones in busy.values()) < step.crew:
            mine = self.at[step.id].people
            whole = [(id_ in mine, one) for id_, ones in busy.items() for one in ones]
            yield max(whole, key=lambda x: (x[0], x[1].until or 0, x[1].person_id or ""))[1]

    def _is_open(self, id_: str, start: Slot, end: Slot) -> bool:
        n = bisect_right(self._begins[id_], start) - 1
        return n >= 0 and end <= self.project.person_of[id_].open[n][1]


def _stretches(start: Slot, end: Slot) -> range:
    """Number the stretches of time that a span touches."""
    return range(start // STRETCH, max(start, end - 1) // STRETCH + 1)


def hours_allow(project: Project, step: Step, start: Slot) -> bool:
    """Say whether enough of those who are able are there for a step's work from a slot on."""
    people: Mapping[str, object] = project.person_of
    spans: list[tuple[Span, ...]] = [project.person_of[a].open for a in step.able if a in people]
    end = start + step.work
    there = sum(any(begin <= start and end <= close for begin, close in one) for one in spans)
    return there >= step.crew


def _past(start: Slot, closes: Slot | None) -> bool:
    return closes is not None and start > closes


def _entry(table: Table, end: Slot) -> Slot:
    return int(table[min(max(end, 0), len(table) - 1)])


def _overlap(left: Span, right: Span) -> bool:
    return max(left[0], right[0]) < min(left[1], right[1])
