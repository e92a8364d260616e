"""The partner far away looks on: sees all, and finds nothing on any screen that would change it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.device import Device, api_of
from tests.browser.words import say
from tests.support.wires import HttpWire

pytestmark = pytest.mark.browser

Open = Callable[..., Device]

# What stands in the main part of a screen and can be used, with the name that a person hears for it.
_USABLE = """main => [...main.querySelectorAll("button, input, select, textarea, summary")]
  .filter(one => one.checkVisibility())
  .map(one => one.dataset.testid || one.ariaLabel || one.labels?.[0]?.innerText || one.innerText)"""

ONLY_LOOKING = {
    "back", "sync-now", "Show large",
    *(say("en", key) for key in ("work.all", "work.mine", "work.found", "work.hide_done")),
    say("en", "record.was"), "readiness-rules",
}  # fmt: skip


@pytest.fixture
def partner(board: Board, laptop: Open) -> Device:
    board.coat(0, hours_ago=3, text="In the shade")
    board.owner.record("note", {"text": "All is well", "job_id": board.job_id})
    board.owner.sync()
    device = laptop(zone="Pacific/Auckland")
    device.join(board.invited("Petra", role="viewer")[0], "")
    expect(device.see("latest")).to_contain_text("All is well")
    return device


def test_nothing_on_any_screen_lets_a_viewer_change_the_work(board: Board, partner: Device) -> None:
    places = (
        "now", "work", f"job/{board.job_id}", "settle", "log", "log/coat", "log/note",
        f"log/coat/{board.step_ids[1]}", "new", "zone/new", f"zone/{board.port_id}",
    )  # fmt: skip
    expect(partner.see("nav-log")).to_have_count(0)
    for place in places:
        partner.open(f"/#/{place}")
        expect(partner.see(f"screen-{place.split('/')[0]}").locator("h1")).to_be_visible()
        found = set(partner.page.locator("main").evaluate(_USABLE))
        assert found <= ONLY_LOOKING, (place, found - ONLY_LOOKING)


def test_on_the_crew_screen_a_viewer_has_only_what_is_their_own(
    board: Board, partner: Device
) -> None:
    partner.tap("nav-crew")
    expect(partner.see("people")).to_be_visible()
    for testid in ("invite", "add-phone", "refit-edit"):
        expect(partner.see(testid)).to_have_count(0)
    for summary in partner.see("people").locator("summary").all():
        partner.tap(summary)
    expect(partner.see("device")).to_have_count(2)
    expect(partner.see("revoke")).to_have_count(1)
    partner.pick("language", "Español")
    partner.tap("my-save")
    expect(partner.page.get_by_role("heading", name=say("es", "crew.title"))).to_be_visible()


def test_what_a_viewer_sends_all_the_same_is_refused(
    board: Board, partner: Device, http: HttpWire
) -> None:
    forced = api_of(partner, http)
    forced.create("job", {"title": "Not mine to make", "rank": 9})
    forced.record("note", {"text": "Not mine to write"})
    answer = forced.sync()
    assert [one["problem"]["type"] for one in answer["refused"]] == [
        "urn:tackwatch:problem:not-allowed"
    ] * 2
    assert forced.call("POST", "/invites", body={"role": "hand", "name": "X"}).status == 403
    assert forced.call("PUT", f"/photos/{'0' * 64}", content=b"\xff\xd8\xff").status == 403
    assert board.records("note") == [{"text": "All is well", "job_id": board.job_id}]
