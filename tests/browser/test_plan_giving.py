"""Asking for a plan, comparing the ways to plan it, and giving one to the crew."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.plan_answers import PlanAnswers, Yard, head_of, plan_of
from tests.browser.plan_screen import Open, at_plan, no_signal
from tests.browser.words import say

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]


def test_an_owner_asks_sees_how_far_it_is_and_stops_it(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    device.tap("plan-ask")
    working = device.see("plan-working")
    expect(working).to_contain_text("35 %")
    expect(working).to_contain_text("25 h late")
    expect(device.see("plan-ask")).to_have_count(0)
    # it goes on by itself while the screen is open
    answers.heads[0]["progress"]["p_done"] = 0.6
    expect(working).to_contain_text("60 %")
    # what stood before still stands there
    expect(device.see("plan-chance")).to_be_visible()
    device.tap("plan-cancel")
    expect(device.see("plan-ended")).to_contain_text("was stopped")
    expect(device.see("plan-ask")).to_be_visible()
    posts = [below for method, below, _ in answers.asked if method == "POST"]
    assert posts == ["", "plan-2/cancel"]


def test_an_owner_compares_sees_whom_it_touches_and_gives_it_by_two_taps(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    cells = device.see("plan-beside").locator("tbody").nth(0).locator("td")
    expect(cells).to_have_text(["in time", "2 d 3 h late", "in time"])
    expect(device.see("plan-beside")).to_contain_text("1 missed, 2 h more sanding")
    device.tap("plan-choose", id="keeps_order")
    expect(device.see("plan-choose", id="keeps_order")).to_have_attribute("aria-pressed", "true")
    expect(device.see("plan-changes-for")).to_have_count(2)
    ana = device.see("plan-changes-for").filter(has_text=re.compile("^Ana:"))
    device.tap(ana)
    first = device.see("plan-change", step=yard.step(0, 0))
    expect(first).to_contain_text("New:")
    third = device.see("plan-change", step=yard.step(0, 2)).first
    expect(third).to_contain_text("Comes from: Maximiliana")
    expect(third).to_contain_text(re.compile("It was .*, now "))
    device.tap("plan-publish")
    asked = device.see("plan-publish-ask")
    expect(asked).to_contain_text("Keeps the order")
    expect(asked).to_contain_text("4 steps get another time or other people. People told: 2.")
    assert [one for one in answers.asked if one[0] == "POST"] == []
    device.tap("plan-publish-ask-yes")
    expect(device.see("said")).to_contain_text(say("en", "plan.published_now"))
    (post,) = [one for one in answers.asked if one[0] == "POST"]
    assert post[1:] == ("plan-1/publish", {"proposal_id": "keeps_order"})
    expect(device.see("plan-age")).to_contain_text("Given to the crew")
    expect(device.see("plan-publish")).to_have_count(0)
    expect(device.see("plan-beside")).to_have_count(0)


def test_a_plan_that_the_board_has_overtaken_is_not_given_and_the_owner_is_told_why(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    answers.against = "plan-outdated"
    device = at_plan(phone(), answers, yard)
    device.tap("plan-publish")
    device.tap("plan-publish-ask-yes")
    expect(device.see("said")).to_contain_text(say("en", "why.plan_outdated"))
    expect(device.see("plan-age")).to_contain_text("not given to the crew")


def test_hands_see_what_was_given_and_neither_ask_nor_give(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    """A newer plan that nobody has given to the crew is not shown to it."""
    answers.show(plan_of(yard, "published"))
    newer = {**plan_of(yard), "plan_id": "plan-9"}
    answers.heads.insert(0, head_of("ready", "plan-9"))
    answers.plans["plan-9"] = newer
    device = at_plan(phone(), answers, yard, "hand")
    expect(device.see("plan-age")).to_contain_text("Given to the crew")
    for hook in ("plan-ask", "plan-publish", "plan-beside"):
        expect(device.see(hook)).to_have_count(0)
    device.tap("plan-to-mine")
    expect(device.see("screen-now")).to_be_visible()


def test_an_owner_without_a_signal_is_told_that_a_plan_cannot_be_asked_for(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    device.ready_for_no_signal()
    no_signal(device, answers)
    device.tap("plan-ask")
    expect(device.see("said")).to_contain_text(say("en", "problem.offline"))
    expect(device.see("plan-chance")).to_be_visible()
