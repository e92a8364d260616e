"""Followed to the minute, a plan finds each step ready by the rules that phones apply to it."""

from datetime import datetime, timedelta

import pytest

from tackwatch.plan.build import Built, PlannedStep, build, planned_steps
from tackwatch.plan.build.grid import SLOT_S
from tackwatch.plan.build.stages import CURE_ENDS, window_stages
from tackwatch.plan.build.work import lays
from tackwatch.plan.facts import Facts, RefitLink, RefitStep
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.steps import LinkFacts, StepFacts, step_state
from tackwatch.trade.types import Clock, Coat, Stage
from tests.support.random_facts import random_facts
from tests.support.simple_plan import simple_plan

Clocks = dict[Stage, Clock]


class Phones:
    """What phones will say of the steps once everything was done as planned."""

    def __init__(self, built: Built) -> None:
        self.facts: Facts = built.facts
        self.steps = {step.id: step for step in self.facts.steps}
        placed = simple_plan(built.project).placed
        self.planned = {one.step_id: one for one in planned_steps(built, placed)}
        self.pieces = {id_: len(part.ids) for id_, part in built.parts.items()}
        self.works = {id_: [one.work for one in part.pieces] for id_, part in built.parts.items()}
        self.ahead = {id_ for id_, part in built.parts.items() if part.standing == "ahead"}

    def clocks(self, step: RefitStep) -> Clocks:
        """Give the clocks of a coat as it was laid, or as it is planned."""
        planned = self.planned.get(step.id)
        if planned is None:
            return {one.stage: one for one in step.laid.clocks} if step.laid else {}
        if not lays(step) or step.profile is None:
            return {}
        # Where the step missed a window itself, it begins with sanding: paint is laid after it.
        start_at = planned.end_at - timedelta(seconds=SLOT_S * sum(self.works[step.id]))
        if step.laid is not None and step.laid.end_at is None:
            start_at = step.laid.start_at
        coat = Coat(step.id, step.profile, start_at, planned.end_at)
        return {
            one.stage: one
            for one in coat_clock(coat, self.facts.track, self.facts.now_at, self.facts.band)
        }

    def link(self, link: RefitLink, now_at: datetime) -> LinkFacts:
        before, after = self.steps[link.after_id], self.steps[link.step_id]
        clocks = self.clocks(before)
        opens, closes = window_stages(after.kind)
        until_at = self.cures_until(before, clocks)
        curing = until_at is not None and until_at > now_at
        planned = self.planned.get(before.id)
        return LinkFacts(
            before.id,
            "curing" if curing else "finished",
            planned.end_at if planned else before.finished_at,
            link.min_gap_s,
            link.max_gap_s,
            clocks[opens].governing_at if link.by_cure and opens in clocks else None,
            clocks[closes].last_start_at if link.by_cure and closes in clocks else None,
        )

    def cures_until(self, step: RefitStep, clocks: Clocks) -> datetime | None:
        by_cure = [
            window_stages(self.steps[one.step_id].kind)[0]
            for one in self.facts.links
            if one.after_id == step.id and one.by_cure
        ]
        stages = by_cure or [one for one in CURE_ENDS if one in clocks][:1]
        ends = [clocks[one].governing_at for one in stages if one in clocks]
        return min((end for end in ends if end is not None), default=None)

    def says(self, step: PlannedStep) -> tuple[str, set[str]]:
        """Give the state at the planned start, and why."""
        links = [one for one in self.facts.links if one.step_id == step.step_id]
        before = tuple(self.link(one, step.start_at) for one in links)
        state = step_state(StepFacts(step.step_id, step.start_at, before=before))
        return state.state, {why.code for why in state.why}

    def simple(self, id_: str) -> bool:
        """Say whether a step and those before it are told by one application each."""
        ids = [id_, *(one.after_id for one in self.facts.links if one.step_id == id_)]
        parts = [self.steps[one] for one in ids]
        partly = any(one.laid and one.id in self.ahead for one in parts)
        begun = any(one.state == "under_way" and one.laid is None for one in parts)
        return all(self.pieces[one] == 1 for one in ids) and not partly and not begun


@pytest.mark.parametrize("seed", range(16))
def test_each_step_is_ready_when_the_plan_begins_it(seed: int) -> None:
    phones = Phones(build(random_facts(seed, 80, 5)))
    looked = 0
    for step in phones.planned.values():
        if step.step_id not in phones.ahead or not phones.simple(step.step_id):
            continue
        state, why = phones.says(step)
        assert state == "ready", (step.step_id, why)
        if "window_missed" in why:
            assert step.missed, step.step_id
        looked += 1
    assert looked > 20
