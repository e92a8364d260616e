"""How a person is rung: chosen on the phone, in time by the page's own clock, handed on, done, and taken back."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board, written
from tests.browser.conftest import Open
from tests.browser.device import Device, api_of, wait_until
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.browser.test_alarms import (
    alarm_of,
    answer_notice,
    message_about,
    notices,
    push,
    stir_a_pot_an_hour_ago,
    worker_of,
)
from tests.browser.test_alarms import painter as painter
from tests.browser.words import say
from tests.support.wires import HttpWire


def rules_of(board: Board, member_id: str) -> list[dict[str, Any]]:
    """Give what the server's rules for a person say."""
    board.owner.sync()
    found = board.owner.state.items.values()
    return [
        {name: value for name, value in item.fields.items() if value is not None}
        for item in found
        if item.kind == "ring_rule" and item.fields["member_id"] == member_id
    ]


def due_soon(board: Board, device: Device, http: HttpWire) -> datetime:
    """Lay a first coat; gives when its window opens for the painter."""
    board.coat(0, hours_ago=0.1)
    board.owner.sync()
    expect(device.see("clock")).to_be_visible()
    return datetime.fromisoformat(alarm_of(device, http, "recoat_open")["due_at"])


@pytest.fixture
def slow(board: Board, phone: Open) -> Device:
    """A painter's phone whose clock the test moves."""
    link, member_id = board.invited("Paz")
    board.assign(member_id)
    device = phone(clock=True)
    device.join(link, "")
    expect(device.see("my-steps")).to_be_visible()
    return device


def test_a_page_in_sight_rings_within_a_second_of_the_instant(
    board: Board, slow: Device, http: HttpWire
) -> None:
    due_at = due_soon(board, slow, http)
    slow.signal(False)  # the page alone
    slow.page.clock.pause_at(due_at - timedelta(milliseconds=1500))
    slow.page.clock.run_for(1400)
    expect(slow.see("alarm")).to_have_count(0)
    slow.rang(0)
    slow.page.clock.run_for(1000)
    expect(slow.see("alarm")).to_have_attribute("data-kind", "recoat_open")
    slow.rang(1)


_SIGHT = """state => {
  Object.defineProperty(document, "visibilityState", { value: state, configurable: true });
  document.dispatchEvent(new Event("visibilitychange"));
}"""


def test_a_page_that_comes_back_to_the_front_rings_at_once_what_fell_due_meanwhile(
    board: Board, slow: Device, http: HttpWire
) -> None:
    due_at = due_soon(board, slow, http)
    slow.signal(False)
    slow.page.clock.pause_at(due_at - timedelta(minutes=5))
    slow.page.evaluate(_SIGHT, "hidden")
    slow.page.clock.set_system_time(due_at + timedelta(minutes=5))  # it slept: no timer ran
    slow.rang(0)
    slow.page.evaluate(_SIGHT, "visible")
    slow.rang(1)
    expect(slow.see("alarm")).to_have_attribute("data-kind", "recoat_open")


def test_a_phone_whose_clock_is_an_hour_wrong_rings_by_the_server_s(
    board: Board, phone: Open, http: HttpWire
) -> None:
    link, member_id = board.invited("Paz")
    board.assign(member_id)
    device = phone(clock=True)
    wrong_by = timedelta(hours=-1)
    device.page.clock.set_system_time(datetime.now(UTC) + wrong_by)
    device.join(link, "")
    due_at = due_soon(board, device, http)
    device.signal(False)
    # the measure is good to half a round trip: two seconds are left on either side
    device.page.clock.pause_at(due_at + wrong_by - timedelta(seconds=2))
    device.rang(0)
    device.page.clock.run_for(4000)
    device.rang(1)


def test_the_test_ring_is_asked_for_until_somebody_heard_it(board: Board, phone: Open) -> None:
    link, member_id = board.invited("Paz", language="es")
    board.assign(member_id)
    painter = phone()  # where notices are not allowed: it says so among what to try
    painter.join(link, "")
    painter.tap(painter.see("not-ready").get_by_role("link"))
    painter.tap("get-ready")
    expect(painter.see("heard")).to_be_visible()
    assert painter.asked["sounds"] == 1
    painter.tap("heard-no")
    expect(painter.see("heard-try")).to_contain_text(say("es", "ring.try_volume"))
    expect(painter.see("cannot-push")).to_be_visible()
    painter.open("/#/now")
    expect(painter.see("not-ready")).to_be_visible()
    painter.open("/#/alarms")
    painter.tap("get-ready")
    painter.tap("heard-yes")
    expect(painter.see("heard")).to_have_count(0)
    painter.open("/#/now")
    painter.reload()
    expect(painter.see("screen-now")).to_be_visible()
    expect(painter.see("my-steps")).to_be_visible()
    expect(painter.see("not-ready")).to_have_count(0)


