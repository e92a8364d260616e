"""The days ahead as a timeline and as a list: bars, rows, windows, and going about them."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.plan_answers import PlanAnswers, Yard
from tests.browser.plan_screen import Open, at_plan, bar_of, go, seen_along
from tests.browser.words import say

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]


def test_a_tap_on_a_bar_says_why_it_sits_there_and_leads_to_its_job(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    device.tap("plan-to-times")
    expect(device.see("plan-row")).to_have_count(4)
    coat = yard.step(0, 3)
    device.tap(bar_of(device, coat))
    about = device.see("plan-about", step=coat)
    expect(about).to_contain_text("Coat 2")
    expect(device.see("plan-why")).to_have_text(
        re.compile("Here because this cures until .*Coat 1")
    )
    expect(device.see("plan-window")).to_contain_text("May start from")
    device.tap("plan-job")
    expect(device.page.locator("h1")).to_contain_text("Barrier coats")


def test_a_missed_window_is_marked_and_said(yard: Yard, answers: PlanAnswers, phone: Open) -> None:
    device = at_plan(phone(), answers, yard)
    device.tap("plan-choose", id="keeps_times")
    device.tap("plan-to-times")
    coat = bar_of(device, yard.step(0, 4), missed="true")
    expect(coat).to_have_attribute("aria-label", re.compile("Its window closes .* sand first"))
    expect(device.page.locator("[data-missed=true] .plan-missed")).to_have_count(1)
    device.tap(coat)
    expect(device.see("plan-window")).to_contain_text("sand first")


def test_the_names_stay_in_view_while_the_days_go_sideways(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    go(device, "plan/times")
    board = device.see("plan-timeline")
    expect(board).to_be_visible()
    before = board.evaluate("one => one.scrollLeft")
    board.evaluate("one => one.scrollBy(900, 0)")
    assert board.evaluate("one => one.scrollLeft") > before
    left, width = device.page.evaluate(
        """() => { const box = document.querySelector("[data-row] .plan-name").getBoundingClientRect();
                   return [box.left, document.scrollingElement.scrollWidth]; }"""
    )
    assert left == 0
    assert width == 360


def test_who_is_in_another_time_zone_is_told_whose_times_these_are(
    yard: Yard, answers: PlanAnswers, laptop: Open
) -> None:
    words = say("en", "time.zone", zone="Europe/Lisbon")
    device = at_plan(laptop(zone="America/New_York"), answers, yard, "viewer")
    go(device, "plan/times")
    expect(device.see("screen-plan")).to_contain_text(words)
    expect(device.page.locator(".plan-hour").first).to_have_text("08:00")
    at_home = at_plan(laptop(), answers, yard, "viewer")
    go(at_home, "plan/times")
    expect(at_home.see("plan-bar").first).to_be_attached()
    expect(at_home.see("screen-plan")).not_to_contain_text(words)


def test_rows_are_zones_and_days_narrow_when_asked(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    go(device, "plan/times")
    wide = device.see("plan-timeline").evaluate("one => one.scrollWidth")
    device.tap("plan-by-zone")
    expect(device.see("plan-row").first).to_contain_text("Port hull")
    device.tap("plan-week-wide")
    expect(device.see("plan-timeline")).to_have_attribute("data-zoom", "week")
    assert device.see("plan-timeline").evaluate("one => one.scrollWidth") < wide / 3


def test_a_switch_to_zones_or_weeks_stays_at_the_days_that_were_looked_at(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    go(device, "plan/times")
    coat = yard.step(0, 4)
    bar = bar_of(device, coat)
    bar.scroll_into_view_if_needed()
    for hook in ("plan-by-zone", "plan-week-wide", "plan-by-zone", "plan-week-wide"):
        device.tap(hook)
        expect(bar).to_be_attached()
        place = bar.bounding_box()
        assert place is not None
        assert 0 <= place["x"] < 360, hook


def test_the_arrows_go_from_bar_to_bar_and_escape_comes_back(
    yard: Yard, answers: PlanAnswers, laptop: Open
) -> None:
    device = at_plan(laptop(), answers, yard)
    go(device, "plan/times")
    stops = device.page.locator("[data-testid=plan-bar][tabindex='0']")
    expect(stops).to_have_count(1)
    stops.focus()
    press = device.page.keyboard.press
    row = "() => document.activeElement.closest('[data-row]').dataset.row"
    start = device.page.evaluate(row)
    press("ArrowDown")
    assert device.page.evaluate(row) != start
    press("ArrowUp")
    assert device.page.evaluate(row) == start
    press("End")
    # a row's last bar is days away, where nothing was drawn before
    expect(stops).to_be_in_viewport()
    last = device.page.evaluate("() => document.activeElement.dataset.step")
    press("ArrowLeft")
    press("ArrowRight")
    assert device.page.evaluate("() => document.activeElement.dataset.step") == last
    expect(stops).to_have_count(1)
    press("Enter")
    expect(device.see("plan-about", step=last)).to_be_visible()
    press("Escape")
    expect(device.see("plan-about")).to_have_count(0)
    assert device.page.evaluate("() => document.activeElement.dataset.step") == last


def test_the_list_by_day_says_all_that_the_bars_say(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    go(device, "plan/times")
    bars = seen_along(device)
    device.tap("plan-as-list")
    expect(device.see("plan-list")).to_be_visible()
    lines = device.see("plan-list-step").evaluate_all("all => all.map(one => one.dataset.step)")
    assert set(lines) == bars
    assert bars == {one[0] for one in yard.steps}
    proposal = answers.plans["plan-1"]["proposals"][0]
    assert len(lines) == sum(len(one["pieces"]) for one in proposal["steps"])
    third = device.see("plan-list-step", step=yard.step(0, 3)).first
    for words in (
        "Coat 2",
        "Barrier coats",
        "Ana",
        "Here because",
        "May start from",
        "cures until",
    ):
        expect(third).to_contain_text(words)


def test_bars_far_from_where_one_looks_are_not_drawn_until_one_goes_there(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    """All bars of a long refit at once take a cheap phone seconds; a row says how many there are all the same."""
    device = at_plan(phone(), answers, yard)
    go(device, "plan/times")
    steps = answers.plans["plan-1"]["proposals"][0]["steps"]
    bars = sum(len(one["pieces"]) for one in steps)
    last = max(steps, key=lambda one: one["start_at"])["step_id"]
    board = device.see("plan-timeline")
    expect(device.see("plan-bar").first).to_be_attached()
    board.evaluate("one => one.scrollTo({ left: 0 })")
    expect(device.see("plan-bar", step=last)).to_have_count(0)
    boxes, days = board.locator(".plan-box"), board.locator("[data-row] .plan-midnight")
    shown = (boxes.count(), days.count())
    far = bar_of(device, last)
    far.scroll_into_view_if_needed()
    expect(far).to_be_in_viewport()
    for some in (shown, (boxes.count(), days.count())):
        assert 0 < some[0] < bars
        assert 0 < some[1] < 16 * 4
    mine = [one for one in steps if one["member_ids"] == [yard.member_ids[0]]]
    row = device.see("plan-row", row=yard.member_ids[0])
    of_row = row.locator("li").first.get_attribute("aria-setsize")
    assert of_row == str(sum(len(one["pieces"]) for one in mine))
