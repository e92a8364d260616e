"""What the sums of the trade say of themselves."""

from __future__ import annotations

from marshmallow import Schema, fields

_SCHEMA = {"type": "object", "description": "JSON Schema, draft 2020-12; `unit` names the unit"}


class SumSchema(Schema):
    """A sum: what it is for, what it takes and gives, where it comes from."""

    name = fields.Str(required=True)
    family = fields.Str(required=True)
    about = fields.Str(required=True)
    takes = fields.Raw(required=True, metadata=_SCHEMA)
    gives = fields.Raw(required=True, metadata=_SCHEMA)
    source = fields.Str(required=True)
    cautions = fields.List(fields.Str(), required=True)


class SumsSchema(Schema):
    """Every sum of the trade."""

    sums = fields.List(fields.Nested(SumSchema), required=True)
