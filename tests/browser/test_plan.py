"""A plan from the tap that asks for it to the time on a painter's phone, through the real server and its planner."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.device import Device
from tests.browser.plan_answers import Yard, launch_in, lay_out_yard
from tests.browser.plan_screen import seen_along
from tests.browser.words import say
from tests.support.phone import Phone
from tests.support.wires import HttpWire

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]

Open = Callable[..., Device]

WORKED_OUT_MS = 180_000


@pytest.fixture
def yard(http: HttpWire) -> Yard:
    launch_at = launch_in(20)
    at = launch_at.isoformat().replace("+00:00", "Z")
    owner = Phone.found(http, lambda: time.time_ns() // 1_000_000, launch_at=at, with_products=True)
    yard = lay_out_yard(owner, launch_at)
    product_id = next(
        item.id
        for item in owner.state.items.values()
        if item.kind == "product" and item.fields["profile"]["id"] == "laminating_epoxy_fast"
    )
    for step_id, kind, hours, _, _ in yard.steps:
        coat = {"product_id": product_id} if kind == "coat" else {}
        owner.set("step", step_id, {"labour_h": hours, **coat})
    for (before, _, _, _, job), (after, kind, _, _, other) in zip(
        yard.steps, yard.steps[1:], strict=False
    ):
        if job == other:
            link = {"step_id": after, "after_id": before}
            owner.create("link", {**link, "by_cure": True} if kind == "coat" else link)
    owner.sync()
    return yard


def test_an_owner_has_a_plan_worked_out_gives_it_and_a_hand_finds_the_time_on_the_step(
    yard: Yard, phone: Open, laptop: Open
) -> None:
    owner, hand = laptop(), phone()
    for device, member_id, role, name in (
        (owner, yard.owner.member_id, "owner", "Olga"),
        (hand, yard.member_ids[1], "hand", "Ana"),
    ):
        answer = yard.owner.call(
            "POST", "/invites", body={"role": role, "name": name, "member_id": member_id}
        )
        assert answer.status == 201, answer.content
        device.join(str(answer.json["link"]), "")
    hand.ready_for_no_signal()

    owner.tap("to-plan")
    expect(owner.see("plan-none")).to_have_text(say("en", "plan.none"))
    owner.tap("plan-ask")
    expect(owner.see("plan-working")).to_be_visible()
    expect(owner.see("plan-proposals")).to_be_visible(timeout=WORKED_OUT_MS)
    expect(owner.see("plan-working")).to_have_count(0)
    expect(owner.see("plan-chance")).to_be_visible()
    expect(owner.see("plan-spare")).to_contain_text("If all goes by the plan")
    owner.tap("plan-to-times")
    assert seen_along(owner) == {one[0] for one in yard.steps}
    owner.tap(owner.see("plan-bar").first)
    expect(owner.see("plan-why")).not_to_be_empty()
    owner.tap("plan-about-close")
    owner.tap("back")

    owner.tap("plan-publish")
    owner.tap("plan-publish-ask-yes")
    expect(owner.see("plan-age")).to_contain_text("Given to the crew")

    yard.owner.sync()
    told = {one[0]: yard.owner.item(one[0]) for one in yard.steps}
    assert all(item.fields.get("planned_start_at") for item in told.values())
    hand.page.evaluate(f"location.hash = '#/job/{yard.job_ids[0]}'")
    expect(hand.see("planned").first).to_contain_text("Planned:")

    # the plan came to the hand's phone by itself, and is there without a signal
    hand.page.evaluate("location.hash = '#/plan'")
    expect(hand.see("plan-age")).to_contain_text("Given to the crew")
    hand.signal(False)
    hand.reload()
    expect(hand.see("plan-offline")).to_be_visible()
    hand.tap("plan-to-times")
    expect(hand.see("plan-bar").first).to_be_attached()
