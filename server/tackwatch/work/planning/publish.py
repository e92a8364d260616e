"""Giving a plan to the crew: its times and people become fields of the steps, as if the owner had entered them.

Rules
-----
- All of it is one transaction under the refit's lock: operations of the server by the ordinary merge, the alarms that
  follow from them, and the plan's own row.
- A plan whose ground has changed is refused, and nothing is written: what somebody entered by hand since its rows were
  read is never overwritten unseen (``basis.stands_against``). Who entered something without a signal and hands it in
  later has not seen the plan: the merge then asks, as ever.
- What has begun meanwhile keeps its start and its people and is given its new end; what is finished is left alone.
- Once more the same changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from json import loads
from typing import Any

from tackwatch.merge.operation import MAX_ACTIONS
from tackwatch.merge.state import Item
from tackwatch.store import plans, refits
from tackwatch.store.db import writing
from tackwatch.store.models import Refit
from tackwatch.store.plans import PlanHead
from tackwatch.work.caller import Caller
from tackwatch.work.errors import ConflictError, InvalidError, NotFoundError
from tackwatch.work.filing import file_as_server, next_stamp
from tackwatch.work.planning import basis as bases
from tackwatch.work.planning import notice
from tackwatch.work.planning.rows import PlanRows, read_locked
from tackwatch.work.ports import Ports
from tackwatch.work.reckon import keep_alarms
from tackwatch.work.reckoning.rows import at_of

Actions = list[dict[str, Any]]
Planned = Mapping[str, Any]
_MOST_TOLD = 20


class PlanOutdatedError(ConflictError):
    """The refit has changed since the plan was made; ``changed`` says why, and what."""

    def __init__(self, changed: bases.Changed) -> None:
        super().__init__(
            "plan-outdated",
            "The refit has changed since this plan was made. Nothing was given to the crew: ask for a new plan.",
            "plan_id",
        )
        self.changed = changed

    def as_problem(self) -> dict[str, Any]:
        """Give the problem document, with what has changed as ``errors``: field is an id, detail a code."""
        pairs = [(id_, code) for code, ids in self.changed.items() for id_ in ids]
        return {
            **super().as_problem(),
            "errors": [{"field": id_, "detail": code} for id_, code in pairs[:_MOST_TOLD]],
        }


def publish(caller: Caller, plan_id: str, proposal_id: str, ports: Ports) -> PlanHead:
    """Give a proposal to the crew.

    Raises
    ------
    NotFoundError
        When the refit has no such plan.
    InvalidError
        When the plan has no such proposal.
    ConflictError
        When the plan is not ready, or was given out with another proposal.
    PlanOutdatedError
        When the refit has changed since the plan was made.
    """
    with writing():
        refit = refits.lock(caller.refit_id)
        plan = plans.head(caller.refit_id, plan_id, locked=True)
        if refit is None or plan is None:
            raise NotFoundError("unknown-plan", "There is no such plan.", "plan_id")
        if plan.state == "published" and plan.published_id == proposal_id:
            return plan
        proposal, basis = _proposal(plan, proposal_id)
        given = _give(refit, proposal, basis, caller.member_id, ports.clock.now())
        plans.change(
            plan,
            state="published",
            given=given,
            published_id=proposal_id,
            published_by=caller.member_id,
            published_at=ports.clock.now(),
        )
        done = plans.head(caller.refit_id, plan_id)
        assert done is not None  # noqa: S101 - it was there, and is locked
        return done


def _proposal(plan: PlanHead, proposal_id: str) -> tuple[Mapping[str, Any], bases.Basis]:
    if plan.state == "published":
        raise ConflictError("plan-published", "This plan was given to the crew in another form.")
    if plan.state != "ready":
        raise ConflictError("plan-not-ready", "Only a plan that is ready can be given to the crew.")
    basis, result = plans.texts(plan.plan_id)
    for proposal in loads(result or "{}").get("proposals", ()):
        if proposal["id"] == proposal_id:
            return proposal, bases.read_basis(basis or "{}")
    raise InvalidError("unknown-proposal", "This plan has no such proposal.", "proposal_id")


def _give(
    refit: Refit, proposal: Mapping[str, Any], basis: bases.Basis, by: str, now: datetime
) -> dict[str, Any]:
    rows = read_locked(refit.id, refit.seq, now)
    against = bases.stands_against(basis, bases.basis_of(rows))
    if against:
        raise PlanOutdatedError(against)
    each = {
        one["step_id"]: (one, actions_for(rows, rows.steps[one["step_id"]], one))
        for one in _to_give(rows, proposal)
    }
    for actions in _cut([actions for _, actions in each.values()]):
        file_as_server(refit, "publish_plan", actions, now)
    keep_alarms(refit.id, now)
    changed = (_changed(rows.steps[id_], one) for id_, (one, actions) in each.items() if actions)
    notice.tell(rows, changed, by, now)
    _remember(refit, now)
    return _given(refit, {id_: actions for id_, (_, actions) in each.items() if actions}, now)


def _given(refit: Refit, each: Mapping[str, Actions], now: datetime) -> dict[str, Any]:
    """Give what is to be seen of it later: its stamp, the steps, of how many the start and the people are others."""
    if not each:
        refit.last_stamp = str(next_stamp(refit, now))
    starts = [
        any("planned_start_at" in one.get("fields", ()) for one in ones) for ones in each.values()
    ]
    people = [any(one.get("set") == "assignees" for one in ones) for ones in each.values()]
    return {
        "at": refit.last_stamp,
        "steps": sorted(each),
        "starts_n": sum(starts),
        "people_n": sum(people),
    }


def _to_give(rows: PlanRows, proposal: Mapping[str, Any]) -> Iterator[Planned]:
    for one in proposal["steps"]:
        if one["step_id"] in rows.steps and not rows.is_done(one["step_id"]):
            yield one


def _changed(step: Item, planned: Planned) -> notice.StepChanged:
    before, after = frozenset(step.sets.get("assignees", {})), frozenset(planned["member_ids"])
    return notice.StepChanged(step.id, before, after, planned["start_at"])


def actions_for(rows: PlanRows, step: Item, planned: Planned) -> Actions:
    """Give the actions that make a step what a plan says of it; none where it is so already."""
    fields = {"planned_end_at": planned["end_at"]}
    begun = rows.has_begun(step.id)
    if not begun:
        fields["planned_start_at"] = planned["start_at"]
    fields = {
        name: value for name, value in fields.items() if not _same(step.fields.get(name), value)
    }
    actions: Actions = []
    if fields:
        seen = {name: step.stamp(name) for name in fields}
        actions.append({"do": "set", "kind": "step", "id": step.id, "fields": fields, "seen": seen})
    return actions if begun else actions + _people(step, planned["member_ids"])


def _people(step: Item, member_ids: Sequence[str]) -> Actions:
    now = step.sets.get("assignees", {})
    about = {"kind": "step", "id": step.id, "set": "assignees"}
    put = [{"do": "put_in", **about, "member": one} for one in member_ids if one not in now]
    take = [
        {"do": "take_out", **about, "member": one, "tags": list(tags)}
        for one, tags in now.items()
        if one not in member_ids
    ]
    return put + take


def _same(one: Any, other: Any) -> bool:
    return bool(one) and bool(other) and at_of(one) == at_of(other)


def _cut(each: Sequence[Actions]) -> Iterator[Actions]:
    """Put the actions of whole steps together, as many as an operation may have."""
    batch: Actions = []
    for actions in each:
        if batch and len(batch) + len(actions) > MAX_ACTIONS:
            yield batch
            batch = []
        batch = batch + actions
    if batch:
        yield batch


def _remember(refit: Refit, now: datetime) -> None:
    """Let what was given out be no reason to plan anew."""
    watch = plans.watch(refit.id)
    if watch is None or watch.basis is None:
        return
    known, rows = bases.read_basis(watch.basis), read_locked(refit.id, refit.seq, now)
    known["told"] |= {
        id_: bases.told_of(step) for id_, step in rows.steps.items() if id_ in known["told"]
    }
    look_at = bases.times_of(rows).next_at
    plans.set_watch(refit.id, basis=bases.text_of(known), look_at=look_at)
