"""The plan's screens by the rules: sizes, contrast, names for readers, nothing cut, in two languages, in the dark."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.browser.plan_answers import PlanAnswers, Yard
from tests.browser.plan_screen import Open, aboard, at_plan, bar_of, go
from tests.browser.words import say

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]


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
    device.tap(bar_of(device, yard.step(0, 3)))
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
