"""Asking for a plan of a refit, looking at plans, and calling one off.

Rules
-----
- One plan a refit is worked out at a time. Whoever asks while one is asked for or running is answered with that one,
  also of two who ask at once; what changes after its rows were read makes another by itself (``planning.watch``).
- Calling off is at once: the row says so, and whoever works at it finds out within a second.
- What a plan came to is kept as text and given out as it is. Old plans are let go, never the one that holds; of each
  that was given to the crew it stays who did so when, and of how many steps that changed the start or the people.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from json import dumps
from typing import Any

from tackwatch.merge.hlc import SERVER_DEVICE
from tackwatch.store import plans, refits
from tackwatch.store.db import writing
from tackwatch.store.plans import PlanHead
from tackwatch.trade.warnings import iso_of
from tackwatch.work.caller import Caller
from tackwatch.work.errors import ConflictError, NotFoundError
from tackwatch.work.ports import Ports

SECONDS = 20
LEAST_SECONDS, MOST_SECONDS = 1, 300
KEPT = 30
_EMPTY = '{"proposals":[],"cannot":[],"notes":[],"forecast":null}'


def ask(caller: Caller, seconds: int, ports: Ports) -> PlanHead:
    """Ask for a plan; give it, or the one that is asked for or running already."""
    with writing():
        refits.lock(caller.refit_id)
        return _ask(caller.refit_id, caller.member_id, ["asked"], seconds, ports)


def ask_by_itself(refit_id: str, why: Sequence[str], ports: Ports) -> PlanHead:
    """Ask for a plan because of what changed; the caller holds the refit's lock."""
    return _ask(refit_id, None, list(why), SECONDS, ports)


def _ask(refit_id: str, by: str | None, why: list[str], seconds: int, ports: Ports) -> PlanHead:
    found = plans.open_plan(refit_id)
    if found is not None:
        return found
    plan_id = ports.chance.new_id()
    plans.add(plan_id, refit_id, by, why, seconds, ports.clock.now())
    plans.let_go(refit_id, KEPT)
    return _found(refit_id, plan_id)


def cancel(caller: Caller, plan_id: str, ports: Ports) -> PlanHead:
    """Call a plan off that is asked for or running; once more changes nothing.

    Raises
    ------
    NotFoundError
        When the refit has no such plan.
    ConflictError
        When it has come to its end.
    """
    with writing():
        refits.lock(caller.refit_id)
        found = _found(caller.refit_id, plan_id, locked=True)
        if found.state == "cancelled":
            return found
        if found.state not in plans.OPEN:
            raise ConflictError("plan-ended", "This plan is worked out already.")
        plans.change(found, state="cancelled", progress=None, done_at=ports.clock.now())
        return _found(caller.refit_id, plan_id)


def listed(caller: Caller) -> str:
    """Give a refit's plans, the newest first, as a text of JSON."""
    found = plans.heads(caller.refit_id, KEPT)
    last = plans.last_published(caller.refit_id)
    if last is not None and last not in found:
        found.append(last)
    return _text({"plans": [as_dict(one) for one in found]})


def listed_rev(caller: Caller) -> int:
    """Give the number of the last change of any plan; 0 where there never was one."""
    watch = plans.watch(caller.refit_id)
    return 0 if watch is None else watch.rev


def whole(caller: Caller, plan_id: str) -> str:
    """Give one plan with all that came of it, as a text of JSON.

    Raises
    ------
    NotFoundError
        When the refit has no such plan.
    """
    found = _found(caller.refit_id, plan_id)
    result = plans.texts(plan_id)[1] or _EMPTY
    return f"{_text(as_dict(found))[:-1]},{result[1:]}"


def rev_of(caller: Caller, plan_id: str) -> int:
    """Give the number of a plan's last change.

    Raises
    ------
    NotFoundError
        When the refit has no such plan.
    """
    return _found(caller.refit_id, plan_id).rev


def as_dict(plan: PlanHead) -> dict[str, Any]:
    """Give a plan's head as JSON-ready objects."""
    return {
        "plan_id": plan.plan_id,
        "state": plan.state,
        "asked_at": iso_of(plan.asked_at),
        "asked_by": plan.asked_by,
        "why": plan.why,
        "seconds": plan.seconds,
        "progress": plan.progress,
        "based_on_version": plan.based_on,
        "done_at": iso_of(plan.done_at) if plan.done_at else None,
        "published_at": iso_of(plan.published_at) if plan.published_at else None,
        "published_by": plan.published_by,
        "published_id": plan.published_id,
        "given": _counts(plan.given),
        "problem": plan.problem,
    }


def _counts(given: Mapping[str, Any] | None) -> dict[str, int] | None:
    """Give of how many steps something changed as a plan was given to the crew."""
    if given is None:
        return None
    return {
        "steps_n": len(given["steps"]),
        "starts_n": given["starts_n"],
        "people_n": given["people_n"],
    }


def given_out(refit_id: str, kind: str, item_id: str, after: str) -> list[dict[str, Any]]:
    """Give what plans did to a step, or to the whole refit, when they were given to the crew: a line for each.

    Parameters
    ----------
    after
        Only what has a later stamp.
    """
    found = []
    for plan in plans.published(refit_id):
        given = plan.given
        if given is None or given["at"] <= after:
            continue
        if (kind == "step" and item_id in given["steps"]) or (kind, item_id) == ("refit", refit_id):
            found.append(_line(plan, given))
    return found


def _line(plan: PlanHead, given: Mapping[str, Any]) -> dict[str, Any]:
    about = {"do": "publish", "plan_id": plan.plan_id, "proposal_id": plan.published_id}
    return {
        "device_id": SERVER_DEVICE,
        "member_id": plan.published_by,
        "n": 0,
        "at": given["at"],
        "sent": given["at"],
        "act": "publish_plan",
        "actions": [{**about, **(_counts(given) or {})}],
        "problem": None,
    }


def _found(refit_id: str, plan_id: str, *, locked: bool = False) -> PlanHead:
    found = plans.head(refit_id, plan_id, locked=locked)
    if found is None:
        raise NotFoundError("unknown-plan", "There is no such plan.", "plan_id")
    return found


def _text(value: Any) -> str:
    return dumps(value, ensure_ascii=False, separators=(",", ":"))
