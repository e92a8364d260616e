"""A photo's way from one phone to the others, over a line that breaks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.board import Board
from tests.browser.device import PHONE, Device, wait_until
from tests.browser.looks import wrong_by_the_rules, wrong_to_the_eye
from tests.browser.words import say
from tests.support.line import Line
from tests.support.pictures import opened, picture, place_in, with_place
from tests.support.server import Server

pytestmark = pytest.mark.browser
Open = Callable[..., Device]

PIECE_B = 128 * 1024  # as in client/src/sync/photos.ts
WIDTH = "image => image.naturalWidth"


@pytest.fixture(scope="module")
def photo() -> bytes:
    """A photo as a phone's camera makes it, with the place in it."""
    return with_place("JPEG", width_px=2400, height_px=1800, quality=90)


@pytest.fixture
def line(server: Server) -> Iterator[Line]:
    with Line(server.port) as made:
        yield made


@pytest.fixture
def hand(devices: Open, line: Line, board: Board) -> Device:
    """A hand's phone behind the line."""
    link = board.invited("Hank")[0]
    device = devices(PHONE)
    device.address = line.address
    device.join(line.address + link[link.index("/", 8) :], "")
    device.ready_for_no_signal()
    return device


@pytest.fixture
def partner(phone: Open, board: Board) -> Device:
    """A phone elsewhere, with a good line, that looks on."""
    device = phone()
    device.join(board.invited("Petra", role="viewer")[0], "")
    return device


