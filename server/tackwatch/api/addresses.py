"""Addresses: where a person is told besides their phones. Each sees their own alone."""

from __future__ import annotations

from typing import Any

from flask import Response

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, OWNER, Blueprint, door
from tackwatch.api.schemas.addresses import (
    AddressesOfOtherSchema,
    AddressesSchema,
    CalendarMadeSchema,
    CodeSchema,
    MailAskedSchema,
    WebhookAskedSchema,
    WebhookMadeSchema,
)
from tackwatch.work.addresses import AddressesSeen, my_addresses
from tackwatch.work.addresses_of_others import AddressesOfOther, addresses_of_other, remove
from tackwatch.work.calendar import CalendarMade, give_calendar
from tackwatch.work.caller import Caller
from tackwatch.work.mail_address import confirm_mail_address, give_mail_address
from tackwatch.work.webhook_address import WebhookMade, give_webhook

blueprint = Blueprint("addresses", __name__)


@door(blueprint, "GET", "/api/refits/<refit_id>/addresses", who=ANYONE, gives=AddressesSchema)
def get_addresses(caller: Caller) -> AddressesSeen:
    """List the caller's own addresses."""
    return my_addresses(caller, house().settings)


@door(
    blueprint, "PUT", "/api/refits/<refit_id>/addresses/mail",
    who=ANYONE, takes=MailAskedSchema, status=204, problems=(409, 429, 503),
)  # fmt: skip
def put_mail(caller: Caller, asked: dict[str, Any]) -> Response:
    """Say where mail may go; a code is sent there, and nothing else until it is given back."""
    here = house()
    give_mail_address(
        caller,
        asked["address"],
        asked["with_calendar"],
        here.letters,
        (here.settings, here.ports),
    )
    return Response(status=204)


@door(
    blueprint, "POST", "/api/refits/<refit_id>/addresses/mail/confirm",
    who=ANYONE, takes=CodeSchema, status=204, problems=(409, 410),
)  # fmt: skip
def post_confirm(caller: Caller, brought: dict[str, str]) -> Response:
    """Give back the code that came by mail."""
    confirm_mail_address(caller, brought["code"].strip(), house().ports.clock.now())
    return Response(status=204)


@door(
    blueprint, "PUT", "/api/refits/<refit_id>/addresses/webhook",
    who=ANYONE, takes=WebhookAskedSchema, gives=WebhookMadeSchema,
)  # fmt: skip
def put_webhook(caller: Caller, asked: dict[str, str]) -> WebhookMade:
    """Say where alarms are to be posted; the secret that signs them is shown once."""
    here = house()
    return give_webhook(caller, asked["url"], here.settings, here.ports)


@door(
    blueprint, "POST", "/api/refits/<refit_id>/addresses/calendar",
    who=ANYONE, gives=CalendarMadeSchema, status=201,
)  # fmt: skip
def post_calendar(caller: Caller) -> CalendarMade:
    """Make a link for the caller's own calendar; an earlier one opens nothing any more."""
    here = house()
    return give_calendar(caller, here.settings.public_url, here.ports)


@door(
    blueprint, "GET", "/api/refits/<refit_id>/members/<member_id>/addresses",
    who=OWNER, gives=AddressesOfOtherSchema,
)  # fmt: skip
def get_addresses_of(caller: Caller, member_id: str) -> AddressesOfOther:
    """Tell an owner which kinds of address a person has, not where they lead, and what was taken away."""
    return addresses_of_other(caller, member_id)


@door(
    blueprint, "DELETE", "/api/refits/<refit_id>/members/<member_id>/addresses/<kind>",
    who=ANYONE, status=204, problems=(403,),
)  # fmt: skip
def delete_address(caller: Caller, member_id: str, kind: str) -> Response:
    """Take an address away: everybody their own, the owner anybody's, which leaves a trace."""
    remove(caller, member_id, kind, house().ports.clock.now())
    return Response(status=204)
