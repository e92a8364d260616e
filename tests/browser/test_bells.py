"""Whether anybody rings, as phones say it: the loud banner, what was missed, and the owner's page about it."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from sqlalchemy import update

from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store import health
from tackwatch.store.db import db, writing
from tackwatch.store.health import Count
from tackwatch.store.models import Alarm
from tackwatch.work import missed
from tackwatch.work.keep_alarms import Wanted, keep
from tests.browser.board import Board
from tests.browser.conftest import Open
from tests.browser.device import Device, api_of, wait_until
from tests.browser.house import House
from tests.browser.looks import wrong_by_the_rules, wrong_to_the_eye
from tests.browser.test_alarms import alarm_of, stir_a_pot_an_hour_ago
from tests.browser.words import say
from tests.support.server import Server
from tests.support.wires import HttpWire, call

pytestmark = pytest.mark.browser

PICTURES = os.environ.get("TACKWATCH_LOOKS")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("server")


@pytest.fixture(scope="module")
def server(house: House, folder: Path) -> Iterator[Server]:
    """``tackwatch serve`` on which nobody rings."""
    options = ("--workers", "1", "--no-alarms")
    with Server(folder, "", *options, PYTHONPATH=house.python_path) as running:
        yield running


@pytest.fixture(scope="module")
def silent(server: Server) -> Server:
    """The server once it has been silent for long enough to say so."""
    wire = HttpWire(server.address)
    found = call(wire, "GET", "/api/health").json
    assert (found["ok"], found["status"]) == (False, "nobody-rings")
    return server


@pytest.fixture
def bell(server: Server, folder: Path, house: House) -> Iterator[subprocess.Popen[bytes]]:
    """An alarm process."""
    environment = {**server._environment, "PYTHONPATH": house.python_path}
    process = subprocess.Popen(
        [sys.executable, "-m", "tackwatch.cli", "alarms"],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    wire = HttpWire(server.address)
    wait_until(lambda: bool(call(wire, "GET", "/api/health").json["ok"]), 40)
    yield process
    process.terminate()
    process.wait(20)


def exchange(device: Device) -> None:
    """Let the page exchange with the server, as it does by itself each minute."""
    device.page.evaluate("dispatchEvent(new Event('online'))")


def look(device: Device, name: str) -> None:
    """Keep a picture where somebody wants to look."""
    if PICTURES:
        device.screenshot(Path(PICTURES) / f"{name}.png")


def sound(device: Device) -> None:
    assert wrong_by_the_rules(device) == []
    assert wrong_to_the_eye(device) == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_phone_says_loudly_that_nobody_rings_and_is_calm_again_when_somebody_does(
    board: Board, phone: Open, silent: Server, language: str, request: pytest.FixtureRequest
) -> None:
    link, _ = board.invited("Paz", language=language)
    device = phone()
    device.join(link, "")
    banner = device.see("nobody-rings")
    wait_until(lambda: board.owner.exchange().headers.get("tackwatch-bell") == "silent", 60)
    exchange(device)
    expect(banner).to_contain_text(say(language, "bell.nobody"))
    expect(banner).to_contain_text(say(language, "bell.keep_open"))
    expect(banner.get_by_role("link")).to_have_count(0)  # the page about it is the owner's
    sound(device)
    look(device, f"nobody-rings-{language}")
    device.signal(False)
    expect(banner).to_be_visible()  # it holds while the server cannot be asked
    device.signal(True)
    request.getfixturevalue("bell")
    wait_until(lambda: "tackwatch-bell" not in board.owner.exchange().headers, 30)
    exchange(device)
    expect(banner).to_have_count(0)


def counted(folder: Path, refit_id: str, *counts: Count) -> None:
    with Inside(folder), writing():
        health.add(refit_id, f"{datetime.now(UTC):%Y-%m-%d}", counts)


class Inside:
    """The server's own database, for what a test puts there as the alarm process would."""

    def __init__(self, folder: Path) -> None:
        self._app = create_app(Settings(folder, f"sqlite:///{folder / 'tackwatch.sqlite3'}"))
        self._context = self._app.app_context()

    def __enter__(self) -> None:
        self._context.__enter__()

    def __exit__(self, *error: Any) -> None:
        db.session.remove()
        db.engine.dispose()
        self._context.__exit__(*error)


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_owner_reads_in_plain_words_how_the_alarms_are_rung_also_without_a_signal(
    board: Board, phone: Open, silent: Server, folder: Path, bell: Any, language: str
) -> None:
    counted(
        folder,
        board.owner.refit_id,
        Count("alarm", "told", "", 14, 0),
        Count("alarm", "missed", "", 2, 0),
        Count("push", "sent", "5", 11, 22_000),
        Count("push", "sent", "300", 1, 250_000),
        Count("push", "failed", "", 3, 0),
        Count("mail", "refused", "", 1, 0),
    )
    owner = phone()
    owner.join(board.owners_link(), "")
    if language != "en":
        board.owner.set("member", board.owner.member_id, {"language": language})
        board.owner.sync()
        exchange(owner)
        expect(owner.page.locator("html")).to_have_attribute("lang", language)
    owner.ready_for_no_signal()
    owner.open("/#/alarms")
    owner.tap("to-health")
    expect(owner.see("health-rings")).to_have_text(say(language, "health.rings"))
    push = owner.see("health-push")
    for key, value in (("sent", "12"), ("within_5_s", "11"), ("later", "1"), ("failed", "3")):
        row = push.locator(
            "div", has=owner.page.get_by_text(say(language, f"health.{key}"), exact=True)
        )
        expect(row.locator("dd").last).to_have_text(value)
    expect(owner.see("health-mail")).to_contain_text(say(language, "health.refused"))
    expect(owner.see("health-webhook")).to_contain_text(say(language, "health.nothing"))
    sound(owner)
    look(owner, f"health-{language}")
    owner.signal(False)
    owner.reload()
    expect(owner.see("health-old")).to_be_visible()
    expect(owner.see("health-rings")).to_have_text(say(language, "health.rings"))
    expect(push).to_contain_text("12")
    sound(owner)


