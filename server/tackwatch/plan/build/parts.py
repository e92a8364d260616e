"""The steps of a refit as steps of the model: what is done, under way, left, and in which pieces.

Rules
-----
* Finished, signed off and curing is done: a milestone at slot 0, kept only where somebody still waits for it.
* Somebody lays a coat right now: fixed at slot 0 for what is left of it, with those who are at it. Its
  paint was laid from the application's start on.
* A coat of which most was laid (`NEARLY` of its area, else of its estimate) and that nobody ticked is taken for
  done, and told. One that cures is done, unless its applications say that they cover less.
  Of one that was laid in part the rest is work, and what lies already keeps its clocks (`#laid`).
* Begun work goes on with its people, best at once. Links into it are met. A wait that has begun goes on
  by itself, for what is left of its hours.
* Held work waits for what is expected; where nobody knows when, it begins tomorrow at the earliest, and
  that is told. A hold does not stop a hand that is at it.
* A zone's units are people; a crew that is larger than its zone takes all of it, and is told.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Final, Literal
from zoneinfo import ZoneInfo

from tackwatch.plan.build.grid import SlotClock
from tackwatch.plan.build.work import (
    DUSTY,
    LAID,
    NOBODYS,
    Together,
    able_for,
    crew_of,
    done_share,
    lays,
    pieces_of,
    remaining_work,
    whole_work,
)
from tackwatch.plan.facts import Facts, RefitStep, Zone
from tackwatch.plan.model import Person, Slot, Step, Told, Use

NEARLY: Final = 0.75
Standing = Literal["done", "laying", "begun", "ahead"]


@dataclass(frozen=True, slots=True)
class Note:
    """Something that the plan had to take for granted, for people to put right."""

    step_id: str
    code: str


@dataclass(frozen=True, slots=True)
class Part:
    """A step of the refit in the model.

    Attributes
    ----------
    pieces
        The model's steps; of what is done one milestone.
    paths
        The slots along which the paint of each piece is laid.
    laid_id
        The milestone from which the clocks of what was laid count; None where nothing was.
    day
        The slots that its crew usually has in one go.
    """

    step: RefitStep
    standing: Standing
    pieces: tuple[Step, ...]
    paths: tuple[Slot, ...]
    laid_id: str | None
    notes: tuple[str, ...] = ()
    day: Slot = 0

    @property
    def ids(self) -> tuple[str, ...]:
        """The ids of its pieces."""
        return tuple(one.id for one in self.pieces)


class Parts:
    """Turns each step into its part.

    Parameters
    ----------
    facts : Facts
        The refit.
    people : mapping of str to Person
        The members, with their open spans.
    clock : SlotClock
        The slots.
    spare_of : mapping of str to int
        By step, the slots that must fit into a day beside its work.
    """

    def __init__(
        self,
        facts: Facts,
        people: Mapping[str, Person],
        clock: SlotClock,
        spare_of: Mapping[str, Slot],
    ) -> None:
        self._facts = facts
        self._people = dict(people)
        self._together = Together(people.values())
        self._clock = clock
        self._spare_of = spare_of
        self._zones: dict[str, Zone] = {zone.id: zone for zone in facts.zones}
        local = facts.now_at.astimezone(ZoneInfo(facts.time_zone))
        midnight = (local + timedelta(days=1)).replace(hour=0, minute=0, second=0, microsecond=0)
        self._tomorrow = clock.up(midnight)

    def part(self, step: RefitStep) -> Part:
        """Turn a step into its part."""
        standing = standing_of(step, self._area_m2(step))
        if standing == "done":
            done = Step(step.id, 0, crew=0, by_launch=False, fixed=Told(0, ()))
            notes = (
                () if step.state in ("finished", "signed_off", "curing") else ("looks_finished",)
            )
            return Part(step, standing, (done,), (0,), step.id if step.laid else None, notes)
        if standing == "laying":
            return self._laying(step)
        if standing == "begun" and step.kind in NOBODYS:
            return self._going_on(step)
        return self._ahead(step, standing)

    def _going_on(self, step: RefitStep) -> Part:
        """Fix what goes on by itself: it ends when its hours have gone by."""
        gone = 0 if step.started_at is None else max(0, -self._clock.down(step.started_at))
        work = max(1, whole_work(step) - gone)
        one = replace(self._step(step, step.id, work), fixed=Told(0, ()))
        return Part(step, "begun", (one,), (work,), None)

    def _laying(self, step: RefitStep) -> Part:
        assert step.laid is not None  # noqa: S101
        gone = max(0, -self._clock.down(step.laid.start_at))
        work = max(1, whole_work(step) - gone)
        named = step.at_it or step.assignees
        people = tuple(id_ for id_ in named if id_ in self._people)
        one = replace(self._step(step, step.id, work), able=(), fixed=Told(0, people), told=None)
        return Part(step, "laying", (one,), (work + gone,), None, ())

    def _ahead(self, step: RefitStep, standing: Standing) -> Part:
        able = able_for(step, self._facts.members)
        crew = crew_of(step)
        notes = []
        if step.labour_h is None and step.kind not in NOBODYS:
            notes.append("no_estimate")
        if len(able) < crew:
            notes.append("nobody_able")
        if step.held and (step.expected_at is None or step.expected_at <= self._facts.now_at):
            notes.append("held_unknown")
        day = self._together.longest(able, crew)
        spare = min(self._spare_of.get(step.id, 0), day // 2)
        work = remaining_work(step, self._area_m2(step))
        works = pieces_of(work, step.kind not in LAID, day, spare) if crew else (work,)
        ids = [step.id] if len(works) == 1 else [f"{step.id}#{i}" for i in range(1, len(works) + 1)]
        pieces = []
        for i, (id_, length) in enumerate(zip(ids, works, strict=True)):
            one = replace(
                self._step(step, id_, length),
                able=able,
                group=step.id if len(works) > 1 else None,
                told=self._told(step, standing, i, len(works)),
            )
            pieces.append(one)
        laid_id = f"{step.id}#laid" if step.laid and lays(step) else None
        if pieces[0].uses and pieces[0].uses[0].units < crew:
            notes.append("crew_over_zone")
        return Part(step, standing, tuple(pieces), works, laid_id, tuple(notes), day)

    def _step(self, step: RefitStep, id_: str, work: Slot) -> Step:
        crew = crew_of(step)
        zone = self._zones.get(step.zone_id or "")
        uses: tuple[Use, ...] = ()
        if zone is not None and zone.holds is not None and crew:
            uses = (Use(zone.id, min(crew, zone.holds)),)
        there = (step.zone_id,) if step.zone_id is not None else ()
        return Step(
            id=id_,
            work=work,
            crew=crew,
            uses=uses,
            dust_in=there if step.kind in DUSTY else (),
            wet_in=there if step.kind in LAID else (),
            by_launch=not step.afloat_ok,
            earliest=self._earliest(step),
            walk_zone=step.zone_id if crew and step.kind != "trip" else None,
        )

    def _area_m2(self, step: RefitStep) -> float | None:
        zone = self._zones.get(step.zone_id or "")
        return step.area_m2 if step.area_m2 is not None or zone is None else zone.area_m2

    def _earliest(self, step: RefitStep) -> Slot:
        if not step.held:
            return 0
        if step.expected_at is None or step.expected_at <= self._facts.now_at:
            return self._tomorrow
        return self._clock.up(step.expected_at)

    def _told(self, step: RefitStep, standing: Standing, i: int, n: int) -> Told | None:
        """Give what people were told of a piece; where the pieces are others now, of the first alone."""
        if standing == "begun":
            return self._go_on(step) if i == 0 else None
        if not step.told or (len(step.told) != n and i > 0):
            return None
        told = step.told[i]
        people = tuple(id_ for id_ in told.member_ids if id_ in self._people)
        return Told(self._clock.down(told.start_at), people)

    def _go_on(self, step: RefitStep) -> Told | None:
        """Have those who began go on as soon as one of them is there."""
        named = step.told[-1].member_ids if step.told else step.assignees
        people = tuple(id_ for id_ in named if id_ in self._people)
        starts = [self._people[id_].open[0][0] for id_ in people if self._people[id_].open]
        return Told(min(starts), people) if starts else None


def standing_of(step: RefitStep, area_m2: float | None = None) -> Standing:
    """Say where a step stands for the plan.

    Parameters
    ----------
    step : RefitStep
        The step.
    area_m2 : float, optional
        What it is to cover.
    """
    if step.state in ("finished", "signed_off"):
        return "done"
    if step.laid is not None and step.laid.end_at is None:
        return "laying"
    in_part = step.laid is not None and lays(step) and done_share(step, area_m2) < NEARLY
    if step.state == "curing":
        known = step.laid is not None and step.laid.area_m2 is not None and bool(area_m2)
        return "begun" if in_part and known else "done"
    if step.laid is not None and lays(step) and not in_part:
        return "done"
    return "begun" if step.state == "under_way" else "ahead"
