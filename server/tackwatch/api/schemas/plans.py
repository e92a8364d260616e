"""Plans: what is asked, and what is answered; docs/plan.md says what it means."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields

from tackwatch.api.schemas.fields import Given, text
from tackwatch.merge.values import Field
from tackwatch.work.plans import LEAST_SECONDS, MOST_SECONDS, SECONDS

_INSTANT: dict[str, Any] = {"format": "date-time"}
_DAY: dict[str, Any] = {"format": "date"}
_OBJECT = {"type": "object"}
_STATES = ["asked", "running", "ready", "published", "cancelled", "failed"]
_WHY = ["asked", "found_job", "step_late", "reading", "away", "fields", "launch"]


def _at(*, none: bool = True) -> fields.Str:
    return fields.Str(required=True, allow_none=none, metadata=_INSTANT)


def _id(*, none: bool = False) -> fields.Str:
    return fields.Str(required=True, allow_none=none)


def _count(*, none: bool = False) -> fields.Int:
    return fields.Int(required=True, allow_none=none)


def _number(*, none: bool = False) -> fields.Float:
    return fields.Float(required=True, allow_none=none)


def _ids() -> fields.List[str]:
    return fields.List(fields.Str(), required=True)


def _on() -> fields.Str:
    return fields.Str(required=True, allow_none=True, metadata=_DAY)


class PlanAskedSchema(Schema):
    """How long may be searched."""

    seconds = Given(
        Field("whole", least=LEAST_SECONDS, most=MOST_SECONDS, required=True), load_default=SECONDS
    )


class PublishAskedSchema(Schema):
    """Which proposal is given to the crew."""

    proposal_id = text(40, required=True)


class ProgressSchema(Schema):
    """How far a plan is."""

    p_done = _number()
    phase = fields.Str(
        required=True, metadata={"enum": ["reading", "building", "searching", "forecasting"]}
    )
    late_s = _number(none=True)
    missed = _count(none=True)


class PlanProblemSchema(Schema):
    """Why a plan failed."""

    code = fields.Str(required=True)
    step_id = fields.Str(allow_none=True)


class GivenSchema(Schema):
    """Of how many steps something changed as a plan was given to the crew, the start, the people."""

    steps_n = _count()
    starts_n = _count()
    people_n = _count()


class PlanHeadSchema(Schema):
    """A plan without its proposals."""

    plan_id = _id()
    state = fields.Str(required=True, metadata={"enum": _STATES})
    asked_at = _at(none=False)
    asked_by = _id(none=True)
    why = fields.List(fields.Str(metadata={"enum": _WHY}), required=True)
    seconds = _count()
    progress = fields.Nested(ProgressSchema, required=True, allow_none=True)
    based_on_version = _count(none=True)
    done_at = _at()
    published_at = _at()
    published_by = _id(none=True)
    published_id = _id(none=True)
    given = fields.Nested(GivenSchema, required=True, allow_none=True)
    problem = fields.Nested(PlanProblemSchema, required=True, allow_none=True)


class PlansSchema(Schema):
    """A refit's plans, the newest first."""

    plans = fields.List(fields.Nested(PlanHeadSchema), required=True)


class ScoreSchema(Schema):
    """How good a proposal is, the weightier first; less is better."""

    late_s = _number()
    missed_work_s = _number()
    moved = _count()
    idle_and_walks_s = _number()
    uneven_s = _number()


class ReasonSchema(Schema):
    """Why a step stands where it stands."""

    code = fields.Str(required=True)
    params = fields.Raw(required=True, metadata=_OBJECT)


class PieceSchema(Schema):
    """Work in one go."""

    start_at = _at(none=False)
    end_at = _at(none=False)
    member_ids = _ids()


class PlannedStepSchema(PieceSchema):
    """Where a step stands in a proposal."""

    step_id = _id()
    pieces = fields.List(fields.Nested(PieceSchema), required=True)
    why = fields.Nested(ReasonSchema, required=True, allow_none=True)
    cure_until_at = _at()
    opens_at = _at()
    closes_at = _at()
    missed = fields.Bool(required=True)


class ChangeSchema(Schema):
    """What would be other than the crew was told."""

    step_id = _id()
    member_ids_before = _ids()
    member_ids_after = _ids()
    start_at_before = _at()
    start_at_after = _at()
    end_at_before = _at()
    end_at_after = _at()


class ProposalSchema(Schema):
    """One way to do the work."""

    id = fields.Str(required=True, metadata={"enum": ["fresh", "keeps_times", "keeps_order"]})
    score = fields.Nested(ScoreSchema, required=True)
    launch_made = fields.Bool(required=True)
    late_bound_s = _number(none=True)
    steps = fields.List(fields.Nested(PlannedStepSchema), required=True)
    changes = fields.List(fields.Nested(ChangeSchema), required=True)


class CannotSchema(Schema):
    """What stands against the launch, or what leaving something out would buy."""

    step_ids = _ids()
    code = fields.Str(required=True)
    params = fields.Raw(required=True, metadata=_OBJECT)
    buys_on = _on()


class NoteSchema(Schema):
    """A step of which something was taken for granted."""

    step_id = _id()
    code = fields.Str(required=True)


class CriticalSchema(Schema):
    """How often a job decides the end."""

    job_id = _id()
    p_critical = _number()


class DoneSchema(Schema):
    """Labour done by the end of a day, added up."""

    on = fields.Str(required=True, metadata=_DAY)
    labour_h = _number()


class FanSchema(Schema):
    """Labour that will be done by the end of a day, added up."""

    on = fields.Str(required=True, metadata=_DAY)
    p10_h = _number()
    p50_h = _number()
    p90_h = _number()


class BurnUpSchema(Schema):
    """Labour done, to come, and all there is."""

    done = fields.List(fields.Nested(DoneSchema), required=True)
    fan = fields.List(fields.Nested(FanSchema), required=True)
    scope_h = _number()


class ForecastSchema(Schema):
    """When the work before the launch will be done."""

    p_launch = _number()
    p10_on = _on()
    p50_on = _on()
    p90_on = _on()
    says = _ids()
    r = _number()
    r_low = _number()
    r_high = _number()
    r_from = fields.Str(required=True, metadata={"enum": ["prior", "record"]})
    never_ends = fields.Bool(required=True)
    criticality = fields.List(fields.Nested(CriticalSchema), required=True)
    to_move = _ids()
    p_with_move = _number(none=True)
    burn_up = fields.Nested(BurnUpSchema, required=True, allow_none=True)


class PlanSchema(PlanHeadSchema):
    """A plan with all that came of it."""

    proposals = fields.List(fields.Nested(ProposalSchema), required=True)
    cannot = fields.List(fields.Nested(CannotSchema), required=True)
    notes = fields.List(fields.Nested(NoteSchema), required=True)
    forecast = fields.Nested(ForecastSchema, required=True, allow_none=True)
