"""A step that is gone warns nobody: a phone that came later does not even know of it."""

from __future__ import annotations

import json

from flask import Flask

from tackwatch.settings import fixtures_dir
from tackwatch.work.reckon import refit_at
from tests.support.crew import Crew
from tests.support.world import StandingClock


def test_who_was_on_a_step_that_is_gone_is_not_warned_of_its_coat(app: Flask, clock: StandingClock):
    crew = Crew.begin(app, clock, hands=1)
    owner, hand = crew.phones
    owner.attempt()
    file = fixtures_dir() / "profiles" / "epoxy_barrier_primer.json"
    profile = json.loads(file.read_text())
    product = owner.create("product", {"name": "Primer", "profile": profile})
    job = owner.create("job", {"title": "Prime"})
    fields = {"job_id": job, "kind": "coat", "product_id": product}
    step = owner.create("step", fields, {"assignees": [hand.member_id]})
    body = {
        "step_id": step, "product_id": product, "profile": profile,
        "start_at": "2026-03-02T06:00:00Z", "end_at": "2026-03-02T07:00:00Z",
    }  # fmt: skip
    owner.record("application", body)
    owner.attempt()
    assert hand.member_id in warned(app, crew)
    owner.drop("step", step)
    owner.attempt()
    assert warned(app, crew) == {owner.member_id}


def warned(app: Flask, crew: Crew) -> set[str]:
    """Give whom a coat warns."""
    with app.app_context():
        found = refit_at(crew.refit_id, crew.clock.at)["warnings"]
    return {one["member_id"] for one in found if one["kind"].startswith("recoat")}
