"""From the facts of a refit to the project that is searched for a plan.

Theory
------
The model knows nothing of paint, wall clocks and skills: only slots, spans and tables. All that is
particular to the trade is decided here, once, so that the engine, the forecast and the checker see
one and the same project.

Rules
-----
* See `grid`, `hours`, `work`, `parts`, `links`, `windows`, `missed` and `horizon`.
* What is done and has no bearing on what is left is dropped.
* A step that leaves something wet keeps its zone from dust until it is touch dry on the slow edge.
* Weather is not planned, since nobody knows it; the forecast draws it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from tackwatch.plan.build.grid import DAY_SLOTS, SLOT_S, SlotClock, clock_from
from tackwatch.plan.build.horizon import MOST, GapOf, horizon
from tackwatch.plan.build.hours import open_spans
from tackwatch.plan.build.links import Links, missed_of_links
from tackwatch.plan.build.parts import Note, Part, Parts
from tackwatch.plan.build.stages import cure_ends, opening_of
from tackwatch.plan.build.windows import CureTables
from tackwatch.plan.build.work import lays
from tackwatch.plan.facts import Facts, RefitLink
from tackwatch.plan.model import Grid, Link, Person, Place, Project, Slot, Step, Table, Told
from tackwatch.trade.edges import stage_known


@dataclass(frozen=True, eq=False)
class Built:
    """A project, and what leads back from it to the refit.

    Attributes
    ----------
    parts
        By the refit's step: its pieces in the project, what is done with them.
    notes
        What had to be taken for granted.
    """

    facts: Facts
    project: Project
    clock: SlotClock
    parts: Mapping[str, Part]
    notes: tuple[Note, ...]


def build(facts: Facts) -> Built:
    """Make the project of a refit.

    Parameters
    ----------
    facts : Facts
        The refit as it stands.

    Raises
    ------
    CircleError
        When steps wait for one another in a circle.
    """
    clock = clock_from(facts.now_at)
    far = _people(facts, clock, MOST * DAY_SLOTS)
    costs, notes = missed_of_links(facts)
    spare: dict[str, Slot] = {}
    for (
        _,
        after_id,
    ) in costs:  # a slot for each window that may be missed, and one for what lies already
        spare[after_id] = spare.get(after_id, 0) + 2
    maker = Parts(facts, far, clock, spare)
    parts = {step.id: maker.part(step) for step in facts.steps}
    launch = clock.down(facts.launch_at)
    slots = horizon(parts, facts.links, far, launch, _gaps(facts, clock, parts))
    tables = CureTables(facts.track, facts.band, clock, slots, _back(parts))
    links = Links(facts, parts, tables, clock, costs)
    all_links = tuple(links.all())
    steps, drying = _steps(parts, all_links, tables, clock, slots)
    ids = {step.id for step in steps}
    project = Project(
        grid=Grid(clock.origin_s, SLOT_S, slots),
        launch=launch,
        steps=steps,
        links=tuple(one for one in all_links if one.before in ids and one.after in ids),
        people=tuple(_cut(person, slots) for person in far.values()),
        places=tuple(Place(zone.id, zone.holds) for zone in facts.zones if zone.holds is not None),
        windows=links.windows,
        tables=drying,
    )
    own = [Note(part.step.id, code) for part in parts.values() for code in part.notes]
    return Built(facts, project, clock, parts, tuple(dict.fromkeys([*own, *notes, *links.notes])))


def _people(facts: Facts, clock: SlotClock, slots: Slot) -> dict[str, Person]:
    zone = ZoneInfo(facts.time_zone)
    return {
        one.id: Person(one.id, open_spans(one, facts.closed, zone, clock, slots))
        for one in facts.members
    }


def _cut(person: Person, slots: Slot) -> Person:
    spans = tuple((begin, min(end, slots)) for begin, end in person.open if begin < slots)
    return Person(person.id, spans)


def _back(parts: Mapping[str, Part]) -> Slot:
    """Give the slots before slot 0 at which the first paint of any path may have been laid."""
    return max([1, *(path for part in parts.values() for path in part.paths)]) + 1


def _gaps(facts: Facts, clock: SlotClock, parts: Mapping[str, Part]) -> GapOf:
    """Give what tells the longest gap of a link by the paint of the first two days."""
    tables = CureTables(facts.track, facts.band, clock, 2 * DAY_SLOTS, 0)

    def gap_of(link: RefitLink) -> Slot:
        before, after = parts[link.after_id], parts[link.step_id]
        gap = -int(-link.min_gap_s // SLOT_S)
        profile = before.step.profile
        if before.standing == "done" or profile is None or not lays(before.step):
            return gap
        stages = (opening_of(profile, after.step.kind),) if link.by_cure else cure_ends(profile, ())
        known = [tables.latest_gap(profile, stage, DAY_SLOTS) for stage in stages if stage]
        return max([gap, *known])

    return gap_of


def _steps(
    parts: Mapping[str, Part],
    links: tuple[Link, ...],
    tables: CureTables,
    clock: SlotClock,
    slots: Slot,
) -> tuple[tuple[Step, ...], dict[str, Table]]:
    """Give the steps of the model, and the tables of drying that they name."""
    asked = {link.before for link in links}
    steps: list[Step] = []
    drying: dict[str, Table] = {}
    for part in parts.values():
        if part.laid_id is not None:
            milestone, dry = _laid(part, clock, slots)
            if dry is not None:
                drying[f"{part.laid_id} dry"] = dry
            if dry is not None or part.laid_id in asked:
                steps.append(milestone)
        if part.standing == "done":
            if part.laid_id is None and part.ids[0] in asked:
                steps.append(part.pieces[0])
            continue
        profile = part.step.profile
        for piece in part.pieces:
            one = piece
            if profile is not None and lays(part.step) and stage_known(profile, "touch_dry"):
                id_ = tables.opens(profile, "touch_dry", 0)
                drying[id_] = tables.tables[id_]
                one = replace(one, dry_id=id_)
            steps.append(one)
    return tuple(steps), drying


def _laid(part: Part, clock: SlotClock, slots: Slot) -> tuple[Step, Table | None]:
    """Give the milestone of what was laid, and where its zone is still wet until when."""
    assert part.laid_id is not None  # noqa: S101
    laid = part.step.laid
    milestone = replace(part.pieces[0], id=part.laid_id)
    if part.standing != "done":
        milestone = Step(part.laid_id, 0, crew=0, by_launch=False, fixed=Told(0, ()))
    dry_at: datetime | None = None
    for one in laid.clocks if laid is not None else ():
        if one.stage == "touch_dry":
            dry_at = one.governing_at
    if dry_at is None or clock.up(dry_at) <= 0 or part.step.zone_id is None:
        return milestone, None
    wet = replace(milestone, wet_in=(part.step.zone_id,), dry_id=f"{part.laid_id} dry")
    return wet, np.full(slots + 1, clock.up(dry_at), dtype=np.int64)
