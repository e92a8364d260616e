"""The plan on screens: at a glance, side by side, as a timeline, without a signal, and on paper.

The answers are laid by hand (``plan_answers``): what stands here is what a person sees and can do with them.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.device import Device
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.browser.plan_answers import (
    PlanAnswers,
    Yard,
    forecast_of,
    head_of,
    launch_in,
    lay_out_yard,
    plan_of,
)
from tests.browser.words import say
from tests.support.phone import Phone
from tests.support.wires import HttpWire

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

Open = Callable[..., Device]


@pytest.fixture
def yard(http: HttpWire) -> Yard:
    launch_at = launch_in(16)
    at = launch_at.isoformat().replace("+00:00", "Z")
    return lay_out_yard(
        Phone.found(http, lambda: time.time_ns() // 1_000_000, launch_at=at), launch_at
    )


@pytest.fixture
def answers(yard: Yard) -> PlanAnswers:
    """Answers with one plan that is ready."""
    made = PlanAnswers()
    made.show(plan_of(yard))
    return made


def aboard(device: Device, yard: Yard, role: str = "owner", language: str = "en") -> None:
    """Come aboard as the owner, or as somebody new."""
    mine = {"member_id": yard.owner.member_id} if role == "owner" else {}
    body = {"role": role, "name": "Olga" if mine else "Vera", "language": language, **mine}
    answer = yard.owner.call("POST", "/invites", body=body)
    assert answer.status == 201, answer.content
    device.join(str(answer.json["link"]), "")


def go(device: Device, place: str) -> None:
    """Go to a place and wait until its heading has taken the focus."""
    device.page.evaluate(
        "place => { document.activeElement.blur(); location.hash = `#/${place}`; }", place
    )
    expect(device.page.locator("h1:focus")).to_be_visible()


def until(device: Device, happened: Callable[[], bool]) -> None:
    """Wait in the page's own loop, since what it asks is answered in this process."""
    for _ in range(200):
        if happened():
            return
        device.page.wait_for_timeout(100)
    raise AssertionError("it did not happen")


def no_signal(device: Device, answers: PlanAnswers) -> None:
    device.signal(False)
    answers.reachable = False


def at_plan(device: Device, answers: PlanAnswers, yard: Yard, role: str = "owner") -> Device:
    answers.answer_for(device)
    aboard(device, yard, role)
    go(device, "plan")
    return device


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
    expect(device.see("plan-glance")).to_have_attribute("data-tone", "gone")
    expect(device.see("plan-r")).to_contain_text("by this refit's own record")
    expect(device.see("plan-days").locator("dd").nth(2)).to_have_text(say("en", "plan.no_day"))


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


def test_a_refit_without_a_plan_says_who_can_have_one(yard: Yard, phone: Open) -> None:
    device = at_plan(phone(), PlanAnswers(), yard, "viewer")
    expect(device.see("plan-none")).to_have_text(say("en", "plan.none"))
    expect(device.see("plan-standing")).to_contain_text(say("en", "plan.owner_asks"))


# --- the timeline --------------------------------------------------------------------------------------------------


def test_a_tap_on_a_bar_says_why_it_sits_there_and_leads_to_its_job(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    device.tap("plan-to-times")
    expect(device.see("plan-row")).to_have_count(4)
    coat = yard.step(0, 3)
    device.tap(device.see("plan-bar", step=coat).first)
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
    coat = device.see("plan-bar", step=yard.step(0, 4), missed="true")
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
    expect(device.see("plan-bar").first).to_be_attached()
    bars = device.see("plan-bar").evaluate_all("all => all.map(one => one.dataset.step).sort()")
    device.tap("plan-as-list")
    expect(device.see("plan-list")).to_be_visible()
    lines = device.see("plan-list-step").evaluate_all(
        "all => all.map(one => one.dataset.step).sort()"
    )
    assert lines == bars
    assert len(set(lines)) == len(yard.steps)
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


# --- without a signal, on paper, for everybody -----------------------------------------------------------------------


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
    device.tap("plan-to-times")
    expect(device.see("plan-row")).to_have_count(4)
    device.tap(device.see("plan-bar", step=yard.step(2, 0)))
    expect(device.see("plan-why")).to_have_text(say("en", "plan.why_free_bare"))


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


def test_an_owner_without_a_signal_is_told_that_a_plan_cannot_be_asked_for(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(), answers, yard)
    device.ready_for_no_signal()
    no_signal(device, answers)
    device.tap("plan-ask")
    expect(device.see("said")).to_contain_text(say("en", "problem.offline"))
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


@pytest.mark.parametrize(
    ("shape", "language"), [("phone", "en"), ("phone", "es"), ("laptop", "es")]
)
def test_the_plan_is_for_everybody_and_fits_its_screen(
    yard: Yard, answers: PlanAnswers, phone: Open, laptop: Open, shape: str, language: str
) -> None:
    device = {"phone": phone, "laptop": laptop}[shape]()
    answers.answer_for(device)
    if language == "es":
        yard.owner.sync()
        yard.owner.set("member", yard.owner.member_id, {"language": "es"})
        yard.owner.sync()
    aboard(device, yard, language=language)
    found: list[str] = []

    def look(what: str) -> None:
        open_all(device)
        found.extend(f"{what}: {one}" for one in wrong_to_the_eye(device))
        found.extend(f"{what}: {one}" for one in wrong_by_the_rules(device))

    go(device, "plan")
    expect(device.see("plan-chance")).to_have_text(say(language, "plan.chance_likely"))
    look("the plan")
    device.tap("plan-publish")
    look("giving it")
    device.tap("plan-ask")
    expect(device.see("plan-working")).to_be_visible()
    look("a plan in the works")
    go(device, "plan/times")
    expect(device.see("plan-bar").first).to_be_attached()
    look("the days by person")
    device.tap(device.see("plan-bar", step=yard.step(0, 3)).first)
    expect(device.see("plan-about")).to_be_visible()
    look("one step")
    device.tap("plan-about-close")
    device.tap("plan-by-zone")
    device.tap("plan-week-wide")
    look("the weeks by zone")
    device.tap("plan-as-list")
    expect(device.see("plan-list")).to_be_visible()
    look("the list")
    go(device, "plan/done")
    expect(device.see("plan-burn-up")).to_be_visible()
    look("the labour")
    assert not found, "\n".join(["", *found])


def test_the_plan_keeps_its_contrast_in_the_dark(
    yard: Yard, answers: PlanAnswers, phone: Open
) -> None:
    device = at_plan(phone(color_scheme="dark"), answers, yard)
    expect(device.see("plan-chance")).to_be_visible()
    found = wrong_by_the_rules(device)
    go(device, "plan/times")
    expect(device.see("plan-bar").first).to_be_attached()
    found += wrong_by_the_rules(device)
    go(device, "plan/done")
    expect(device.see("plan-burn-up")).to_be_visible()
    found += wrong_by_the_rules(device)
    assert found == []
