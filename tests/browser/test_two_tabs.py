"""One phone with two tabs, with two people, and with none open: each entry goes out once, under the right key."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.device import ACCOUNTS, Device, api_of, wait_until
from tests.browser.words import say
from tests.support.wires import HttpWire

pytestmark = pytest.mark.browser

Open = Callable[..., Device]

# What an older browser, or one that is set to keep little, has not got.
NO_CHANNEL = "delete globalThis.BroadcastChannel;"
NO_LOCKS = "Object.defineProperty(Navigator.prototype, 'locks', { get: () => undefined });"

_OPERATIONS = """device => new Promise((resolve, reject) => {
  const asked = indexedDB.open(`tackwatch-${device}`);
  asked.onerror = () => reject(asked.error);
  asked.onsuccess = () => {
    const db = asked.result;
    const rows = db.transaction("operations").objectStore("operations").getAll();
    rows.onsuccess = () => { db.close(); resolve(rows.result.map(({ n, status }) => [n, status])); };
  };
})"""


def aboard(device: Device, link: str, clear: bool = True) -> Device:
    """Come aboard, have everything, and be ready to lose the signal."""
    device.join(link, "")
    if clear:
        expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    device.ready_for_no_signal()
    return device


def tab_of(device: Device) -> Device:
    """Open one more tab on the same phone."""
    tab = copy.copy(device)
    tab.page = device.context.new_page()
    tab.page.on("pageerror", lambda error: device.wrong.append(str(error)))
    tab.open("/")
    expect(tab.see("screen-now")).to_be_visible()
    return tab


def add_zone(device: Device, name: str) -> None:
    """Write one entry down: a place on the boat."""
    device.tap("nav-work")
    device.tap("add-zone")
    device.type("zone-name", name)
    device.tap("save")
    expect(device.page.get_by_role("link", name=name, exact=True)).to_be_visible()


def has_zones(device: Device, names: list[str]) -> None:
    device.tap("nav-work")
    for name in names:
        expect(device.page.get_by_role("link", name=name, exact=True)).to_have_count(1)


def zones_at_the_server(board: Board, of: list[str]) -> list[str]:
    board.owner.sync()
    rows = board.owner.state.items.values()
    return sorted(str(row.fields["name"]) for row in rows if row.fields.get("name") in of)


def numbers(device: Device, device_id: str) -> list[list[Any]]:
    """Give the numbers of what lies in the phone's queue, with how each stands."""
    found: list[list[Any]] = device.page.evaluate(_OPERATIONS, device_id)
    return found


def write_in_turn(tabs: tuple[Device, Device], names: list[str]) -> None:
    """Write in one tab and the other by turns; each sees at once what the other wrote."""
    for at, name in enumerate(names):
        here, there = tabs[at % 2], tabs[1 - at % 2]
        add_zone(here, name)
        there.tap("nav-work")
        expect(there.page.get_by_role("link", name=name, exact=True)).to_have_count(1)


@pytest.mark.parametrize("missing", ["", NO_CHANNEL, NO_LOCKS], ids=["all", "channel", "locks"])
def test_two_tabs_write_in_turn_with_and_without_a_signal_under_one_numbering(
    board: Board, http: HttpWire, phone: Open, missing: str
) -> None:
    device = phone()
    if missing:
        device.context.add_init_script(missing)
    aboard(device, board.invited("Hugo")[0])
    device_id = api_of(device, http).device_id
    tabs = (device, tab_of(device))
    near = ["Anchor locker", "Bow roller"]
    write_in_turn(tabs, near)
    device.signal(False)
    far = ["Chain pipe", "Deck seam", "Engine bed"]
    write_in_turn(tabs, far)
    for tab in tabs:
        expect(tab.sync_words).to_contain_text(say("en", "sync.waiting", n=len(far)))
    device.signal(True)
    for tab in tabs:
        expect(tab.sync_words).to_contain_text(say("en", "sync.all_sent"))
        has_zones(tab, near + far)
    assert zones_at_the_server(board, near + far) == near + far
    assert numbers(device, device_id) == [[n, "acknowledged"] for n in range(1, 6)]


