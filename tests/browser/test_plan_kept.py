"""The plan without a signal, and on paper."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from playwright.sync_api import expect

from tests.browser.plan_answers import ZONE, PlanAnswers, Yard, head_of
from tests.browser.plan_screen import Open, aboard, above, at_plan, bar_of, go, no_signal, until
from tests.browser.words import say

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]


def test_the_last_plan_is_there_without_a_signal_after_the_page_is_opened_anew(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    """It is there also on a phone whose person never looked at the plan before."""
    device = phone()
    answers.answer_for(device)
    aboard(device, yard, "hand")
    device.ready_for_no_signal()
    until(device, lambda: "plan-1" in [one[1] for one in answers.asked])
    no_signal(device, answers)
    device.reload()
    go(device, "plan")
    expect(device.see("plan-chance")).to_have_text(say("en", "plan.chance_likely"))
    expect(device.see("plan-offline")).to_contain_text("this is how it stood today")
    assert above(device.see("plan-offline"), device.see("plan-glance"))
    device.tap("plan-to-times")
    expect(device.see("plan-row")).to_have_count(4)
    device.tap(bar_of(device, yard.step(2, 0)))
    expect(device.see("plan-why")).to_have_text(say("en", "plan.why_free_bare"))


def test_what_a_plan_that_failed_would_take_is_there_without_a_signal(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    """The ways out come with the plans, before anybody looks at them, and outlast the page."""
    step_id = yard.step(5, 2)
    problem = {"code": "cannot-place", "step_id": step_id}
    answers.heads.insert(0, head_of("failed", "plan-2", problem=problem))
    day = (datetime.now(ZONE).date() + timedelta(days=11)).isoformat()
    out = {"step_ids": [step_id], "code": "hours", "params": {"hours": 2}, "buys_on": day}
    answers.plans["plan-2"] = {**answers.heads[0], "proposals": [], "cannot": [out]}
    device = phone()
    answers.answer_for(device)
    aboard(device, yard)
    device.ready_for_no_signal()
    until(device, lambda: "plan-2" in [one[1] for one in answers.asked])
    no_signal(device, answers)
    device.reload()
    go(device, "plan")
    expect(device.see("plan-offline")).to_be_visible()
    lacking = device.see("plan-lacking")
    expect(lacking).to_contain_text("Longer days: 2 h more each day.")
    expect(lacking.locator("[data-testid=plan-buys]")).to_contain_text("would be done")
    expect(lacking.get_by_role("link")).to_contain_text("Rudder bearing")
    # and so are those of the plan that is shown
    expect(device.see("plan-cannot-one", code="person")).to_contain_text("One more pair of hands")


def test_what_is_known_already_is_not_sent_again(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    expect(device.see("plan-chance")).to_be_visible()
    before = answers.unchanged
    go(device, "work")
    go(device, "plan")
    until(device, lambda: answers.unchanged >= before + 2)
    expect(device.see("plan-chance")).to_be_visible()


def test_paper_has_each_week_and_nothing_that_is_tapped(
    yard: Yard, answers: PlanAnswers, laptop: Open
) -> None:
    device = at_plan(laptop(), answers, yard)
    go(device, "plan/times")
    expect(device.see("plan-timeline")).to_be_visible()
    device.page.set_viewport_size({"width": 1046, "height": 720})
    device.page.emulate_media(media="print")
    paper = device.see("plan-paper")
    expect(paper).to_be_visible()
    weeks = device.see("plan-week")
    assert weeks.count() >= 2
    expect(weeks.first.locator("[data-row]")).to_have_count(4)
    expect(weeks.last).to_contain_text(say("en", "now.launch"))
    for hook in ("plan-bar", "plan-as-list", "plan-print", "nav-now", "back"):
        assert [one for one in device.see(hook).all() if one.is_visible()] == [], hook
    widest = paper.evaluate(
        "one => Math.max(...[...one.querySelectorAll('svg.plan-line')].map(part => part.getBoundingClientRect().right))"
    )
    assert widest <= 1046
    colours = paper.evaluate(
        """one => [...one.querySelectorAll("rect, path, line, text")].flatMap(part => {
             const { fill, stroke } = getComputedStyle(part);
             return [fill, stroke].filter(value => value.startsWith("rgb"));
           })"""
    )
    greys = [set(re.findall(r"\d+", one.split(")")[0])[:3]) for one in colours]
    assert colours
    assert all(len(one) == 1 for one in greys), "something needs its colour on paper"
    device.page.emulate_media(media="screen")
    expect(device.see("plan-timeline")).to_be_visible()


def test_the_browsers_own_print_gives_a4_across(
    yard: Yard, answers: PlanAnswers, laptop: Open
) -> None:
    """Source: ISO 216, A4 is 210 mm by 297 mm; 72 points to the inch of 25.4 mm."""
    device = at_plan(laptop(), answers, yard)
    go(device, "plan/times")
    expect(device.see("plan-timeline")).to_be_visible()
    paper = device.page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", paper)
    assert boxes
    for width, height in boxes:
        assert float(width) == pytest.approx(297 / 25.4 * 72, abs=1)
        assert float(height) == pytest.approx(210 / 25.4 * 72, abs=1)
    # two weeks, and no page for each line
    assert len(boxes) <= 3
    expect(device.see("plan-timeline")).to_be_visible()
