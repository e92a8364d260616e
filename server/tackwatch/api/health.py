"""Health: of the server for everybody, of a refit's alarms for its owners."""

from __future__ import annotations

from tackwatch.api.current import house
from tackwatch.api.doors import NOBODY, OWNER, Blueprint, door
from tackwatch.api.schemas.health import HealthSchema, RefitHealthSchema
from tackwatch.work.caller import Caller
from tackwatch.work.health import Health, RefitHealth, health, refit_health

blueprint = Blueprint("health", __name__)


@door(blueprint, "GET", "/api/health", who=NOBODY, gives=HealthSchema, problems=(503,))
def get_health() -> Health:
    """Say whether the database answers, whether anybody rings the alarms, and how many are due; 503: it does not."""
    return health(house().ports.clock.now())


@door(blueprint, "GET", "/api/refits/<refit_id>/health", who=OWNER, gives=RefitHealthSchema)
def get_refit_health(caller: Caller) -> RefitHealth:
    """Say how the refit's alarms were rung in the last week: what was sent, how late, and what failed, by channel."""
    return refit_health(caller, house().ports.clock.now())