def test_the_owner_sees_there_that_nobody_rings(board: Board, phone: Open, silent: Server) -> None:
    owner = phone()
    owner.join(board.owners_link(), "")
    owner.open("/#/alarms/health")
    expect(owner.see("health-rings")).to_have_text(say("en", "bell.nobody"))
    sound(owner)
    look(owner, "health-nobody")


def test_how_the_alarms_are_rung_is_shown_to_owners_only(
    board: Board, phone: Open, silent: Server
) -> None:
    link, _ = board.invited("Paz")
    device = phone()
    device.join(link, "")
    device.open("/#/alarms")
    expect(device.see("ring-how")).to_be_visible()
    expect(device.see("to-health")).to_have_count(0)
    expect(device.see("others-reach")).to_have_count(0)
    device.open("/#/alarms/health")
    expect(device.page.get_by_text(say("en", "health.owners"))).to_be_visible()


def miss(folder: Path, refit_id: str, member_id: str) -> None:
    """Let two alarms of a member pass while nobody rings, and let the alarm process come back."""
    now = datetime.now(UTC)
    due = now - timedelta(hours=2)
    params = {"zone": "Port hull", "product": "Epoxy primer, generic"}
    wanted = [
        Wanted(member_id, f"{name}.{kind}", kind, name, due, due + timedelta(hours=1), params)
        for name, kind in (("pot", "pot_life_over"), ("coat", "recoat_closing"))
    ]
    with Inside(folder):
        with writing():
            keep(refit_id, wanted, {}, due - timedelta(hours=1))
        assert missed.sweep(now) == 2


