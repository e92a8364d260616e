"""A person's own addresses: mail, webhook, calendar."""

from __future__ import annotations

from marshmallow import Schema, fields

from tackwatch.api.schemas.fields import Given, text
from tackwatch.merge.values import Field
from tackwatch.work.addresses import KINDS


class AddressSchema(Schema):
    """One address; ``target`` is empty for a calendar, whose link is shown once."""

    kind = fields.Str(required=True, metadata={"enum": list(KINDS)})
    target = fields.Str(required=True)
    usable = fields.Bool(required=True)
    with_calendar = fields.Bool(required=True)
    made_at = fields.AwareDateTime(required=True, format="iso")
    trouble = fields.Str(required=True)


class AddressesSchema(Schema):
    """The caller's addresses, and the kinds that this server can use."""

    addresses = fields.List(fields.Nested(AddressSchema), required=True)
    offers = fields.List(fields.Str(metadata={"enum": list(KINDS)}), required=True)


class MailAskedSchema(Schema):
    """A mail address, and whether alarms come with a calendar entry."""

    address = text(254, required=True)
    with_calendar = Given(Field("yes_no"), load_default=False)


class CodeSchema(Schema):
    """The code that was sent to a mail address."""

    code = text(20, required=True)


class WebhookAskedSchema(Schema):
    """Where alarms are to be posted."""

    url = text(2000, required=True)


class WebhookMadeSchema(Schema):
    """A webhook; the secret is shown once."""

    url = fields.Str(required=True)
    secret = fields.Str(required=True)


class CalendarMadeSchema(Schema):
    """A calendar's link; it is shown once."""

    url = fields.Str(required=True)
    webcal_url = fields.Str(required=True)
