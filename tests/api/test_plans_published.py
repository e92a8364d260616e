"""A plan that is given to the crew: it comes to the phones as any change does, and overwrites nobody unseen."""

from __future__ import annotations

import threading
from datetime import datetime
from typing import Any

import pytest
from flask import Flask

from tackwatch.alarms.words import words_for
from tackwatch.store.db import db
from tackwatch.work.planning import publish as publishing
from tackwatch.work.planning.task import Done
from tests.api.planyard import PlanYard, plan_yard
from tests.support.phone import Phone
from tests.support.planner import Scripted, plan_all
from tests.support.tables import dump
from tests.support.wires import Answer
from tests.support.world import StandingClock


@pytest.fixture
def yard(owner: Phone) -> PlanYard:
    return plan_yard(owner)


@pytest.fixture
def ready(app: Flask, yard: PlanYard) -> str:
    plan_id = yard.ask()
    plan_all(app)
    return plan_id


def code(answer: Answer) -> str:
    return str(answer.json["type"].rsplit(":", 1)[1])


def steps_of(yard: PlanYard, plan_id: str) -> dict[str, Any]:
    proposal = yard.plan(plan_id)["proposals"][0]
    return {one["step_id"]: one for one in proposal["steps"]}


def refused(app: Flask, yard: PlanYard, plan_id: str) -> dict[str, str]:
    """Publish in vain; give what has changed, by id."""
    before = dump(app)
    answer = yard.publish(plan_id)
    assert (answer.status, code(answer), answer.json["field"]) == (409, "plan-outdated", "plan_id")
    assert dump(app) == before
    assert yard.plan(plan_id)["state"] == "ready"
    return {one["field"]: one["detail"] for one in answer.json["errors"]}


def test_the_phones_get_times_and_people_by_their_next_sync(yard: PlanYard, ready: str):
    answer = yard.publish(ready)
    assert (answer.status, answer.json["state"], answer.json["published_id"]) == (
        200,
        "published",
        "fresh",
    )
    planned = steps_of(yard, ready)
    for phone in (yard.owner, yard.hand):
        phone.sync()
        for step_id, one in planned.items():
            step = phone.item(step_id)
            assert step.fields["planned_start_at"] == one["start_at"]
            assert step.fields["planned_end_at"] == one["end_at"]
            assert set(step.sets["assignees"]) == set(one["member_ids"])
        assert phone.open_differences() == []


def test_the_alarms_of_planned_steps_follow(app: Flask, yard: PlanYard, ready: str):
    yard.publish(ready)
    due = {
        (row["member_id"], row["source_id"])
        for row in dump(app)["alarm"]
        if row["kind"] == "step_due"
    }
    planned = steps_of(yard, ready)
    coat = yard.ids["coat"]
    assert {(who, coat) for who in planned[coat]["member_ids"]} <= due


def test_people_who_are_not_in_the_plan_are_taken_off_the_step(app: Flask, yard: PlanYard):
    viewer = yard.owner.crew("viewer")
    step = yard.ids["fit"]
    put = {"do": "put_in", "kind": "step", "id": step, "set": "assignees"}
    yard.owner.sync()
    yard.owner.act("put_in", {**put, "member": viewer.member_id})
    yard.owner.sync()
    plan_id = yard.ask()
    plan_all(app)
    assert yard.publish(plan_id).status == 200
    yard.owner.sync()
    assert set(yard.step("fit").sets["assignees"]) == set(
        steps_of(yard, plan_id)[step]["member_ids"]
    )
    assert viewer.member_id not in yard.step("fit").sets["assignees"]


def test_once_more_the_same_changes_nothing(app: Flask, yard: PlanYard, ready: str):
    yard.publish(ready)
    before = dump(app)
    assert yard.publish(ready).status == 200
    assert dump(app) == before