def test_choices_are_written_down_at_a_tap_and_the_owner_makes_them_for_others(
    board: Board, painter: Device, phone: Open, http: HttpWire
) -> None:
    painter.open("/#/alarms")
    painter.choose("ring-quiet", "22:00-07:00")
    painter.choose("ring-unseen", "15")
    painter.choose("ring-walk", "30")
    painter.tap("ring-kinds")
    sand = painter.see("ring-kind", kind="sandable")
    painter.tap(sand.get_by_test_id("ring-on"))
    member_id = api_of(painter, http).member_id
    night = {"quiet_from": "22:00", "quiet_to": "07:00", "unseen_min": 15, "walk_min": 30}
    wanted = [
        {"member_id": member_id, **night},
        {"member_id": member_id, "kind": "sandable", "off": True},
    ]
    wait_until(lambda: rules_of(board, member_id) == wanted)
    owner = phone()
    owner.join(board.owners_link(), "")
    owner.open("/#/alarms")
    owner.pick("ring-for", "Paz")
    expect(owner.see("ring-quiet").locator('input[value="22:00-07:00"]')).to_be_checked()
    owner.choose("ring-quiet", "")
    wait_until(lambda: "quiet_from" not in rules_of(board, member_id)[0])


def test_a_partner_far_away_has_quiet_hours_by_their_own_clock_if_they_like(
    board: Board, phone: Open
) -> None:
    link, member_id = board.invited("Pru", role="viewer")
    partner = phone(zone="America/New_York")
    partner.join(link, "")
    partner.open("/#/alarms")
    expect(partner.see("ring-zone")).to_contain_text("America/New_York")
    partner.choose("ring-zone", "America/New_York")
    partner.choose("ring-quiet", "22:00-07:00")

    def said() -> bool:
        board.owner.sync()
        return board.owner.item(member_id).fields.get("time_zone") == "America/New_York"

    wait_until(said)
    partner.choose("ring-zone", "")
    wait_until(lambda: not said())


def test_a_step_is_planned_on_the_phone_and_rings_who_has_it(
    board: Board, painter: Device, http: HttpWire
) -> None:
    painter.open(f"/#/job/{board.job_id}")
    step = painter.page.locator(f'[data-testid="step"][data-step="{board.step_ids[1]}"]')
    painter.tap(step.get_by_test_id("step-more"))
    start = datetime.now(UTC) + timedelta(days=2)
    painter.type("planned-day", f"{start:%Y-%m-%d}", step)
    painter.tap(step.get_by_test_id("planned-save"))
    expect(step.get_by_text(say("es", "planned.whole"))).to_be_visible()
    painter.type("planned-time", "08:00", step)
    painter.type("planned-end-time", "12:30", step)
    painter.tap(step.get_by_test_id("planned-save"))
    expect(step.get_by_test_id("planned")).to_contain_text("12:30")
    alarm = alarm_of(painter, http, "step_due")
    due_at = datetime.fromisoformat(alarm["due_at"])
    planned_at = datetime.fromisoformat(alarm["params"]["planned_start_at"])
    assert planned_at - due_at == timedelta(minutes=25)
    painter.open("/#/alarms")
    painter.open(f"/#/alarms/step/{board.step_ids[1]}")
    painter.choose("ring-step-on", "off")
    asking = api_of(painter, http)
    wait_until(
        lambda: (
            not [a for a in asking.call("GET", "/alarms").json["alarms"] if a["kind"] == "step_due"]
        )
    )


def test_what_nobody_sees_comes_to_the_owner_s_open_page_with_whose_it_was(
    board: Board, painter: Device, phone: Open, http: HttpWire
) -> None:
    owner = phone()
    owner.join(board.owners_link(), "")
    member_id = api_of(painter, http).member_id
    board.owner.create("ring_rule", {"member_id": member_id, "unseen_min": 0.02})
    board.owner.sync()
    stir_a_pot_an_hour_ago(painter)
    expect(owner.see("alarm")).to_have_attribute("data-kind", "pot_life_over")
    expect(owner.see("alarm-handed")).to_have_text(say("en", "alarm.handed", name="Paz"))
    owner.tap("alarm-done")
    expect(owner.see("alarm", kind="pot_life_over")).to_have_count(0)
    expect(painter.see("alarm", kind="pot_life_over")).to_have_count(0)
    owner.open("/#/alarms")
    trace = owner.see("told").filter(has_text=say("en", "ring.kind_pot_life_over"))
    expect(trace.get_by_test_id("told-trace")).to_have_text(
        re.compile(r"Paz .*, not seen; Olga .*")
    )