def take(device: Device, board: Board, photo: bytes) -> None:
    """Take a photo for the job, on the job's screen."""
    device.open(f"/#/job/{board.job_id}")
    given = {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": photo}
    device.see("job-photo").set_input_files(given)
    expect(device.see("photo").get_by_role("img")).to_be_visible()


def all_is_sent(device: Device) -> None:
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    expect(device.see("photo-waits")).to_have_count(0)


def kept_by_the_server(board: Board) -> tuple[dict[str, Any], bytes]:
    """Give what the record of the only photo says, and the photo."""
    (body,) = board.records("photo")
    answer = board.owner.call("GET", f"/photos/{body['sha256']}")
    assert answer.status == 200
    assert len(answer.content) == body["size_b"]
    return body, answer.content


def test_a_signal_that_breaks_in_the_middle_of_a_photo_costs_only_the_rest(
    board: Board, line: Line, hand: Device, partner: Device, photo: bytes
) -> None:
    line.break_after(PIECE_B + 50_000)
    take(hand, board, photo)
    wait_until(line.broken.is_set)
    hand.signal(there=False)
    expect(hand.sync_words).to_contain_text(say("en", "sync.photos", n=1))
    expect(hand.see("photo-waits")).to_contain_text(say("en", "photo.waits"))
    line.mend()
    hand.signal(there=True)
    all_is_sent(hand)
    body, kept = kept_by_the_server(board)
    assert body["size_b"] > 2 * PIECE_B, "the break was not in the middle"
    assert line.sent_b <= body["size_b"] + PIECE_B
    assert place_in(photo)
    assert place_in(kept) == {}
    assert max(opened(kept).size) == 1600
    partner.open(f"/#/job/{board.job_id}")
    shown = partner.see("photo").get_by_role("img")
    expect(shown).to_be_visible()
    assert shown.evaluate(WIDTH) == 480
    partner.tap(partner.see("photo").get_by_role("button"))
    expect(partner.see("photo").locator("img")).to_have_js_property("naturalWidth", 1600)


def test_a_page_that_is_closed_in_the_middle_of_a_photo_goes_on_when_it_is_opened(
    board: Board, line: Line, hand: Device, photo: bytes
) -> None:
    line.break_after(PIECE_B + 50_000)
    take(hand, board, photo)
    wait_until(line.broken.is_set)
    hand.page.close()
    line.mend()
    hand.page = hand.context.new_page()
    hand.open("/#/now")
    all_is_sent(hand)
    body, _ = kept_by_the_server(board)
    assert line.sent_b <= body["size_b"] + PIECE_B


def test_how_far_a_photo_came_is_said_and_shown_so_that_all_can_read_it(
    board: Board, hand: Device, photo: bytes
) -> None:
    def hold_second(route: Route) -> None:
        if route.request.headers["upload-offset"] == "0":
            route.continue_()

    hand.page.route("**/uploads/*", hold_second)
    take(hand, board, photo)
    bar = hand.see("photo").get_by_role("progressbar", name=say("en", "photo.sending"))
    expect(bar).to_be_visible()  # so the words are through
    percent = 100 * PIECE_B // int(board.records("photo")[0]["size_b"])
    assert 0 < percent < 100
    expect(bar).to_have_js_property("value", percent)
    expect(hand.see("photo-waits")).to_be_visible()
    expect(hand.see("photo-bar").first).to_contain_text(f"{percent} %")
    expect(hand.sync_words).to_contain_text(say("en", "sync.photo_part", n=percent))
    assert wrong_by_the_rules(hand) + wrong_to_the_eye(hand) == []
    hand.open("/#/settle")
    expect(hand.see("sending").get_by_role("progressbar")).to_be_visible()
    assert wrong_by_the_rules(hand) + wrong_to_the_eye(hand) == []
    hand.page.unroute("**/uploads/*")  # what was held goes on with it
    all_is_sent(hand)


def test_what_the_camera_wrote_goes_along_only_when_it_is_asked_for(
    board: Board, hand: Device, photo: bytes
) -> None:
    hand.open(f"/#/log/photo/{board.job_id}")
    tick = hand.see("photo-untouched")
    expect(tick).not_to_be_checked()
    given = {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": photo}
    hand.see("photo-pick").set_input_files(given)
    hand.tap(hand.page.locator("label.tick").filter(has=tick))
    expect(tick).to_be_checked()
    expect(hand.page.get_by_text(say("en", "photo.untouched_why"))).to_be_visible()
    hand.tap("photo-save")
    expect(hand.see("screen-now")).to_be_visible()
    all_is_sent(hand)
    assert kept_by_the_server(board)[1] == photo
    hand.open(f"/#/log/photo/{board.job_id}")
    expect(tick).not_to_be_checked()


def test_a_file_that_cannot_go_as_it_is_stays_in_the_form_with_the_reason(
    board: Board, hand: Device
) -> None:
    hand.open(f"/#/log/photo/{board.job_id}")
    given = {"name": "photo.gif", "mimeType": "image/gif", "buffer": picture("GIF")}
    hand.see("photo-pick").set_input_files(given)
    hand.tap(hand.page.locator("label.tick").filter(has=hand.see("photo-untouched")))
    hand.tap("photo-save")
    expect(hand.see("said")).to_contain_text(say("en", "why.not_as_it_is"))
    hand.tap(hand.see("said").get_by_role("button"))
    hand.tap(hand.page.locator("label.tick").filter(has=hand.see("photo-untouched")))
    hand.tap("photo-save")
    expect(hand.see("screen-now")).to_be_visible()
    all_is_sent(hand)
    assert opened(kept_by_the_server(board)[1]).format == "JPEG"


FULL = {
    "status": 413,
    "content_type": "application/problem+json",
    "body": '{"type":"urn:tackwatch:problem:photos-full","title":"Photos full","detail":"No room.","status":413}',
}


def no_room(page: Page) -> None:
    page.route("**/uploads", lambda route: route.fulfill(**FULL))


def to_what_was_refused(hand: Device) -> None:
    expect(hand.see("photo-refused")).to_contain_text(say("en", "photo.refused"))
    expect(hand.sync_words).to_contain_text(say("en", "sync.photos_refused", n=1))
    expect(hand.sync_words).to_contain_text(say("en", "sync.need_you", n=1))
    expect(hand.sync_words).not_to_contain_text(say("en", "sync.all_sent"))
    hand.tap(hand.see("photo-refused").get_by_role("link"))
    expect(hand.see("photo-refused-one")).to_contain_text(say("en", "why.photos_full"))


def test_a_photo_that_is_not_taken_says_why_and_is_offered_again_by_a_tap(
    board: Board, hand: Device, photo: bytes
) -> None:
    no_room(hand.page)
    take(hand, board, photo)
    to_what_was_refused(hand)
    assert wrong_by_the_rules(hand) + wrong_to_the_eye(hand) == []
    hand.page.unroute("**/uploads")
    hand.tap("photo-again")
    expect(hand.see("photos-refused")).to_have_count(0)
    all_is_sent(hand)
    kept_by_the_server(board)


def test_a_photo_that_is_not_taken_is_let_go_after_a_question_with_its_entry(
    board: Board, hand: Device, photo: bytes
) -> None:
    no_room(hand.page)
    take(hand, board, photo)
    to_what_was_refused(hand)
    hand.tap("photo-drop")
    expect(hand.page.get_by_text(say("en", "photo.let_go_sure"))).to_be_visible()
    hand.tap("photo-let-go-yes")
    expect(hand.see("photos-refused")).to_have_count(0)
    all_is_sent(hand)
    hand.open(f"/#/job/{board.job_id}")
    expect(hand.see("steps")).to_be_visible()
    expect(hand.see("photo")).to_have_count(0)
