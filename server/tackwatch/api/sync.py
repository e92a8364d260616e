"""Sync: the one round trip in which a phone hands over and takes; see docs/sync.md."""

from __future__ import annotations

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, Blueprint, door
from tackwatch.api.schemas.sync import SyncAnswerSchema, SyncRequestSchema
from tackwatch.work.caller import Caller
from tackwatch.work.sync import SyncAnswer, SyncRequest, sync

blueprint = Blueprint("sync", __name__)


@door(
    blueprint, "POST", "/api/refits/<refit_id>/sync",
    who=ANYONE, takes=SyncRequestSchema, gives=SyncAnswerSchema, problems=(409,),
)  # fmt: skip
def post_sync(caller: Caller, asked: SyncRequest) -> SyncAnswer:
    """Hand over what was done on this device and take what the others did."""
    return sync(caller, asked, house().ports)
