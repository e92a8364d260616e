"""The rows that a plan rests on, read in one go, and what is derived of them as phones show it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from tackwatch.merge.state import Item, Record
from tackwatch.plan.build.parts import Standing, standing_of
from tackwatch.plan.facts import RefitStep
from tackwatch.store import refits, rows
from tackwatch.store.db import writing
from tackwatch.trade.steps import Mark, State, StepState
from tackwatch.trade.steps import standing_of as standing_by_marks
from tackwatch.work.errors import NotFoundError
from tackwatch.work.planning.laid import laid_of, profile_in
from tackwatch.work.reckon import ITEM_KINDS, RECORD_KINDS
from tackwatch.work.reckoning.rows import RefitRows, at_of
from tackwatch.work.reckoning.sources import Source, sources_of
from tackwatch.work.reckoning.step_states import StepStates

KINDS = (*ITEM_KINDS, "skill", "away")
LOGGED = (*RECORD_KINDS, "hours")
WORKS = frozenset({"owner", "hand"})


@dataclass(frozen=True, eq=False)
class PlanRows:
    """The rows of a refit at an instant; ``seq`` is the refit's counter as they were read."""

    refit_id: str
    seq: int
    now: datetime
    items: tuple[Item, ...]
    records: tuple[Record, ...]

    @cached_property
    def sorted(self) -> RefitRows:
        """The rows sorted by what they are for."""
        return RefitRows(self.items, self.records)

    @cached_property
    def refit(self) -> Item:
        """The refit's own item."""
        return self.sorted.items["refit"][self.refit_id]

    @cached_property
    def jobs(self) -> dict[str, Item]:
        """The jobs that stand."""
        return self.sorted.live("job")

    @cached_property
    def steps(self) -> dict[str, Item]:
        """The steps that stand, of jobs that stand."""
        live = self.sorted.live("step").items()
        return {id_: step for id_, step in live if step.fields["job_id"] in self.jobs}

    @cached_property
    def workers(self) -> dict[str, Item]:
        """The members who work on the boat."""
        members = self.sorted.live("member").items()
        return {id_: one for id_, one in members if one.fields.get("role") in WORKS}

    @cached_property
    def coats(self) -> dict[str, list[Source]]:
        """The coats of each step."""
        found: dict[str, list[Source]] = defaultdict(list)
        for source in sources_of(self.sorted, self.now):
            if source.step_id is not None and not source.is_pot:
                found[source.step_id].append(source)
        return dict(found)

    @cached_property
    def states(self) -> dict[str, StepState]:
        """The state of each step."""
        return StepStates(self.sorted, self.coats, self.now).all()

    @cached_property
    def hours(self) -> dict[str, float]:
        """The person-hours that were logged on each step."""
        found: dict[str, float] = defaultdict(float)
        for one in self.sorted.standing("hours"):
            body = one.record.body
            if body.get("step_id"):
                found[body["step_id"]] += float(body["minutes"]) / 60
        return dict(found)

    @cached_property
    def ticked(self) -> dict[str, datetime]:
        """When each step was last ticked as finished."""
        return self._marked("finished")

    @cached_property
    def started(self) -> dict[str, datetime]:
        """When each step was last said to have begun."""
        return self._marked("started")

    def _marked(self, mark: str) -> dict[str, datetime]:
        found: dict[str, datetime] = {}
        for one in self.sorted.standing("mark"):
            body = one.record.body
            if body["mark"] == mark:
                at = at_of(body["marked_at"])
                found[body["step_id"]] = max(at, found.get(body["step_id"], at))
        return found

    @cached_property
    def laid_m2(self) -> dict[str, float]:
        """The area that the applications of a step cover together, where each of them says it."""
        found: dict[str, float] = {}
        unsaid = set()
        for one in self.sorted.standing("application"):
            body = one.record.body
            step_id, area_m2 = body["step_id"], body.get("area_m2")
            if area_m2 is None:
                unsaid.add(step_id)
            else:
                found[step_id] = found.get(step_id, 0.0) + float(area_m2)
        return {id_: area_m2 for id_, area_m2 in found.items() if id_ not in unsaid}

    @cached_property
    def standings(self) -> dict[str, Standing]:
        """Where each step stands for the plan."""
        return {id_: self._standing(step) for id_, step in self.steps.items()}

    def is_done(self, step_id: str) -> bool:
        """Say whether nothing is left to do of a step, as the plan takes it."""
        return self.standings[step_id] == "done"

    def has_begun(self, step_id: str) -> bool:
        """Say whether a step is under way, or was laid in part and cures."""
        return self.standings[step_id] in ("begun", "laying")

    def state_of(self, step_id: str) -> State:
        """Give the state by which the plan goes: what somebody ticked is finished, also while it cures."""
        state = self.states[step_id].state
        return "finished" if state == "curing" and step_id in self._said_finished else state

    @cached_property
    def _said_finished(self) -> frozenset[str]:
        marks: dict[str, list[Mark]] = defaultdict(list)
        for one in self.sorted.standing("mark"):
            body = one.record.body
            marks[body["step_id"]].append(Mark(body["mark"], at_of(body["marked_at"])))
        said = {id_: standing_by_marks(ones) for id_, ones in marks.items()}
        return frozenset(id_ for id_, standing in said.items() if standing == "finished")

    def product_of(self, step: Item) -> Item | None:
        """Give the product that a step names."""
        return self.sorted.items["product"].get(step.fields.get("product_id") or "")

    def _standing(self, step: Item) -> Standing:
        coats, fields = self.coats.get(step.id, []), step.fields
        zone_id = self.jobs[fields["job_id"]].fields.get("zone_id")
        zone = self.sorted.live("zone").get(zone_id or "")
        seen = RefitStep(
            step.id,
            str(fields["job_id"]),
            str(fields["kind"]),
            state=self.state_of(step.id),
            labour_h=fields.get("labour_h"),
            worked_h=self.hours.get(step.id, 0.0),
            crew_size=int(fields.get("crew_size") or 1),
            profile=profile_in(self.product_of(step)) if coats else None,
            laid=laid_of(step, coats, self.laid_m2.get(step.id)),
        )
        return standing_of(seen, None if zone is None else zone.fields.get("area_m2"))


def read(refit_id: str, now: datetime) -> PlanRows:
    """Read a refit's rows as they stand together.

    Raises
    ------
    NotFoundError
        When there is no such refit.
    """
    with writing():
        refit = refits.lock(refit_id)
        if refit is None:
            raise NotFoundError("unknown-refit", "There is no such refit.")
        return read_locked(refit_id, refit.seq, now)


def read_locked(refit_id: str, seq: int, now: datetime) -> PlanRows:
    """As ``read``, by a caller who holds the refit's lock."""
    items, records = rows.items(refit_id, KINDS), rows.records(refit_id, LOGGED)
    return PlanRows(refit_id, seq, now, tuple(items), tuple(records))


def skills_of(item: Item, known: Iterable[str]) -> frozenset[str]:
    """Give the skills that a person has or a step asks for, as far as there are such skills."""
    return frozenset(item.sets.get("skills", {})) & frozenset(known)
