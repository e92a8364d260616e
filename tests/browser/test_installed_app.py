"""The app on a phone: may be installed, opens without a signal, and takes a new version when a person says so."""

from __future__ import annotations

import json
import struct
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.board import Board, lay_out
from tests.browser.device import PHONE, Device
from tests.browser.house import House
from tests.browser.words import say
from tests.support.phone import Phone
from tests.support.server import Server
from tests.support.wires import HttpWire

pytestmark = pytest.mark.browser

Open = Callable[..., Device]

CONTROLLED = "navigator.serviceWorker.controller !== null"


def test_the_browser_finds_nothing_that_keeps_the_app_from_being_installed(phone: Open) -> None:
    device = phone()
    device.open("/")
    device.ready_for_no_signal()
    session = device.context.new_cdp_session(device.page)
    # Source: Chromium's own judgement (Chrome DevTools Protocol, Page.getInstallabilityErrors).
    found = session.send("Page.getInstallabilityErrors")["installabilityErrors"]
    # A window without a history of its own is the one thing that keeps a test's window from installing.
    assert [error["errorId"] for error in found if error["errorId"] != "in-incognito"] == []


def test_the_manifest_and_its_icons_are_what_they_say(phone: Open) -> None:
    device = phone()
    device.open("/")
    link = device.page.locator('link[rel="manifest"]').get_attribute("href")
    answer = device.context.request.get(f"{device.address}{link}")
    assert answer.headers["content-type"] == "application/manifest+json"
    manifest = answer.json()
    assert manifest["display"] == "standalone"
    assert (manifest["start_url"], manifest["scope"]) == ("/#/now", "/")
    # Source: W3C Web Application Manifest; browsers ask for 192 and 512 px, and one that may be cut round.
    sizes = {(icon["sizes"], icon["purpose"]) for icon in manifest["icons"]}
    assert {("192x192", "any"), ("512x512", "any"), ("512x512", "maskable")} <= sizes
    for icon in manifest["icons"]:
        image = device.context.request.get(device.address + icon["src"])
        assert image.headers["content-type"].split(";")[0] == icon["type"]
        if icon["type"] == "image/png":
            width_px, height_px = struct.unpack(">II", image.body()[16:24])  # ISO/IEC 15948, 11.2.2
            assert f"{width_px}x{height_px}" == icon["sizes"]


def test_the_worker_has_the_page_from_the_second_load_on(phone: Open) -> None:
    device = phone()
    device.open("/")
    device.ready_for_no_signal()
    device.reload()
    assert device.page.evaluate(CONTROLLED)


def test_every_screen_opens_without_a_signal_from_the_first_visit_on(
    board: Board, phone: Open
) -> None:
    device = phone()
    device.join(board.invited("Paz", language="es")[0], "")
    expect(device.sync_words).to_contain_text(say("es", "sync.all_sent"))
    device.ready_for_no_signal()
    device.signal(False)
    for place, key in (
        ("work", "work.title"), ("log", "log.title"), ("log/coat", "log.coat"), ("crew", "crew.title"),
        ("settle", "settle.title"), ("new", "job.new"), ("zone/new", "work.add_zone"),
    ):  # fmt: skip
        device.page.goto("about:blank")
        device.open(f"/#/{place}")
        heading = device.page.get_by_role("heading", level=1, name=say("es", key))
        expect(heading).to_be_visible()


@pytest.fixture(scope="module")
def other_house(tmp_path_factory: pytest.TempPathFactory) -> House:
    """A copy of the project of its own, to be built anew while it serves."""
    made = House(tmp_path_factory.mktemp("other_house"))
    made.build()
    return made


@pytest.fixture
def new_versions(
    other_house: House, browser: Browser, tmp_path: Path
) -> Iterator[tuple[Board, Device]]:
    """A board and a hand's phone on a server whose client is built anew."""
    with Server(tmp_path, "", "--workers", "1", PYTHONPATH=other_house.python_path) as server:
        wire = HttpWire(server.address)
        owner = Phone.found(wire, lambda: time.time_ns() // 1_000_000, with_products=True)
        board = lay_out(owner)
        device = Device(browser, server.address, PHONE)
        device.join(board.invited("Hugo")[0], "")
        expect(device.see("nav-log")).to_be_visible()
        device.ready_for_no_signal()
        yield board, device
        device.close()
        wire.close()


def test_a_new_version_waits_for_a_tap_and_loses_nothing_that_was_being_typed(
    other_house: House, new_versions: tuple[Board, Device]
) -> None:
    board, device = new_versions
    heading = device.page.get_by_role("heading", level=1)
    before = heading.inner_text()
    device.tap("nav-log")
    device.tap("log-note")
    device.type("note-text", "Half a sentence")

    other_house.say_otherwise("now.title", "Right now")
    other_house.build()
    come_back_into_sight(device)
    expect(device.see("new-version")).to_be_visible()
    expect(device.see("note-text")).to_have_value("Half a sentence")
    device.type("note-text", "A whole sentence")
    device.tap("note-save")
    expect(heading).to_have_text(before)

    device.tap(device.see("new-version").get_by_role("button"))
    expect(heading).to_have_text("Right now")
    expect(device.see("new-version")).to_have_count(0)
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    assert [note["text"] for note in board.records("note")] == ["A whole sentence"]


def test_a_version_that_is_too_old_to_send_looks_for_the_new_one_and_loses_nothing(
    other_house: House, new_versions: tuple[Board, Device]
) -> None:
    board, device = new_versions
    problem = {"type": "urn:tackwatch:problem:protocol-too-old", "title": "Too old", "status": 409}
    device.page.route(
        "**/sync",
        lambda route: route.fulfill(
            status=409, body=json.dumps(problem), content_type="application/problem+json"
        ),
    )
    other_house.say_otherwise("work.title", "All work")
    other_house.build()
    device.tap("nav-log")
    device.tap("log-note")
    device.type("note-text", "Written with the old version")
    device.tap("note-save")
    expect(device.sync_words).to_contain_text(say("en", "sync.too_old"))
    device.page.unroute("**/sync")
    device.tap(device.see("new-version").get_by_role("button"))
    device.tap("nav-work")
    expect(device.page.get_by_role("heading", level=1)).to_have_text("All work")
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    assert [note["text"] for note in board.records("note")] == ["Written with the old version"]


def come_back_into_sight(device: Device) -> None:
    """Let the page hear what it hears when its tab is brought to the front again."""
    device.page.evaluate('document.dispatchEvent(new Event("visibilitychange"))')