def test_only_a_proposal_of_a_plan_that_is_ready_can_be_given_out(
    app: Flask, yard: PlanYard, ready: str
):
    before = dump(app)
    answer = yard.publish(ready, "keeps_nothing")
    assert (answer.status, code(answer), answer.json["field"]) == (
        422,
        "unknown-proposal",
        "proposal_id",
    )
    assert dump(app) == before
    asked = yard.ask()
    answer = yard.publish(asked)
    assert (answer.status, code(answer)) == (409, "plan-not-ready")


def test_what_was_given_out_is_not_given_out_in_another_form(app: Flask, yard: PlanYard):
    plan_id = yard.ask()
    two = [{"id": "fresh", "steps": []}, {"id": "keeps_order", "steps": []}]
    plan_all(app, Scripted(Done({"proposals": two})))
    assert yard.publish(plan_id, "keeps_order").status == 200
    before = dump(app)
    answer = yard.publish(plan_id, "fresh")
    assert (answer.status, code(answer)) == (409, "plan-published")
    assert dump(app) == before


def test_two_who_give_it_out_at_once_give_it_out_once(app: Flask, yard: PlanYard, ready: str):
    gate, found = threading.Barrier(2), []

    def give() -> None:
        gate.wait()
        answer = app.test_client().post(
            f"/api/refits/{yard.owner.refit_id}/plans/{ready}/publish",
            json={"proposal_id": "fresh"},
            headers={"Authorization": f"Bearer {yard.owner.key}"},
        )
        found.append(answer.status_code)

    threads = [threading.Thread(target=give) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [200, 200]
    lines = yard.owner.call("GET", f"/history/refit/{yard.owner.refit_id}").json["operations"]
    assert [one["act"] for one in lines] == ["publish_plan"]
    (notice,) = notices(app).values()
    planned = steps_of(yard, ready).values()
    theirs = [one for one in planned if yard.hand.member_id in one["member_ids"]]
    assert notice["params"]["steps_n"] == len(theirs)


# --- what changed since ----------------------------------------------------------------------------------------------


def test_what_somebody_entered_by_hand_since_is_never_overwritten(
    app: Flask, yard: PlanYard, ready: str
):
    yard.hand.set("step", yard.ids["fit"], {"planned_start_at": "2026-03-05T09:00:00Z"})
    yard.hand.sync()
    assert refused(app, yard, ready) == {yard.ids["fit"]: "fields"}
    yard.owner.sync()
    assert yard.step("fit").fields["planned_start_at"] == "2026-03-05T09:00:00Z"


def test_who_was_put_on_a_step_since_stays_on_it(app: Flask, yard: PlanYard, ready: str):
    put = {"do": "put_in", "kind": "step", "id": yard.ids["fit"], "set": "assignees"}
    yard.owner.act("put_in", {**put, "member": yard.hand.member_id})
    yard.owner.sync()
    assert refused(app, yard, ready) == {yard.ids["fit"]: "fields"}


@pytest.mark.parametrize(
    "what", ["estimate", "link", "deleted", "away", "launch", "new step", "room"]
)
def test_a_plan_whose_ground_has_changed_is_refused(
    app: Flask, yard: PlanYard, ready: str, what: str
):
    owner, ids = yard.owner, yard.ids
    if what == "estimate":
        owner.set("step", ids["sand"], {"labour_h": 40})
    elif what == "link":
        owner.drop("link", ids["coat_link"])
    elif what == "deleted":
        owner.drop("step", ids["fit"])
    elif what == "away":
        days = {"from_on": "2026-03-03", "to_on": "2026-03-04"}
        yard.hand.create("away", {**days, "member_id": yard.hand.member_id})
        yard.hand.sync()
    elif what == "launch":
        owner.set("refit", owner.refit_id, {"launch_at": "2026-03-20T08:00:00Z"})
    elif what == "new step":
        owner.create("step", {"job_id": ids["job"], "kind": "clean"})
    else:
        owner.set("zone", ids["zone"], {"holds": 1})
    owner.sync()
    found = set(refused(app, yard, ready).values())
    assert found == {{"away": "away", "launch": "launch"}.get(what, "fields")}


def test_work_that_goes_on_does_not_make_a_plan_old(
    app: Flask, yard: PlanYard, ready: str, clock: StandingClock
):
    """Source: docs/plan.md, section API: readings, lateness and jobs that it does not know."""
    planned = steps_of(yard, ready)
    clock.forward(hours=3)
    at = clock.at.isoformat().replace("+00:00", "Z")
    yard.hand.record("reading", {"taken_at": at, "air_c": 30, "surface_c": 31})
    for mark in ("started", "finished"):
        body = {"step_id": yard.ids["sand"], "mark": mark, "marked_at": at}
        yard.hand.record("mark", body)
    yard.hand.record("mark", {"step_id": yard.ids["fit"], "mark": "started", "marked_at": at})
    job = yard.hand.create("job", {"title": "Soft core", "found_while": yard.ids["job"]})
    yard.hand.create("step", {"job_id": job, "kind": "dry_out"})
    yard.hand.sync()
    assert yard.publish(ready).status == 200
    yard.owner.sync()
    sand, fit, coat = (yard.step(name) for name in ("sand", "fit", "coat"))
    assert "planned_start_at" not in sand.fields  # it is done
    assert "planned_start_at" not in fit.fields  # it has begun
    assert fit.fields["planned_end_at"] == planned[yard.ids["fit"]]["end_at"]
    assert coat.fields["planned_start_at"] == planned[yard.ids["coat"]]["start_at"]


def test_who_had_no_signal_is_asked_as_ever(yard: PlanYard, ready: str):
    """The hand wrote a time before the plan was given out, and hands it in afterwards."""
    yard.hand.set("step", yard.ids["fit"], {"planned_start_at": "2026-03-05T09:00:00Z"})
    yard.publish(ready)
    yard.hand.sync(), yard.owner.sync()
    (difference,) = yard.owner.open_differences()
    assert (difference.item_id, difference.field) == (yard.ids["fit"], "planned_start_at")
    values = {difference.kept.value, difference.lost.value}
    start_at = steps_of(yard, ready)[yard.ids["fit"]]["start_at"]
    assert values == {"2026-03-05T09:00:00Z", start_at}


def test_an_older_plan_does_not_take_the_place_of_what_was_given_out(
    app: Flask, yard: PlanYard, ready: str, clock: StandingClock
):
    clock.forward(hours=30)
    newer = yard.ask()
    plan_all(app)
    assert yard.publish(newer).status == 200
    assert set(refused(app, yard, ready).values()) == {"fields"}


def test_nothing_is_written_when_something_goes_wrong_on_the_way(
    app: Flask, yard: PlanYard, ready: str, monkeypatch: pytest.MonkeyPatch
):
    def breaks(*_: object) -> None:
        raise RuntimeError("the disk is full")

    before = dump(app)
    monkeypatch.setattr(publishing, "keep_alarms", breaks)
    assert yard.publish(ready).status == 500
    assert dump(app) == before


def test_a_plan_of_more_steps_than_an_operation_has_actions_is_given_out_whole(
    app: Flask, yard: PlanYard
):
    for n in range(5):
        job = yard.owner.create("job", {"title": f"Many {n}"})
        for _ in range(70):
            yard.owner.create("step", {"job_id": job, "kind": "inspect", "labour_h": 0.25})
    yard.owner.sync()
    plan_id = yard.ask()
    plan_all(app)
    assert yard.publish(plan_id).status == 200
    yard.owner.sync()
    planned = steps_of(yard, plan_id)
    assert len(planned) > 350
    for step_id, one in planned.items():
        start = yard.owner.item(step_id).fields["planned_start_at"]
        assert datetime.fromisoformat(start) == datetime.fromisoformat(one["start_at"])


def test_times_that_were_given_out_are_told_to_the_next_plan(
    app: Flask, yard: PlanYard, ready: str
):
    yard.publish(ready)
    again = yard.ask()
    plan_all(app)
    proposal = yard.plan(again)["proposals"][0]
    assert (proposal["changes"], proposal["score"]["moved"]) == ([], 0)
    with app.app_context():
        db.session.rollback()


# --- who is told -----------------------------------------------------------------------------------------------------


def notices(app: Flask) -> dict[str, Any]:
    return {row["member_id"]: row for row in dump(app)["alarm"] if row["kind"] == "plan_changed"}


def test_each_person_whose_steps_changed_is_told_once_in_few_words(
    app: Flask, yard: PlanYard, ready: str
):
    yard.publish(ready)
    planned = steps_of(yard, ready).values()
    theirs = [one for one in planned if yard.hand.member_id in one["member_ids"]]
    found = notices(app)
    assert found.keys() == {yard.hand.member_id}  # and not who gave it out
    notice = found[yard.hand.member_id]
    params = notice["params"]
    assert (notice["state"], params["steps_n"], params["by"]) == ("due", len(theirs), "Olga")
    assert params["planned_start_at"] == min(one["start_at"] for one in theirs)
    now = datetime.fromisoformat("2026-03-02T08:00:00+00:00")
    said = words_for("plan_changed", params, "es", "Europe/Lisbon", now, now)
    assert said.title == f"Han cambiado {len(theirs)} pasos tuyos"
    assert "Olga" in said.body
    yard.publish(ready)
    assert notices(app) == found


def test_who_lost_a_step_is_told_too_and_who_keeps_theirs_is_not(
    app: Flask, yard: PlanYard, ready: str, clock: StandingClock
):
    yard.publish(ready)
    clock.forward(minutes=1)
    seen = {"alarm_id": f"{yard.hand.member_id}.plan_changed", "seen_at": "2026-03-02T08:01:00Z"}
    yard.hand.record("seen", seen)
    clock.forward(minutes=10)
    third = yard.owner.crew("hand", "Third")
    put = {"do": "put_in", "kind": "member", "set": "skills", "member": yard.ids["skill"]}
    yard.owner.sync()
    yard.owner.act("put_in", {**put, "id": third.member_id})
    yard.owner.sync()
    yard.hand.create(
        "away", {"from_on": "2026-03-02", "to_on": "2026-12-30", "member_id": yard.hand.member_id}
    )
    yard.hand.sync()
    plan_id = yard.ask()
    plan_all(app)
    yard.publish(plan_id)
    found = notices(app)
    assert found.keys() == {yard.hand.member_id, third.member_id}
    lost = found[yard.hand.member_id]
    assert (lost["state"], "planned_start_at" in lost["params"]) == ("due", False)
    again = yard.ask()
    plan_all(app)
    yard.publish(again)
    proposal = yard.plan(again)["proposals"][0]
    assert (proposal["changes"], proposal["score"]["moved"]) == ([], 0)
    assert notices(app) == found  # nothing changed for anybody


def test_a_notice_ends_when_its_person_has_seen_it(app: Flask, yard: PlanYard, ready: str):
    yard.publish(ready)
    seen = {"alarm_id": f"{yard.hand.member_id}.plan_changed", "seen_at": "2026-03-02T08:00:00Z"}
    yard.hand.record("seen", seen)
    yard.hand.sync()
    assert notices(app)[yard.hand.member_id]["state"] == "seen"


def test_a_notice_lasts_while_other_things_change(app: Flask, yard: PlanYard, ready: str):
    yard.publish(ready)
    yard.owner.sync()
    yard.owner.set("step", yard.ids["fit"], {"held": "parts"})
    yard.owner.sync()
    assert notices(app)[yard.hand.member_id]["state"] == "due"
