"""Beginning a refit, and coming back to one."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, post_load

from tackwatch.api.schemas.fields import Given, item_field, text
from tackwatch.merge.values import Field
from tackwatch.work.create_refit import RefitAsked


class RefitAskedSchema(Schema):
    """A new refit."""

    name = item_field("refit", "name", required=True)
    time_zone = item_field("refit", "time_zone", required=True, description="Such as Europe/Lisbon")
    launch_at = item_field("refit", "launch_at", required=True)
    owner_name = item_field("member", "name", required=True)
    language = item_field("member", "language", required=True)
    day_starts = item_field("refit", "day_starts")
    day_ends = item_field("refit", "day_ends")
    work_days = item_field("refit", "work_days")
    curve_min_c = item_field("refit", "curve_min_c")
    curve_max_c = item_field("refit", "curve_max_c")
    curve_hour_of_max = item_field("refit", "curve_hour_of_max")
    device_name = item_field("device", "name")
    with_products = Given(
        Field("yes_no"), description="Whether to begin with the bundled generic products"
    )

    @post_load
    def _asked(self, data: dict[str, Any], **_: Any) -> RefitAsked:
        return RefitAsked(**data)


class DeviceMadeSchema(Schema):
    """What a phone keeps to sign in with; the key is shown once."""

    refit_id = fields.Str(required=True)
    member_id = fields.Str(required=True)
    device_id = fields.Str(required=True)
    key = fields.Str(required=True)


class RefitMadeSchema(DeviceMadeSchema):
    """A new refit, its owner and the owner's device; key and recovery code are shown once."""

    recovery_code = fields.Str(required=True)


class RecoverySchema(Schema):
    """The code that was written down when the refit began."""

    code = text(100, required=True)
    device_name = item_field("device", "name", load_default="")
