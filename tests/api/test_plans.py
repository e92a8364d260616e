"""Plans through the API: asking, looking, calling off, giving one to the crew."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta
from typing import Any

import pytest
from flask import Flask
from jsonschema import Draft202012Validator

from tackwatch.work.planning.child import SolverDiedError
from tackwatch.work.planning.task import Done, Failed, Progress
from tests.api.planyard import PlanYard, plan_yard
from tests.support.phone import Phone
from tests.support.planner import Scripted, Seconds, plan_all, planner
from tests.support.tables import dump
from tests.support.wires import Answer, call
from tests.support.world import StandingClock

NOTHING: dict[str, Any] = {"proposals": [], "cannot": [], "notes": [], "forecast": None}


@pytest.fixture
def yard(owner: Phone) -> PlanYard:
    return plan_yard(owner)


def code(answer: Answer) -> str:
    return str(answer.json["type"].rsplit(":", 1)[1])


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


# --- asking ----------------------------------------------------------------------------------------------------------


def test_who_asks_is_told_where_to_look(yard: PlanYard):
    answer = yard.owner.call("POST", "/plans", body={})
    assert answer.status == 202
    plan_id = answer.json["plan_id"]
    assert answer.headers["location"] == f"/api/refits/{yard.owner.refit_id}/plans/{plan_id}"
    plan = yard.plan(plan_id)
    assert (plan["state"], plan["why"], plan["asked_by"]) == (
        "asked",
        ["asked"],
        yard.owner.member_id,
    )
    assert (plan["proposals"], plan["forecast"]) == ([], None)


def test_a_plan_names_every_step_with_its_people_and_keeps_the_rules_of_the_yard(
    app: Flask, yard: PlanYard
):
    plan_id = yard.ask()
    assert plan_all(app) == 1
    plan = yard.plan(plan_id)
    assert (plan["state"], plan["problem"], plan["progress"]) == ("ready", None, None)
    proposal = plan["proposals"][0]
    steps = {one["step_id"]: one for one in proposal["steps"]}
    sand, coat, coat2, fit = (steps[yard.ids[name]] for name in ("sand", "coat", "coat2", "fit"))
    assert proposal["launch_made"]
    assert at(coat["start_at"]) >= at(sand["end_at"])
    assert coat["member_ids"] == coat2["member_ids"] == [yard.hand.member_id]  # who has the skill
    assert at(coat2["opens_at"]) <= at(coat2["start_at"]) <= at(coat2["closes_at"])
    assert at(coat["cure_until_at"]) > at(coat["end_at"])
    assert at(fit["end_at"]) - at(fit["start_at"]) >= timedelta(hours=3)
    assert {one["step_id"] for one in proposal["changes"]} == steps.keys()
    assert plan["forecast"]["p_launch"] > 0.5
    assert plan["based_on_version"] == yard.owner.cursor


def test_two_who_ask_at_once_get_one_plan(app: Flask, yard: PlanYard):
    second = Phone.join(
        yard.owner.wire, yard.owner.now_ms, yard.owner.invite("owner", "Ozzy"), "second"
    )
    gate, found = threading.Barrier(2), []

    def ask(key: str) -> None:
        gate.wait()
        answer = app.test_client().post(
            f"/api/refits/{yard.owner.refit_id}/plans",
            json={},
            headers={"Authorization": f"Bearer {key}"},
        )
        found.append((answer.status_code, answer.json["plan_id"]))

    threads = [threading.Thread(target=ask, args=(one.key,)) for one in (yard.owner, second)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [status for status, _ in found] == [202, 202]
    assert len({plan_id for _, plan_id in found}) == 1
    assert plan_all(app) == 1


def test_who_asks_while_one_is_worked_out_is_given_that_one(app: Flask, yard: PlanYard):
    again: list[str] = []
    first = yard.ask()
    solver = Scripted(Done(NOTHING), on_begin=lambda: again.append(yard.ask()))
    plan_all(app, solver)
    assert again == [first]
    assert yard.ask() != first


@pytest.mark.parametrize("body", [{"seconds": 0}, {"seconds": 301}, {"seconds": "long"}, {"x": 1}])
def test_how_long_may_be_searched_has_its_limits(app: Flask, yard: PlanYard, body: Any):
    before = dump(app)
    answer = yard.owner.call("POST", "/plans", body=body)
    assert answer.status == 422
    assert answer.json["field"] == next(iter(body))
    assert dump(app) == before


@pytest.mark.parametrize("role", ["hand", "viewer"])
def test_all_may_look_and_only_the_owner_may_do(app: Flask, yard: PlanYard, role: str):
    plan_id = yard.ask()
    plan_all(app)
    phone = yard.hand if role == "hand" else yard.owner.crew("viewer")
    assert phone.call("GET", "/plans").json["plans"][0]["plan_id"] == plan_id
    assert phone.call("GET", f"/plans/{plan_id}").json == yard.plan(plan_id)
    before = dump(app)
    for below, body in (
        ("", {}),
        (f"/{plan_id}/cancel", None),
        (f"/{plan_id}/publish", {"proposal_id": "fresh"}),
    ):
        answer = phone.call("POST", f"/plans{below}", body=body)
        assert (answer.status, code(answer)) == (403, "not-allowed")
    assert dump(app) == before


def test_nobody_sees_the_plan_of_another_refit(yard: PlanYard):
    other = Phone.found(yard.owner.wire, yard.owner.now_ms)
    plan_id = yard.ask()
    for method, below, body in (
        ("GET", "", None),
        ("POST", "/cancel", None),
        ("POST", "/publish", {"proposal_id": "fresh"}),
    ):
        answer = other.call(method, f"/plans/{plan_id}{below}", body=body)
        assert (answer.status, code(answer)) == (404, "unknown-plan")
    assert other.call("GET", "/plans").json == {"plans": []}


def test_who_has_the_newest_already_is_told_so_in_few_bytes(app: Flask, yard: PlanYard):
    plan_id = yard.ask()
    for path in ("/plans", f"/plans/{plan_id}"):
        first = yard.hand.call("GET", path)
        tag = first.headers["etag"]
        again = yard.hand.call("GET", path, headers={"If-None-Match": tag})
        assert (again.status, again.content) == (304, b"")
    plan_all(app)
    for path in ("/plans", f"/plans/{plan_id}"):
        newer = yard.hand.call("GET", path, headers={"If-None-Match": tag})
        assert newer.status == 200
        assert newer.headers["etag"] != tag


def test_answers_fit_the_openapi_document(app: Flask, yard: PlanYard):
    """Answers are checked against their schemas by the package jsonschema (JSON Schema 2020-12)."""
    document = call(yard.owner.wire, "GET", "/api/openapi.json").json
    path = "/api/refits/{refit_id}/plans"
    plan_id = yard.ask()
    for state in ("asked", "ready"):
        for door, below in ((path, "/plans"), (f"{path}/{{plan_id}}", f"/plans/{plan_id}")):
            content = document["paths"][door]["get"]["responses"]["200"]["content"]
            schema = {**content["application/json"]["schema"], "components": document["components"]}
            answer = yard.owner.call("GET", below).json
            faults = Draft202012Validator(schema).iter_errors(answer)
            assert [fault.message for fault in faults] == []
            assert answer.get("state", state) == state
            known = document["components"]["schemas"]["Plan"]["properties"].keys()
            assert "plans" in answer or answer.keys() == known
        plan_all(app)


# --- working it out --------------------------------------------------------------------------------------------------


def test_how_far_a_plan_is_can_be_seen(app: Flask, yard: PlanYard):
    plan_id, seen = yard.ask(), []

    class Slow(Scripted):
        def hear(self, wait_s: float) -> Any:
            seen.append(yard.plan(plan_id)["progress"])
            return super().hear(wait_s) if len(seen) % 4 == 0 else None

    plan_all(app, Slow(Progress("searching", 0.5, 3600.0, 2), Done(NOTHING)))
    assert seen[0]["phase"] == "reading"
    assert {"phase": "searching", "late_s": 3600.0, "missed": 2}.items() <= seen[-1].items()
    assert 0.5 <= seen[-1]["p_done"] <= 0.9


@pytest.mark.parametrize("step_s", [0.4, 2.0])  # it looks, or it was about to write how far it is
def test_a_plan_that_is_called_off_is_let_go_at_the_next_look(
    app: Flask, yard: PlanYard, step_s: float
):
    plan_id = yard.ask()
    solver = Scripted(on_begin=lambda: yard.owner.call("POST", f"/plans/{plan_id}/cancel"))
    planner(app, solver, Seconds(step_s)).look()
    assert (solver.listened, solver.stops) == (1, 1)
    plan = yard.plan(plan_id)
    assert (plan["state"], plan["proposals"], plan["progress"]) == ("cancelled", [], None)


def test_what_comes_of_a_plan_after_it_was_called_off_is_not_written_down(
    app: Flask, yard: PlanYard
):
    plan_id = yard.ask()
    solver = Scripted(
        Done({**NOTHING, "proposals": [{"id": "fresh"}]}),
        on_begin=lambda: yard.owner.call("POST", f"/plans/{plan_id}/cancel"),
    )
    plan_all(app, solver)
    assert yard.plan(plan_id)["state"] == "cancelled"
    assert yard.plan(plan_id)["proposals"] == []


def test_calling_off_twice_changes_nothing_and_what_is_ready_cannot_be(app: Flask, yard: PlanYard):
    plan_id = yard.ask()
    assert yard.owner.call("POST", f"/plans/{plan_id}/cancel").json["state"] == "cancelled"
    before = dump(app)
    assert yard.owner.call("POST", f"/plans/{plan_id}/cancel").status == 200
    assert dump(app) == before
    ready = yard.ask()
    plan_all(app)
    answer = yard.owner.call("POST", f"/plans/{ready}/cancel")
    assert (answer.status, code(answer)) == (409, "plan-ended")


def test_a_plan_that_breaks_a_rule_is_not_shown(
    app: Flask, yard: PlanYard, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("tackwatch.work.planning.working.check", lambda *_: ("two-at-once",))
    plan_id = yard.ask()
    plan_all(app)
    plan = yard.plan(plan_id)
    assert (plan["state"], plan["problem"]["code"]) == ("failed", "breaks-rules")
    assert plan["proposals"] == []


def test_a_forecast_that_fails_is_no_reason_to_have_no_plan(
    app: Flask, yard: PlanYard, monkeypatch: pytest.MonkeyPatch
):
    def breaks(*_: object, **__: object) -> None:
        raise ValueError("no samples")

    monkeypatch.setattr("tackwatch.work.planning.working.forecast", breaks)
    plan_id = yard.ask()
    plan_all(app)
    plan = yard.plan(plan_id)
    assert (plan["state"], plan["forecast"]) == ("ready", None)
    assert plan["proposals"][0]["id"] == "fresh"


def test_a_step_that_nobody_can_do_is_named(app: Flask, yard: PlanYard):
    skill = yard.owner.create("skill", {"name": "Rigging"})
    put = {"do": "put_in", "kind": "step", "id": yard.ids["fit"], "set": "skills", "member": skill}
    yard.owner.act("put_in", put)
    yard.owner.sync()
    plan_id = yard.ask()
    plan_all(app)
    plan = yard.plan(plan_id)
    assert (plan["state"], plan["problem"]) == (
        "failed",
        {"code": "cannot-place", "step_id": yard.ids["fit"]},
    )
    (cannot,) = plan["cannot"]
    assert (cannot["step_ids"], cannot["code"]) == ([yard.ids["fit"]], "skill")


def test_steps_that_wait_for_one_another_are_named(app: Flask, yard: PlanYard):
    fields = {"step_id": yard.ids["sand"], "after_id": yard.ids["coat2"]}
    yard.owner.create("link", fields)
    yard.owner.sync()
    plan_id = yard.ask()
    plan_all(app)
    plan = yard.plan(plan_id)
    assert (plan["state"], plan["problem"]["code"]) == ("failed", "steps-in-a-circle")
    assert set(plan["cannot"][0]["step_ids"]) == {yard.ids[n] for n in ("sand", "coat", "coat2")}


def test_a_planner_that_dies_gives_the_plan_to_the_next_until_it_is_given_up(
    app: Flask, yard: PlanYard, clock: StandingClock
):
    plan_id = yard.ask()
    dead = planner(app)
    for _ in range(3):
        with app.app_context():
            assert dead._claim() is not None  # and is killed
        clock.forward(seconds=19)
        assert not planner(app).look()  # its lease holds
        clock.forward(seconds=2)
    assert not planner(app).look()
    plan = yard.plan(plan_id)
    assert (plan["state"], plan["problem"]["code"]) == ("failed", "gave-up")


def test_a_plan_that_ends_the_process_that_works_it_out_is_given_up(app: Flask, yard: PlanYard):
    plan_id = yard.ask()

    class Dies(Scripted):
        def hear(self, wait_s: float) -> Any:
            raise SolverDiedError("killed")

    solver = Dies()
    plan_all(app, solver)
    assert len(solver.tasks) == 3
    assert yard.plan(plan_id)["problem"]["code"] == "gave-up"


def test_a_planner_that_slept_past_its_lease_changes_nothing_any_more(
    app: Flask, yard: PlanYard, clock: StandingClock
):
    plan_id = yard.ask()

    def taken_over() -> None:
        clock.forward(seconds=60)
        with app.app_context():
            assert planner(app)._claim() is not None

    slept = Scripted(Failed("took-too-long"), on_begin=taken_over)
    planner(app, slept).look()
    assert yard.plan(plan_id)["state"] == "running"
    clock.forward(seconds=60)
    assert plan_all(app) == 1
    assert yard.plan(plan_id)["state"] == "ready"


def test_a_planner_that_is_told_to_end_gives_its_plan_back(app: Flask, yard: PlanYard):
    plan_id = yard.ask()
    for _ in range(5):  # that often is no reason to give it up
        solver = Scripted()
        mine = planner(app, solver)
        solver.on_begin = mine.stop
        mine.look()
        assert solver.stops == 1
        assert yard.plan(plan_id)["state"] == "asked"
    assert plan_all(app) == 1


def test_old_plans_are_let_go_but_not_the_one_that_holds(
    app: Flask, yard: PlanYard, clock: StandingClock
):
    holds = yard.ask()
    plan_all(app)
    assert yard.publish(holds).status == 200
    for _ in range(33):
        clock.forward(minutes=1)
        yard.owner.call("POST", f"/plans/{yard.ask()}/cancel")
    plans = yard.owner.call("GET", "/plans").json["plans"]
    assert len(plans) == 31
    assert plans[-1]["plan_id"] == holds
