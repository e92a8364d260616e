"""The answer to whether a coat may go on."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields

_INSTANT: dict[str, Any] = {"format": "date-time"}
_OBJECT = {"type": "object"}


class RuleSchema(Schema):
    """A rule: what came of it, why, what a sentence about it needs, and where it comes from."""

    rule = fields.Str(required=True)
    outcome = fields.Str(
        required=True, metadata={"enum": ["ok", "wait", "no", "unknown", "not_checked", "advice"]}
    )
    code = fields.Str(required=True)
    source = fields.Str(required=True)
    params = fields.Raw(required=True, metadata=_OBJECT)


class TackCoatSchema(Schema):
    """How a tack coat is laid, and how long the full coat waits."""

    wet_film_min_um = fields.Float(required=True)
    wet_film_max_um = fields.Float(required=True)
    thinning_pct = fields.Float(required=True)
    wait_h = fields.Float(required=True)


class ProposedSchema(Schema):
    """A step to put before the coat."""

    kind = fields.Str(required=True)
    title_key = fields.Str(required=True)
    material = fields.Str(required=True, allow_none=True)
    labour_h = fields.Float(required=True, allow_none=True)
    tack = fields.Nested(TackCoatSchema, required=True, allow_none=True)


class ReadinessSchema(Schema):
    """The answer, until when, every rule, and what to do first."""

    step_id = fields.Str(required=True)
    at = fields.Str(required=True, metadata=_INSTANT)
    over = fields.Str(required=True, allow_none=True)
    below_step_id = fields.Str(required=True, allow_none=True)
    answer = fields.Str(required=True, metadata={"enum": ["yes", "not_yet", "no"]})
    until_at = fields.Str(required=True, allow_none=True, metadata=_INSTANT)
    rules = fields.List(fields.Nested(RuleSchema), required=True)
    do_first = fields.List(fields.Nested(ProposedSchema), required=True)
    or_else = fields.List(fields.Nested(ProposedSchema), required=True)
