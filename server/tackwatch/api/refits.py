"""Refits: beginning one, coming back to one, and what is derived of one."""

from __future__ import annotations

from typing import Any

from tackwatch.api.current import house, spend_try
from tackwatch.api.doors import ANYONE, NOBODY, Blueprint, door
from tackwatch.api.schemas.reading import HistoryAskedSchema, HistorySchema, WorkSchema
from tackwatch.api.schemas.refits import (
    DeviceMadeSchema,
    RecoverySchema,
    RefitAskedSchema,
    RefitMadeSchema,
)
from tackwatch.work.caller import Caller
from tackwatch.work.create_refit import RefitAsked, RefitMade, create_refit
from tackwatch.work.devices import NewDevice
from tackwatch.work.history import History, history
from tackwatch.work.reckon import refit_at
from tackwatch.work.recover import recover

blueprint = Blueprint("refits", __name__)


@door(
    blueprint, "POST", "/api/refits",
    who=NOBODY, takes=RefitAskedSchema, gives=RefitMadeSchema, status=201, problems=(429,),
)  # fmt: skip
def post_refit(asked: RefitAsked) -> RefitMade:
    """Begin a refit; whoever does is its owner."""
    spend_try("create")
    return create_refit(asked, house().ports)


@door(
    blueprint, "POST", "/api/refits/<refit_id>/recover",
    who=NOBODY, takes=RecoverySchema, gives=DeviceMadeSchema, status=201, problems=(403, 429),
)  # fmt: skip
def post_recover(brought: dict[str, str], refit_id: str) -> NewDevice:
    """Come back as the owner with the recovery code."""
    spend_try("recover")
    return recover(refit_id, brought["code"], brought["device_name"], house().ports)


@door(blueprint, "GET", "/api/refits/<refit_id>/work", who=ANYONE, gives=WorkSchema)
def get_work(caller: Caller) -> dict[str, Any]:
    """See the steps, clocks and warnings as the server derives them."""
    return refit_at(caller.refit_id, house().ports.clock.now())


@door(
    blueprint, "GET", "/api/refits/<refit_id>/history/<kind>/<item_id>",
    who=ANYONE, asks=HistoryAskedSchema, gives=HistorySchema, problems=(422,),
)  # fmt: skip
def get_history(caller: Caller, asked: dict[str, str], kind: str, item_id: str) -> History:
    """See everything that was ever sent about one item or record."""
    return history(caller, kind, item_id, asked["after"])
