"""The plan at a glance: the date and its chance, what decides it, what cannot be, and the labour done and to come.

The answers are laid by hand (``plan_answers``), as in all tests of the plan's screens: what stands here is what a
person sees and can do with them.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.plan_answers import PlanAnswers, Yard, forecast_of, head_of, plan_of
from tests.browser.plan_screen import Open, above, at_plan, go
from tests.browser.words import say

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]


def test_an_owner_sees_the_date_its_chance_and_what_decides_it_in_one_place(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    expect(device.see("plan-chance")).to_have_text(say("en", "plan.chance_likely"))
    glance = device.see("plan-glance")
    expect(glance).to_contain_text(say("en", "plan.chance_n", n=72))
    expect(device.see("plan-spare")).to_contain_text("to spare")
    expect(device.see("plan-days").locator("dd")).to_have_count(3)
    expect(device.see("plan-r")).to_contain_text("0.35")
    expect(device.see("plan-afloat")).to_contain_text("91 %")
    expect(device.see("plan-afloat-job", job=yard.job_ids[4])).to_contain_text("Cockpit lockers")
    first = device.see("plan-deciding-job").first
    expect(first).to_contain_text("Barrier coats")
    expect(first).to_contain_text("71 %")
    # under two in a hundred it decides nothing
    expect(device.see("plan-deciding-job", job=yard.job_ids[4])).to_have_count(0)
    lines = device.see("plan-cannot-one")
    expect(lines.nth(0)).to_contain_text("What makes it late: too few people.")
    expect(lines.nth(0).locator("[data-testid=plan-buys]")).to_have_count(0)
    expect(lines.nth(1)).to_contain_text("One more pair of hands for two days from today.")
    expect(lines.nth(1).locator("[data-testid=plan-buys]")).to_contain_text("would be done")
    expect(lines.nth(2)).to_contain_text(say("en", "plan.buys_none"))
    device.tap("plan-notes")
    expect(device.see("plan-note", code="no_estimate")).to_contain_text("Measure the play")


def test_a_refit_that_will_not_end_by_itself_is_told_so(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    forecast = forecast_of(
        yard, never_ends=True, r=1.2, r_low=0.8, r_high=1.7, r_from="record", p_launch=0.04
    )
    answers.show(plan_of(yard, forecast={**forecast, "p50_on": None, "p90_on": None}))
    device = at_plan(phone(), answers, yard)
    expect(device.see("plan-never-ends")).to_contain_text("it will not end by itself")
    assert above(device.see("plan-never-ends"), device.see("plan-chance"))
    expect(device.see("plan-glance")).to_have_attribute("data-tone", "gone")
    expect(device.see("plan-r")).to_contain_text("by this refit's own record")
    expect(device.see("plan-days").locator("dd").nth(2)).to_have_text(say("en", "plan.no_day"))


def test_a_plan_that_is_late_has_its_ways_out_before_the_ways_to_plan_it(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    late = plan_of(yard)["proposals"][1] | {"late_bound_s": 100_000}
    answers.show(plan_of(yard, proposals=[late]))
    device = at_plan(phone(), answers, yard)
    cannot = device.see("plan-cannot")
    expect(cannot).to_have_count(1)
    expect(cannot).to_contain_text("However it is planned: 27 h 46 min late.")
    assert above(device.see("plan-glance"), cannot)
    assert above(cannot, device.see("plan-proposals"))


def test_a_plan_that_came_to_nothing_says_why_and_leaves_the_one_before(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    problem = {"code": "cannot-place", "step_id": yard.step(5, 2)}
    answers.heads.insert(0, head_of("failed", "plan-2", problem=problem))
    lacking = {
        "step_ids": [yard.step(5, 2)],
        "code": "hours",
        "params": {"hours": 2},
        "buys_on": None,
    }
    answers.plans["plan-2"] = {**answers.heads[0], "proposals": [], "cannot": [lacking]}
    device = at_plan(phone(), answers, yard)
    expect(device.see("plan-ended")).to_contain_text("has nowhere to go: Fit, Deck: Rudder bearing")
    expect(device.see("plan-lacking")).to_contain_text("Longer days: 2 h more each day.")
    expect(device.see("plan-chance")).to_be_visible()


def test_who_is_here_before_the_board_came_sees_the_plan_as_soon_as_it_has_come(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = phone()
    answers.answer_for(device)
    held = re.compile(r"/api/refits/[^/]+/(sync|snapshot)")
    device.context.route(held, lambda route: route.abort("internetdisconnected"))
    answer = yard.owner.call("POST", "/invites", body={"role": "hand", "name": "Vera"})
    device.page.goto(str(answer.json["link"]))
    device.type("device-name", "")
    device.tap("join")
    expect(device.see("screen-now")).to_be_visible()
    go(device, "plan")
    expect(device.see("screen-plan")).to_be_visible()
    expect(device.see("plan-glance")).to_have_count(0)
    device.context.unroute(held)
    device.see("sync-state").click()
    device.tap("sync-now")
    go(device, "plan")
    expect(device.see("plan-chance")).to_be_visible()


def test_a_refit_without_a_plan_says_who_can_have_one(yard: Yard, phone: Open) -> None:
    device = at_plan(phone(), PlanAnswers(), yard, "viewer")
    expect(device.see("plan-none")).to_have_text(say("en", "plan.none"))
    expect(device.see("plan-standing")).to_contain_text(say("en", "plan.owner_asks"))


def test_the_labour_is_drawn_and_said_in_a_sentence_and_in_figures(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    device.tap("plan-to-done")
    picture = device.see("plan-burn-up").locator("svg[role=img]")
    words = picture.get_attribute("aria-label") or ""
    assert words.startswith("90 h of labour are done, of 210 h that are known.")
    # the launch is in sixteen days: 90 + 16 times 5, 6.5 and 8 h
    assert "By the launch it will be 194 h" in words
    assert "between 170 and 218 h" in words
    device.tap("plan-done-table")
    expect(device.page.locator(".plan-table tbody tr").last).to_contain_text("258 h")
