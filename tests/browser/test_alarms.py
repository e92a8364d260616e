"""Alarms that come over the air: shown by the worker, answered from the notification, rung once on one phone."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Worker, expect

from tests.browser.board import Board
from tests.browser.device import Device, api_of, wait_until
from tests.browser.looks import wrong_by_the_rules, wrong_to_the_eye
from tests.browser.words import say
from tests.support.wires import HttpWire

pytestmark = pytest.mark.browser

Open = Callable[..., Device]


# A notification that is asked for before the browser has shown it may be taken for one that is gone.
_SHOWN = """() => {
  if (globalThis.shown === undefined) {
    globalThis.shown = 0;
    const show = registration.showNotification.bind(registration);
    registration.showNotification = async (...said) => {
      await show(...said);
      globalThis.shown += 1;
    };
  }
  return globalThis.shown;
}"""


def push(device: Device, message: dict[str, Any]) -> None:
    """Hand a message to the phone's worker, as its push service would: again, until the worker has shown it."""
    session = device.context.new_cdp_session(device.page)
    registrations: list[dict[str, Any]] = []
    session.on(
        "ServiceWorker.workerRegistrationUpdated",
        lambda event: registrations.extend(event["registrations"]),
    )
    session.send("ServiceWorker.enable")
    before = worker_of(device).evaluate(_SHOWN)
    for _ in range(5):
        wait_for_events(device, lambda: bool(registrations))
        session.send(
            "ServiceWorker.deliverPushMessage",
            {
                "origin": device.address,
                "registrationId": registrations[-1]["registrationId"],
                "data": json.dumps(message),
            },
        )
        if wait_for_events(device, lambda: worker_of(device).evaluate(_SHOWN) > before):
            break
    session.detach()


def wait_for_events(device: Device, happened: Callable[[], bool]) -> bool:
    """Let the browser's events in until something has happened; false when it has not within two seconds."""
    for _ in range(40):
        if happened():
            return True
        device.page.wait_for_timeout(50)
    return False


def worker_of(device: Device) -> Worker:
    """Give the page's worker."""
    return device.context.service_workers[0]


def notices(device: Device, count: int = 1) -> list[dict[str, Any]]:
    """Wait for so many notifications on this phone and give what they say."""
    found: list[dict[str, Any]] = worker_of(device).evaluate(
        """async count => {
          for (let turn = 0; turn < 200; turn++) {
            const shown = await registration.getNotifications();
            if (shown.length === count) return shown.map(({ title, body, tag, lang, silent, actions }) =>
              ({ title, body, tag, lang, silent, actions: actions.map(one => one.action) }));
            await new Promise(done => setTimeout(done, 50));
          }
          throw new Error(`there are not ${count} notifications`);
        }""",
        count,
    )
    return found


def answer_notice(device: Device, action: str) -> None:
    """Tap a button of the notification; an empty name is a tap on the notification itself."""
    worker_of(device).evaluate(
        """async action => {
          const [notification] = await registration.getNotifications();
          dispatchEvent(new NotificationEvent("notificationclick", { notification, action }));
        }""",
        action,
    )


def message_about(alarm: dict[str, Any]) -> dict[str, Any]:
    """Give what the server sends: docs/alarms.md, what is sent."""
    return {
        "alarm_id": alarm["alarm_id"],
        "kind": alarm["kind"],
        "title": "Empieza la siguiente mano",
        "body": "Casco de babor",
        "due_at": alarm["due_at"],
        "lang": "es",
        "url": "/#/work",
    }


@pytest.fixture
def painter(board: Board, phone: Open) -> Device:
    """The phone of a painter who has the coats, allowed to show notifications."""
    link, member_id = board.invited("Paz", language="es")
    board.assign(member_id)
    device = phone(permissions=["notifications"])
    device.join(link, "")
    expect(device.see("my-steps")).to_be_visible()
    device.ready_for_no_signal()
    return device


def alarm_to_come(board: Board, painter: Device, http: HttpWire) -> dict[str, Any]:
    """Log a first coat that opens in an hour or two; gives the painter's alarm about it as the server has it."""
    board.coat(0, hours_ago=0.1)
    board.owner.sync()
    expect(painter.see("clock")).to_be_visible()
    return alarm_of(painter, http, "recoat_open")


def alarm_of(device: Device, http: HttpWire, kind: str) -> dict[str, Any]:
    """Ask the server for an alarm of the person whose device this is, until it has one."""
    asking = api_of(device, http)
    found: list[dict[str, Any]] = []

    def is_there() -> bool:
        alarms = asking.call("GET", "/alarms").json["alarms"]
        found[:] = [alarm for alarm in alarms if alarm["kind"] == kind]
        return len(found) == 1

    wait_until(is_there)
    return found[0]


def test_a_push_is_shown_by_the_worker_and_rings_the_open_page_once(
    board: Board, painter: Device, http: HttpWire
) -> None:
    alarm = alarm_to_come(board, painter, http)
    message = message_about(alarm)
    push(painter, message)
    painter.rang(1)
    assert notices(painter) == [
        {
            "title": "Empieza la siguiente mano",
            "body": "Casco de babor",
            "tag": alarm["alarm_id"],
            "lang": "es",
            "silent": True,  # the page rings
            "actions": ["seen", "snooze"],
        }
    ]
    push(painter, message)
    push(painter, {**message, "alarm_id": "another"})
    painter.rang(2)  # the repeat rang nothing
    assert sorted(one["tag"] for one in notices(painter, 2)) == sorted(
        [alarm["alarm_id"], "another"]
    )


