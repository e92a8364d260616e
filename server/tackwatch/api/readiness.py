"""Readiness: whether a step's coat may go on now."""

from __future__ import annotations

from typing import Any

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, Blueprint, door
from tackwatch.api.schemas.readiness import ReadinessSchema
from tackwatch.work.caller import Caller
from tackwatch.work.readiness import readiness

blueprint = Blueprint("readiness", __name__)


@door(
    blueprint, "GET", "/api/refits/<refit_id>/steps/<step_id>/readiness",
    who=ANYONE, gives=ReadinessSchema, problems=(409,),
)  # fmt: skip
def get_readiness(caller: Caller, step_id: str) -> dict[str, Any]:
    """Ask whether a coat may go on now: every rule with its outcome, until when, and what to do first."""
    return readiness(caller.refit_id, step_id, house().ports.clock.now())