@pytest.mark.parametrize("language", ["en", "es"])
def test_what_was_missed_is_listed_with_what_to_do_now_until_it_is_seen(
    board: Board, phone: Open, silent: Server, folder: Path, http: HttpWire, language: str
) -> None:
    link, member_id = board.invited("Paz", language=language)
    device = phone()
    device.join(link, "")
    device.ready_for_no_signal()
    miss(folder, board.owner.refit_id, member_id)
    device.reload()
    expect(device.see("missed-line")).to_contain_text(say(language, "bell.missed", n=2))
    sound(device)
    device.signal(False)
    device.reload()  # what was answered last is here without a signal too
    expect(device.see("missed-line")).to_be_visible()
    device.tap(device.see("missed-line").get_by_role("link"))
    rows = device.see("missed-one")
    expect(rows).to_have_count(2)
    pot = rows.filter(has_text=say(language, "ring.kind_pot_life_over"))
    expect(pot).to_contain_text("Port hull, Epoxy primer, generic")
    expect(pot).to_contain_text(say(language, "missed.now_pot_life_over"))
    sound(device)
    look(device, f"missed-{language}")
    device.tap("missed-seen")
    expect(device.see("missed")).to_have_count(0)
    expect(device.see("missed-line")).to_have_count(0)
    device.signal(True)
    asking = api_of(device, http)

    def is_seen() -> bool:
        alarms = asking.call("GET", "/alarms").json["alarms"]
        return [one["state"] for one in alarms if one["kind"] == missed.KIND] == ["seen"]

    wait_until(is_seen)
    device.reload()
    expect(device.see("screen-alarms")).to_be_visible()
    time.sleep(1)
    expect(device.see("missed-line")).to_have_count(0)


def test_what_was_handed_on_rings_after_a_reload_without_a_signal(
    board: Board, phone: Open, silent: Server, folder: Path, http: HttpWire
) -> None:
    link, member_id = board.invited("Paz")
    board.assign(member_id)
    owner = phone()
    owner.join(board.owners_link(), "")
    owner.ready_for_no_signal()
    painter = phone()
    painter.join(link, "")
    stir_a_pot_an_hour_ago(painter)
    alarm = alarm_of(painter, http, "pot_life_over")
    hand_on(folder, board.owner.refit_id, board.owner.member_id, alarm)
    board.owner.sync()
    owner.reload()
    notice = owner.see("alarm", alarm=alarm["alarm_id"])
    expect(notice).to_be_visible()
    owner.signal(False)
    owner.reload()
    expect(notice).to_be_visible()
    expect(owner.see("alarm-handed")).to_have_text(say("en", "alarm.handed", name="Paz"))


def hand_on(folder: Path, refit_id: str, member_id: str, alarm: dict[str, Any]) -> None:
    """Let an alarm be told to another member because its own did not see it."""
    now = datetime.now(UTC)
    with Inside(folder), writing():
        mine = (Alarm.refit_id == refit_id) & (Alarm.member_id == member_id)
        done = db.session.execute(
            update(Alarm)
            .where(mine, Alarm.alarm_id == alarm["alarm_id"])
            .values(state="told", told_at=now, outcome={"told_for": now.isoformat()})
        )
        assert done.rowcount == 1, "it waits to be handed on"


def test_an_owner_takes_anothers_address_away_and_both_see_that_it_was_done(
    board: Board, phone: Open, silent: Server, http: HttpWire
) -> None:
    link, _ = board.invited("Paz")
    painter = phone()
    painter.join(link, "")
    assert api_of(painter, http).call("POST", "/addresses/calendar").status == 201
    owner = phone()
    owner.join(board.owners_link(), "")
    owner.open("/#/alarms")
    owner.tap(owner.see("others-one").filter(has_text="Paz"))
    way = owner.see("others-way", kind="calendar")
    expect(way).to_contain_text(say("en", "reach.calendar"))
    sound(owner)
    owner.tap(way.get_by_test_id("others-remove"))
    look(owner, "others")
    owner.tap("others-ask-yes")
    expect(way).to_have_count(0)
    expect(owner.see("reach-removals").last).to_contain_text(say("en", "reach.calendar"))
    sound(owner)
    painter.open("/#/alarms")
    expect(painter.see("reach-removals")).to_contain_text(say("en", "reach.calendar"))