def test_seen_on_a_notification_while_no_page_is_open_becomes_a_record(
    board: Board, painter: Device, http: HttpWire
) -> None:
    alarm = alarm_to_come(board, painter, http)
    worker_of(painter)
    painter.page.goto("about:blank")
    push(painter, message_about(alarm))
    (notice,) = notices(painter)
    assert notice["silent"] is not True  # nobody else rings
    answer_notice(painter, "seen")
    assert board.records("seen") == []
    painter.open("/")
    expect(painter.see("screen-now")).to_be_visible()
    wait_until(lambda: len(board.records("seen")) > 0)
    assert [seen["alarm_id"] for seen in board.records("seen")] == [alarm["alarm_id"]]


def test_later_on_a_notification_puts_the_alarm_off_for_its_person(
    board: Board, painter: Device, http: HttpWire
) -> None:
    stir_a_pot_an_hour_ago(painter)
    alarm = alarm_of(painter, http, "pot_life_over")
    notice = painter.see("alarm")
    expect(notice).to_have_attribute("data-alarm", alarm["alarm_id"])
    push(painter, message_about(alarm))
    notices(painter)
    answer_notice(painter, "snooze")
    # the pot has gelled too, which is another alarm
    expect(notice).to_have_attribute("data-kind", "gel")
    notices(painter, 0)
    wait_until(lambda: len(board.records("snoozed")) > 0)
    assert [one["alarm_id"] for one in board.records("snoozed")] == [alarm["alarm_id"]]
    assert board.records("seen") == []
    wait_until(lambda: alarm_of(painter, http, "pot_life_over")["due_at"] > alarm["due_at"])


def test_a_tap_on_a_notification_offers_in_the_page_what_its_face_has_no_room_for(
    board: Board, painter: Device, http: HttpWire
) -> None:
    alarm = alarm_to_come(board, painter, http)
    push(painter, message_about(alarm))
    (notice,) = notices(painter)
    assert notice["actions"] == ["seen", "snooze"], "the two that a phone shows"
    answer_notice(painter, "")
    notices(painter, 0)
    answer = painter.see("answer")
    expect(answer).to_contain_text(say("es", "alarm_what.recoat_open"))
    expect(painter.see("answer-seen")).to_be_visible()
    expect(painter.see("answer-later")).to_be_visible()
    assert wrong_by_the_rules(painter) == []
    assert wrong_to_the_eye(painter) == []
    painter.tap("answer-done")
    expect(painter.see("screen-now")).to_be_visible()
    wait_until(lambda: len(board.records("handled")) > 0)
    assert [one["alarm_id"] for one in board.records("handled")] == [alarm["alarm_id"]]


def test_the_notice_of_missed_alarms_is_only_seen_and_leads_to_the_list(painter: Device) -> None:
    message = {
        "alarm_id": "somebody.missed_alarms",
        "kind": "missed_alarms",
        "title": "2 alarmas no te llegaron a tiempo",
        "body": "…",
        "due_at": "2026-03-03T13:20:00.000Z",
        "lang": "es",
        "url": "/#/alarms",
    }
    push(painter, message)
    (notice,) = notices(painter)
    assert notice["actions"] == ["seen"]
    answer_notice(painter, "")
    expect(painter.see("screen-alarms")).to_be_visible()
    expect(painter.see("answer")).to_have_count(0)


def test_a_due_alarm_rings_each_phone_of_a_person_once_and_is_seen_for_all_of_them(
    board: Board, painter: Device, phone: Open, http: HttpWire
) -> None:
    second = phone(permissions=["notifications"])
    member_id = api_of(painter, http).member_id
    second.join(board.another_phones_link(member_id, "Paz", "hand"), "")
    stir_a_pot_an_hour_ago(painter)
    for device in (painter, second):
        expect(device.see("alarm")).to_have_attribute("data-kind", "pot_life_over")
    wait_until(lambda: alarm_of(painter, http, "pot_life_over")["state"] == "told")
    # The server has told it too by now, over the live line; what comes after it on that line shows that it arrived.
    board.owner.create("job", {"title": "Comes after the alarm", "rank": 2})
    board.owner.sync()
    for device in (painter, second):
        device.tap("nav-work")
        expect(device.see("job").filter(has_text="Comes after the alarm")).to_be_visible()
        device.rang(2)  # the pot is over, and has gelled

    push(second, message_about(alarm_of(painter, http, "pot_life_over")))
    notices(second)
    painter.tap("alarm-seen")
    for device in (painter, second):
        expect(device.see("alarm")).to_have_attribute("data-kind", "gel")
    painter.tap("alarm-seen")
    for device in (painter, second):
        expect(device.see("alarm")).to_have_count(0)
    notices(second, 0)
    wait_until(lambda: alarm_of(painter, http, "pot_life_over")["state"] == "seen")


def test_a_window_that_was_missed_stays_on_its_card_while_the_next_coat_is_owed(
    board: Board, painter: Device
) -> None:
    board.coat(0, hours_ago=60)
    board.owner.sync()
    card = painter.see("clock").filter(has_text="Coat 1")
    expect(card.get_by_test_id("clock-word")).to_have_text(say("es", "clock.gone"))
    expect(card.get_by_role("heading")).to_have_text(say("es", "stage.recoat_closes"))


def stir_a_pot_an_hour_ago(painter: Device) -> None:
    """Log a pot of quick epoxy that is long over."""
    painter.tap("nav-log")
    painter.tap("log-mix")
    painter.type("mix-base", "200")
    painter.tap("mix-more")
    painter.tap("mix-stirred-minus-60")
    painter.tap("mix-save")
    expect(painter.see("alarm")).to_be_visible()
