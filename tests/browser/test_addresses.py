"""Where else a person is told: mail with its code, the phone's own calendar, a web address; on the phone, by taps."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from icalendar import Calendar
from playwright.sync_api import Locator, expect

from tests.browser.board import Board
from tests.browser.conftest import Open
from tests.browser.device import Device, api_of, wait_until
from tests.browser.house import House
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.browser.test_alarm_choices import rules_of
from tests.browser.test_alarms import alarm_of, stir_a_pot_an_hour_ago
from tests.browser.test_alarms import painter as painter
from tests.browser.words import say
from tests.support.mail_server import Post, mail_server
from tests.support.server import Server
from tests.support.wires import HttpWire, call

TO = "paz@yard.example"


@pytest.fixture(scope="module")
def mail() -> Iterator[tuple[Post, int]]:
    with mail_server() as running:
        yield running


@pytest.fixture(scope="module")
def server(
    house: House, mail: tuple[Post, int], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Server]:
    """``tackwatch serve`` with a mail server, and a host that webhooks may be at."""
    settings = {
        "TACKWATCH_SMTP_HOST": "127.0.0.1",
        "TACKWATCH_SMTP_PORT": str(mail[1]),
        "TACKWATCH_SMTP_SECURITY": "none",
        "TACKWATCH_SMTP_SENDER": "bell@boat.example",
        "TACKWATCH_WEBHOOK_HOSTS": "hooks.example",
        "PYTHONPATH": house.python_path,
    }
    with Server(tmp_path_factory.mktemp("server"), "", "--workers", "1", **settings) as running:
        yield running


@pytest.fixture
def post(mail: tuple[Post, int]) -> Post:
    mail[0].letters.clear()
    mail[0].says.clear()
    return mail[0]


def of(device: Device, kind: str) -> Locator:
    return device.see("reach-kind", kind=kind)


def code_in(post: Post, count: int = 1) -> str:
    return str(post.wait_for(count)[-1].message["Subject"]).rpartition(" ")[2]


def test_mail_is_given_confirmed_and_rings(
    board: Board, painter: Device, http: HttpWire, post: Post
) -> None:
    painter.open("/#/alarms")
    painter.type("reach-address", "nobody")
    painter.tap("reach-send")
    expect(of(painter, "mail")).to_contain_text(say("es", "reach.wrong_not_a_mail_address"))
    painter.type("reach-address", TO)
    painter.tap("reach-send")
    expect(painter.see("reach-standing")).to_have_text(say("es", "reach.mail_waits", address=TO))
    code = code_in(post)
    painter.type("reach-code", "000000" if code != "000000" else "111111")
    painter.tap("reach-confirm")
    expect(of(painter, "mail")).to_contain_text(say("es", "reach.wrong_code_wrong"))
    painter.type("reach-code", code)
    painter.tap("reach-confirm")
    expect(painter.see("reach-standing")).to_have_text(say("es", "reach.mail_on", address=TO))
    expect(painter.see("ring-by_mail")).to_be_checked()
    member_id = api_of(painter, http).member_id
    wait_until(lambda: {"member_id": member_id, "by_mail": True} in rules_of(board, member_id))
    stir_a_pot_an_hour_ago(painter)
    letter = post.wait_for(2, timeout_s=60)[1]
    assert letter.to == (TO,)
    assert letter.message["Content-Language"] == "es"
    assert letter.message["Auto-Submitted"] == "auto-generated"


def test_a_mail_server_that_says_no_is_told_at_the_field(painter: Device, post: Post) -> None:
    post.says["RCPT"] = ["550 5.1.1 unknown"]
    painter.open("/#/alarms")
    painter.type("reach-address", "gone@yard.example")
    painter.tap("reach-send")
    expect(of(painter, "mail")).to_contain_text(say("es", "reach.wrong_mail_refused"))
    expect(painter.see("reach-standing")).to_have_count(0)


def test_the_calendar_is_subscribed_to_renewed_and_taken_away(
    board: Board, painter: Device, http: HttpWire, server: Server
) -> None:
    painter.open("/#/alarms")
    painter.tap("reach-make")
    first = _link(painter, server)
    assert Calendar.from_ical(call(http, "GET", first).content)["VERSION"] == "2.0"
    painter.tap("reach-make")
    expect(painter.see("reach-subscribe")).not_to_have_attribute(
        "href", re.compile(re.escape(first))
    )
    second = _link(painter, server)
    assert [call(http, "GET", path).status for path in (first, second)] == [404, 200]
    painter.tap("reach-remove")
    expect(painter.see("reach-link")).to_have_count(0)
    expect(painter.see("reach-standing")).to_have_count(0)
    assert call(http, "GET", second).status == 404


def _link(device: Device, server: Server) -> str:
    subscribe = device.see("reach-subscribe")
    expect(subscribe).to_be_visible()
    scheme, _, rest = str(subscribe.get_attribute("href")).partition("://")
    host, _, path = rest.partition("/")
    assert (scheme, host) == ("webcal", server.address.partition("://")[2])
    return f"/{path}"


def test_one_alarm_is_kept_as_a_file(
    board: Board, painter: Device, http: HttpWire, tmp_path: Path
) -> None:
    board.coat(0, hours_ago=0.1)
    board.owner.sync()
    alarm = alarm_of(painter, http, "recoat_open")
    painter.open("/#/alarms")
    with painter.page.expect_download() as waiting:
        painter.tap(painter.see("ring-coming", kind="recoat_open").get_by_test_id("ring-keep"))
    assert waiting.value.suggested_filename == "alarm.ics"
    waiting.value.save_as(tmp_path / "alarm.ics")
    (event,) = Calendar.from_ical((tmp_path / "alarm.ics").read_bytes()).walk("VEVENT")
    assert event["UID"].startswith(alarm["alarm_id"])


def test_a_webhook_shows_its_secret_once(board: Board, painter: Device, http: HttpWire) -> None:
    painter.open("/#/alarms")
    painter.type("reach-url", "https://elsewhere.example/x")
    painter.tap("reach-post")
    expect(of(painter, "webhook")).to_contain_text(say("es", "reach.wrong_unknown_webhook_host"))
    painter.type("reach-url", "https://hooks.example/x")
    painter.tap("reach-post")
    expect(painter.see("reach-secret-text")).to_have_value(re.compile("^whsec_"))
    expect(painter.see("ring-by_webhook")).to_be_checked()
    painter.reload()
    expect(painter.see("reach-standing")).to_have_text(
        say("es", "reach.webhook_on", url="https://hooks.example/x")
    )
    expect(painter.see("reach-secret")).to_have_count(0)
    member_id = api_of(painter, http).member_id
    wait_until(lambda: {"member_id": member_id, "by_webhook": True} in rules_of(board, member_id))


def test_without_a_signal_it_says_so_and_can_be_asked_again(painter: Device) -> None:
    painter.open("/#/now")
    painter.ready_for_no_signal()
    painter.signal(False)
    painter.open("/#/alarms")
    expect(painter.see("reach-wrong")).to_contain_text(say("es", "problem.offline"))
    painter.signal(True)
    painter.tap("reach-again")
    expect(of(painter, "mail")).to_be_visible()


def test_addresses_are_readable_on_a_phone_and_a_laptop(
    board: Board, phone: Open, laptop: Open, post: Post
) -> None:
    for device in (phone(), laptop()):
        device.join(board.owners_link(), "")
        device.open("/#/alarms")
        device.tap("reach-make")
        expect(device.see("reach-link")).to_be_visible()
        open_all(device)
        device.page.evaluate("scrollTo(0, 0)")  # where nothing lies half under the bar
        assert wrong_by_the_rules(device) == []
        assert wrong_to_the_eye(device) == []
