"""The round trip of a phone; see docs/sync.md. What stands inside an operation's actions is for the merge to judge."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import Schema, fields, post_load, pre_load, validate

from tackwatch.api.schemas.fields import Given
from tackwatch.merge.values import Field
from tackwatch.work.errors import ConflictError
from tackwatch.work.sync import MAX_OPERATIONS, PROTOCOL, SyncRequest

_GREATEST = 2**53 - 1
_LONGEST = 200
_PARTS = frozenset({"n", "at", "act", "actions"})


def _whole(least: int, **rest: Any) -> Given:
    return Given(Field("whole", least=least, most=_GREATEST, required=True), required=True, **rest)


class OperationSchema(Schema):
    """One act of a person."""

    n = _whole(1)
    at = fields.Str(required=True, validate=validate.Length(max=_LONGEST))
    act = fields.Str(required=True, validate=validate.Length(max=_LONGEST))
    actions = fields.Raw(
        required=True,
        metadata={"type": "array", "items": {"type": "object"}, "minItems": 1, "maxItems": 500},
    )


class _Operations(fields.List[Any]):
    """A list of operations; a thousand that are as they should be need not be taken apart one by one."""

    def __init__(self, **rest: Any) -> None:
        super().__init__(fields.Nested(OperationSchema), **rest)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **rest: Any) -> Any:
        if isinstance(value, list) and all(map(_is_operation, value)):
            return value
        return super()._deserialize(value, attr, data, **rest)


def _is_operation(value: Any) -> bool:
    if not isinstance(value, dict) or value.keys() != _PARTS:
        return False
    n, texts = value["n"], (value["at"], value["act"])
    fits = type(n) is int and 1 <= n <= _GREATEST and value["actions"] is not None
    return fits and all(isinstance(text, str) and len(text) <= _LONGEST for text in texts)


class SyncRequestSchema(Schema):
    """What a device hands over and from where on it wants the others' changes."""

    protocol = _whole(1)
    schema = _whole(1)
    epoch = Given(Field("text", most=40), required=True, allow_none=True)
    device = Given(Field("text", most=40, required=True), required=True)
    cursor = _whole(0)
    operations = _Operations(
        required=True,
        validate=validate.Length(max=MAX_OPERATIONS),
    )
    snapshot = fields.Bool(load_default=False, truthy={True}, falsy={False})
    parts = fields.Bool(load_default=False, truthy={True}, falsy={False})
    loading = fields.Bool(load_default=False, truthy={True}, falsy={False})
    first_n = Given(Field("whole", least=1, most=_GREATEST), load_default=None, allow_none=True)

    @pre_load
    def _check_protocol(self, data: Any, **_: Any) -> Any:
        """Say first that the protocol is another one: the rest of its body may look different."""
        given = data.get("protocol") if isinstance(data, Mapping) else None
        if isinstance(given, int) and not isinstance(given, bool) and given > PROTOCOL:
            raise ConflictError(
                "protocol-too-new", "The server has to be updated first.", "protocol"
            )
        return data

    @post_load
    def _request(self, data: dict[str, Any], **_: Any) -> SyncRequest:
        return SyncRequest(**data)


class SyncPlaceSchema(Schema):
    """Where a device stands that has nothing to hand over."""

    epoch = fields.Str(required=True, validate=validate.Length(min=1, max=40))
    cursor = fields.Int(required=True, validate=validate.Range(min=1, max=_GREATEST))


class SnapshotSchema(Schema):
    """A prepared snapshot that is to be loaded first."""

    version = fields.Str(required=True)
    pages = fields.Int(required=True)


_NUMBERED = {"type": "object"}


class SyncAnswerSchema(Schema):
    """The verdicts, and what is new."""

    epoch = fields.Str(required=True)
    server_time = fields.Str(required=True, metadata={"format": "date-time"})
    clock = fields.Str(required=True)
    acknowledged_n = fields.Int(required=True)
    refused = fields.List(fields.Raw(metadata=_NUMBERED), required=True)
    changes = fields.List(fields.Raw(metadata=_NUMBERED), required=True)
    differences = fields.List(fields.Raw(metadata=_NUMBERED), required=True)
    cursor = fields.Int(required=True)
    more = fields.Bool(required=True)
    reset = fields.Bool(required=True)
    snapshot = fields.Nested(SnapshotSchema)
