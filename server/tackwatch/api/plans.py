"""Plans: asking for one, looking, calling off, giving one to the crew; docs/plan.md."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import Response, request, url_for

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, OWNER, Blueprint, door
from tackwatch.api.schemas.plans import (
    PlanAskedSchema,
    PlanHeadSchema,
    PlanSchema,
    PlansSchema,
    PublishAskedSchema,
)
from tackwatch.work import plans
from tackwatch.work.caller import Caller
from tackwatch.work.planning.publish import publish

blueprint = Blueprint("plans", __name__)


@door(
    blueprint, "POST", "/api/refits/<refit_id>/plans",
    who=OWNER, takes=PlanAskedSchema, gives=PlanHeadSchema, status=202,
)  # fmt: skip
def post_plan(caller: Caller, asked: dict[str, int]) -> Any:
    """Ask for a plan; answered with the one that is worked out already, where there is one."""
    plan = plans.ask(caller, asked["seconds"], house().ports)
    place = url_for("plans.get_plan", refit_id=caller.refit_id, plan_id=plan.plan_id)
    return plans.as_dict(plan), 202, {"Location": place}


@door(
    blueprint, "GET", "/api/refits/<refit_id>/plans", who=ANYONE, gives=PlansSchema, also=304,
)  # fmt: skip
def get_plans(caller: Caller) -> Response:
    """List the plans, the newest first."""
    return _unless_known(f"plans-{plans.listed_rev(caller)}", lambda: plans.listed(caller))


@door(
    blueprint, "GET", "/api/refits/<refit_id>/plans/<plan_id>",
    who=ANYONE, gives=PlanSchema, also=304,
)  # fmt: skip
def get_plan(caller: Caller, plan_id: str) -> Response:
    """Give one plan: how far it is, or its proposals and the forecast."""
    rev = plans.rev_of(caller, plan_id)
    return _unless_known(f"{plan_id}-{rev}", lambda: plans.whole(caller, plan_id))


@door(
    blueprint, "POST", "/api/refits/<refit_id>/plans/<plan_id>/cancel",
    who=OWNER, gives=PlanHeadSchema, problems=(409,),
)  # fmt: skip
def post_cancel(caller: Caller, plan_id: str) -> dict[str, Any]:
    """Call off a plan that is being worked out."""
    return plans.as_dict(plans.cancel(caller, plan_id, house().ports))


@door(
    blueprint, "POST", "/api/refits/<refit_id>/plans/<plan_id>/publish",
    who=OWNER, takes=PublishAskedSchema, gives=PlanHeadSchema, problems=(409,),
)  # fmt: skip
def post_publish(caller: Caller, asked: dict[str, str], plan_id: str) -> dict[str, Any]:
    """Give a proposal's times and people to the crew."""
    return plans.as_dict(publish(caller, plan_id, asked["proposal_id"], house().ports))


def _unless_known(version: str, give: Callable[[], str]) -> Response:
    """Answer with the text, or with 304 to who has it; what is given is at least as new as its version says."""
    if request.if_none_match.contains_weak(version):
        answer = Response(status=304)
    else:
        answer = Response(give(), mimetype="application/json")
    answer.set_etag(version, weak=True)
    return answer
