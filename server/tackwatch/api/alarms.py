"""Alarms: the caller's own."""

from __future__ import annotations

from typing import Any

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, Blueprint, door
from tackwatch.api.schemas.reading import AlarmsSchema
from tackwatch.work.caller import Caller
from tackwatch.work.my_alarms import my_alarms

blueprint = Blueprint("alarms", __name__)


@door(blueprint, "GET", "/api/refits/<refit_id>/alarms", who=ANYONE, gives=AlarmsSchema)
def get_alarms(caller: Caller) -> dict[str, Any]:
    """List the caller's alarms: those to come, and what was told, seen or missed lately."""
    now = house().ports.clock.now()
    return {"alarms": my_alarms(caller.refit_id, caller.member_id, now)}