def test_a_push_that_takes_an_alarm_back_takes_the_place_of_its_notification(
    board: Board, painter: Device, http: HttpWire
) -> None:
    board.coat(0, hours_ago=0.1)
    board.owner.sync()
    expect(painter.see("clock")).to_be_visible()
    alarm = alarm_of(painter, http, "recoat_open")
    worker_of(painter)
    painter.page.goto("about:blank")
    push(painter, message_about(alarm))
    notices(painter)
    push(painter, {"alarm_id": alarm["alarm_id"], "withdrawn": True, "lang": "es"})
    wait_until(lambda: notices(painter)[0]["title"] == "Ya no hace falta")
    (notice,) = notices(painter)
    assert (notice["silent"], notice["actions"]) == (True, [])


def test_what_the_worker_rang_is_not_rung_again_by_the_page_nor_by_a_second_push(
    board: Board, painter: Device, http: HttpWire
) -> None:
    board.coat(0, hours_ago=2.5)
    board.owner.sync()
    opened = alarm_of(painter, http, "recoat_open")
    stir_a_pot_an_hour_ago(painter)
    over = alarm_of(painter, http, "pot_life_over")
    expect(painter.see("alarm", kind="pot_life_over")).to_be_visible()
    wait_until(lambda: painter.asked["sounds"] >= 2)  # of the pot: it is over, and has gelled
    worker_of(painter)
    painter.page.goto("about:blank")
    push(painter, message_about(over))
    (notice,) = notices(painter)
    assert notice["silent"] is True, "the page rang it"
    later = {**message_about(opened), "due_at": written(datetime.now(UTC))}
    push(painter, later)
    wait_until(lambda: len(notices(painter, 2)) == 2)
    loud = [one["tag"] for one in notices(painter, 2) if one["silent"] is not True]
    assert loud == [opened["alarm_id"]]
    push(painter, later)
    wait_until(lambda: all(one["silent"] for one in notices(painter, 2)))


def test_a_missed_window_leads_to_the_sanding_that_one_tap_puts_in(
    board: Board, painter: Device
) -> None:
    board.coat(0, hours_ago=24)
    done = {
        "step_id": board.step_ids[0],
        "mark": "finished",
        "marked_at": written(datetime.now(UTC)),
    }
    board.owner.record("mark", done)
    board.owner.sync()
    expect(painter.see("alarm")).to_have_attribute("data-kind", "recoat_missed")
    painter.tap("alarm-do")
    expect(painter.see("screen-job")).to_be_visible()
    painter.tap("readiness-put")
    expect(
        painter.page.locator('[data-testid="step"]').filter(
            has=painter.page.get_by_role("heading", name=say("es", "kind.sand"))
        )
    ).to_be_visible()


def test_done_on_a_notification_ends_it_for_everybody_when_a_page_is_opened(
    board: Board, painter: Device, http: HttpWire
) -> None:
    board.coat(0, hours_ago=0.1)
    board.owner.sync()
    expect(painter.see("clock")).to_be_visible()
    alarm = alarm_of(painter, http, "recoat_open")
    worker_of(painter)
    painter.page.goto("about:blank")
    push(painter, message_about(alarm))
    notices(painter)
    answer_notice(painter, "done")
    painter.open("/")
    expect(painter.see("screen-now")).to_be_visible()
    wait_until(lambda: [one["alarm_id"] for one in board.records("handled")] == [alarm["alarm_id"]])


def test_the_alarm_screens_are_readable_on_a_phone_and_a_laptop(
    board: Board, phone: Open, laptop: Open
) -> None:
    board.coat(0, hours_ago=0.1)
    start = datetime.now(UTC) + timedelta(hours=3)
    fields = {
        "planned_start_at": written(start),
        "planned_end_at": written(start + timedelta(hours=2)),
    }
    board.owner.sync()
    board.owner.set("step", board.step_ids[1], fields)
    board.owner.sync()
    for device in (phone(), laptop()):
        device.join(board.owners_link(), "")
        for place in ("alarms", f"alarms/step/{board.step_ids[1]}", f"job/{board.job_id}"):
            device.open(f"/#/{place}")
            expect(device.see(f"screen-{place.partition('/')[0]}").locator("h1")).to_be_visible()
            open_all(device)
            assert wrong_by_the_rules(device) == []
            assert wrong_to_the_eye(device) == []