def test_a_tab_that_sleeps_or_ends_with_the_lock_does_not_hold_up_the_other(
    board: Board, http: HttpWire, phone: Open
) -> None:
    device = aboard(phone(), board.invited("Hugo")[0])
    device_id = api_of(device, http).device_id
    sleeper = tab_of(device)
    hold = """name => new Promise(held => {
      void navigator.locks.request(name, () => { held(); return new Promise(() => {}); });
    })"""
    sleeper.page.evaluate(hold, f"tackwatch-sync-{device_id}")
    sleeper.context.new_cdp_session(sleeper.page).send(
        "Page.setWebLifecycleState", {"state": "frozen"}
    )
    awake = tab_of(device)
    awake.page.clock.install()
    awake.reload()
    add_zone(awake, "Anchor locker")
    assert zones_at_the_server(board, ["Anchor locker"]) == []
    awake.page.clock.fast_forward("02:00")
    wait_until(lambda: zones_at_the_server(board, ["Anchor locker"]) == ["Anchor locker"])
    add_zone(awake, "Bow roller")
    sleeper.page.close()
    wait_until(lambda: zones_at_the_server(board, ["Bow roller"]) == ["Bow roller"])
    awake.page.clock.run_for(5_000)
    expect(awake.sync_words).to_contain_text(say("en", "sync.all_sent"))


def test_two_people_on_one_phone_have_a_queue_each_and_both_go_out(
    board: Board, http: HttpWire, phone: Open
) -> None:
    device = aboard(phone(), board.invited("Ana")[0])
    ana = api_of(device, http)
    device.join(board.invited("Ben")[0], "")
    account = {row["device_id"]: row for row in device.page.evaluate(ACCOUNTS)}
    ben_id = next(one for one in account if one != ana.device_id)
    device.signal(False)
    add_zone(device, "Of Ben, one")
    add_zone(device, "Of Ben, two")
    switch_to(device, ana.device_id)
    has_zones(device, [])
    expect(device.page.get_by_role("link", name="Of Ben, one")).to_have_count(0)
    add_zone(device, "Of Ana")
    device.tap("nav-crew")
    waiting = device.see("waits-for", device=ben_id)
    expect(waiting).to_have_text(say("en", "phone.waits_for", name="Ben", n=2))
    assert [n for n, _ in numbers(device, ben_id)] == [1, 2]

    # Ben's go while Ana has the phone: under his key, so they are his.
    device.signal(True)
    all_zones = ["Of Ana", "Of Ben, one", "Of Ben, two"]
    wait_until(lambda: zones_at_the_server(board, all_zones) == all_zones)
    rows = {row.fields.get("name"): row for row in board.owner.state.items.values()}
    assert {name: rows[name].at.split("-")[1] for name in all_zones} == {
        "Of Ana": ana.device_id, "Of Ben, one": ben_id, "Of Ben, two": ben_id,
    }  # fmt: skip
    expect(waiting).to_have_count(0)
    switch_to(device, ben_id)
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    has_zones(device, all_zones)
    assert numbers(device, ben_id) == [[1, "acknowledged"], [2, "acknowledged"]]


def switch_to(device: Device, device_id: str) -> None:
    device.tap("nav-crew")
    device.tap("switch-to", device=device_id)
    expect(device.see("screen-now")).to_be_visible()


def test_the_browser_sends_what_waits_when_no_page_is_open(
    board: Board, http: HttpWire, phone: Open
) -> None:
    device = aboard(phone(), board.invited("Hugo")[0])
    device_id = api_of(device, http).device_id
    device.signal(False)
    names = ["Anchor locker", "Bow roller"]
    for name in names:
        add_zone(device, name)
    expect(device.sync_words).to_contain_text(say("en", "sync.waiting", n=2))
    blank = device.context.new_page()
    device.page.close()
    device.signal(True)
    wait_until(lambda: zones_at_the_server(board, names) == names, within_s=60)
    device.page = blank
    device.open("/")
    has_zones(device, names)
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    assert numbers(device, device_id) == [[1, "acknowledged"], [2, "acknowledged"]]
