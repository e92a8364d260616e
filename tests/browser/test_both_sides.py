"""What is found on one side is looked at on the other: jobs copied to the twin zone; pictures come after words."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Route, expect

from tests.browser.board import Board
from tests.browser.device import Device
from tests.browser.picture import png
from tests.browser.words import product, say

pytestmark = pytest.mark.browser

Open = Callable[..., Device]


@pytest.fixture
def hand(board: Board, phone: Open) -> Device:
    device = phone()
    device.join(board.invited("Hugo")[0], "")
    expect(device.see("nav-log")).to_be_visible()
    return device


def find_soft_timber(hand: Device, both: bool) -> None:
    hand.tap("nav-log")
    hand.tap("log-found")
    hand.type("found-title", "Soft timber")
    hand.see("found-photo").set_input_files(
        {"name": "photo.png", "mimeType": "image/png", "buffer": png(80, 60, 10)}
    )
    expect(hand.page.get_by_alt_text(say("en", "photo.ready"))).to_be_visible()
    if both:
        hand.see("found-both").check()
    hand.tap("found-save")
    expect(hand.see("screen-work")).to_be_visible()


def test_a_job_is_copied_to_the_other_side_with_its_steps_and_gaps(
    board: Board, hand: Device
) -> None:
    hand.tap("nav-work")
    hand.tap(hand.see("job").get_by_role("link", name="Barrier coats"))
    hand.tap("mirror-job")
    hand.tap("mirror-yes")
    expect(hand.page.get_by_text(say("en", "job.mirror_of", job="Barrier coats"))).to_be_visible()
    expect(hand.page.locator(".about")).to_contain_text("Starboard hull")
    steps = hand.see("steps").get_by_test_id("step")
    expect(steps).to_have_count(2)
    expect(steps.nth(1)).to_contain_text(say("en", "step.gap_after_cure", step="Coat 1"))
    expect(steps.nth(1)).to_contain_text(product("en", "laminating_epoxy_fast"))


def test_found_work_is_put_on_the_board_for_both_sides_in_one_entry(hand: Device) -> None:
    find_soft_timber(hand, both=True)
    for side in ("Port hull", "Starboard hull"):
        jobs = hand.page.locator(".side").filter(has_text=side).get_by_test_id("job")
        expect(jobs.filter(has_text="Soft timber")).to_have_count(1)
    hand.tap(hand.see("job").filter(has_text="Soft timber").first.get_by_role("link"))
    expect(hand.page.get_by_text(say("en", "job.found_while", job="Barrier coats"))).to_be_visible()
    expect(hand.see("photo").get_by_role("img")).to_be_visible()


def test_a_picture_that_comes_after_its_words_is_shown_as_soon_as_it_is_there(
    board: Board, hand: Device, laptop: Open
) -> None:
    partner = laptop()
    partner.join(board.invited("Petra", role="viewer")[0], "")
    expect(partner.see("latest")).to_be_visible()
    held: list[Route] = []
    hand.page.route("**/uploads", lambda route: held.append(route))
    find_soft_timber(hand, both=False)
    photo = partner.see("photo")
    expect(photo).to_contain_text(say("en", "photo.coming"))
    (route,) = held
    route.continue_()
    expect(photo.get_by_role("img")).to_be_visible()
