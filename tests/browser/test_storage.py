"""A phone's room: told in words, and made by letting go of what the server has, never of a word. A wiped phone."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.device import Device, api_of, wait_until
from tests.browser.picture import noise
from tests.browser.words import say
from tests.support.wires import HttpWire

pytestmark = pytest.mark.browser

Open = Callable[..., Device]

_USED = "navigator.storage.estimate().then(({ usage }) => usage)"
# Writes a little into a database of its own; tells why it could not.
_PROBE = """new Promise(done => {
  const asked = indexedDB.open("probe", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore("rows", { autoIncrement: true });
  asked.onerror = () => done(asked.error.name);
  asked.onsuccess = () => {
    const db = asked.result;
    const end = why => { db.close(); done(why); };
    const work = db.transaction("rows", "readwrite");
    work.objectStore("rows").add("x".repeat(1000));
    work.oncomplete = () => end("");
    work.onabort = () => end(work.error?.name ?? "broken off");
  };
})"""
_PICTURES = """device => new Promise((resolve, reject) => {
  const asked = indexedDB.open(`tackwatch-${device}`);
  asked.onerror = () => reject(asked.error);
  asked.onsuccess = () => {
    const db = asked.result;
    const rows = db.transaction("blobs").objectStore("blobs").getAll();
    rows.onsuccess = () => { db.close(); resolve(rows.result.map(({ status }) => status)); };
  };
})"""


def aboard(device: Device, link: str) -> Device:
    device.join(link, "")
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    device.ready_for_no_signal()
    return device


def write_note(device: Device, text: str) -> None:
    """Fill the form and save; the page goes on when the note is kept."""
    device.tap("nav-log")
    device.tap("log-note")
    device.type("note-text", text)
    device.tap("note-save")


@contextmanager
def room_of(device: Device, quota_b: int) -> Iterator[None]:
    """Let the browser give the app no more room than this."""
    session = device.context.new_cdp_session(device.page)
    origin = {"origin": device.address}
    session.send("Storage.overrideQuotaForOrigin", {**origin, "quotaSize": quota_b})
    # The browser reckons with the room that it last saw for some seconds.
    wait_until(lambda: device.page.evaluate(_PROBE) == "QuotaExceededError", within_s=60)
    yield
    session.send("Storage.overrideQuotaForOrigin", origin)
    wait_until(lambda: device.page.evaluate(_PROBE) == "", within_s=60)


def used_b(device: Device) -> int:
    return int(device.page.evaluate(_USED))


def texts(board: Board) -> list[str]:
    return sorted(str(note["text"]) for note in board.records("note"))


def test_a_note_that_finds_no_room_stays_in_its_form_until_there_is_some(
    board: Board, phone: Open
) -> None:
    device = aboard(phone(), board.invited("Hugo")[0])
    with room_of(device, 1):
        write_note(device, "Soft timber at the stem")
        expect(device.see("said")).to_contain_text(say("en", "why.phone_full"))
        expect(device.sync_words).to_contain_text(say("en", "sync.full"))
        expect(device.see("note-text")).to_have_value("Soft timber at the stem")
        device.tap(device.see("said").get_by_role("button"))
        device.tap("note-save")
        expect(device.see("said")).to_contain_text(say("en", "why.phone_full"))
        expect(device.see("note-text")).to_have_value("Soft timber at the stem")
    device.tap("note-save")
    expect(device.see("screen-now")).to_be_visible()
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    expect(device.sync_words).not_to_contain_text(say("en", "sync.full"))
    assert texts(board) == ["Soft timber at the stem"]


def send_photo(device: Device, seed: int) -> None:
    device.tap("nav-log")
    device.tap("log-photo")
    picture = {"name": "photo.png", "mimeType": "image/png", "buffer": noise(800, seed)}
    device.see("photo-pick").set_input_files(picture)  # type: ignore[arg-type]
    expect(device.page.get_by_alt_text(say("en", "photo.ready"))).to_be_visible()
    device.type("photo-text", f"Picture {seed}")
    device.tap("photo-save")
    expect(device.see("screen-now")).to_be_visible()


def test_pictures_that_were_sent_make_room_for_a_note_and_those_that_wait_do_not(
    board: Board, http: HttpWire, phone: Open
) -> None:
    device = aboard(phone(), board.invited("Hugo")[0])
    device_id = api_of(device, http).device_id

    def pictures() -> list[str]:
        found: list[str] = device.page.evaluate(_PICTURES, device_id)
        return found

    for seed in range(3):
        send_photo(device, seed)
    wait_until(lambda: pictures() == ["sent"] * 3)
    device.signal(False)
    send_photo(device, 3)
    with room_of(device, used_b(device)):
        write_note(device, "Written on a full phone")
        expect(device.see("screen-now")).to_be_visible(timeout=30_000)
    assert pictures().count("waiting") == 1
    assert pictures().count("sent") < 3
    device.signal(True)
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    assert texts(board) == ["Written on a full phone"]


def test_this_phone_says_what_it_holds_and_whether_the_browser_keeps_it(
    board: Board, phone: Open
) -> None:
    device = aboard(phone(), board.invited("Paz")[0])
    device.tap("nav-crew")
    # Source: what the browser itself says (Storage standard, section 5: estimate() and persisted()).
    left_b = device.page.evaluate("navigator.storage.estimate().then(e => e.quota - e.usage)")
    expect(device.see("phone-left")).to_contain_text(f"{left_b / 1e9:.1f}")
    shown = re.search(r"([\d.]+) MB", device.see("phone-used").inner_text())
    assert shown
    assert abs(float(shown[1]) - used_b(device) / 1e6) < 1
    assert device.page.evaluate("navigator.storage.persisted()") is False
    expect(device.see("phone-keeps")).to_contain_text(say("en", "phone.not_kept"))
    device.tap("phone-ask")
    expect(device.see("this-phone")).to_contain_text(say("en", "phone.asked_in_vain"))
    session = device.context.new_cdp_session(device.page)
    context_id = session.send("Target.getTargetInfo")["targetInfo"]["browserContextId"]
    session.send(
        "Browser.grantPermissions",
        {"permissions": ["durableStorage"], "browserContextId": context_id},
    )
    device.tap("phone-ask")
    expect(device.see("phone-keeps")).to_contain_text(say("en", "phone.kept"))
    expect(device.see("phone-ask")).to_have_count(0)
    assert device.page.evaluate("navigator.storage.persisted()") is True


def elsewhere(device: Device) -> None:
    """Close the app on the device and look at nothing."""
    app = device.page
    device.page = device.context.new_page()
    app.close()


_DROP = """name => new Promise((resolve, reject) => {
  const asked = indexedDB.deleteDatabase(name);
  asked.onsuccess = () => resolve();
  asked.onerror = () => reject(asked.error);
})"""


def test_a_copy_that_is_gone_while_its_key_is_not_uses_no_number_twice(
    board: Board, http: HttpWire, phone: Open
) -> None:
    device = aboard(phone(), board.invited("Hugo")[0])
    device_id = api_of(device, http).device_id
    for text in ("Before, one", "Before, two"):
        write_note(device, text)
        expect(device.see("screen-now")).to_be_visible()
    wait_until(lambda: texts(board) == ["Before, one", "Before, two"])
    elsewhere(device)
    device.open("/manifest.webmanifest")
    device.page.evaluate(_DROP, f"tackwatch-{device_id}")
    device.signal(False)
    device.open("/")
    expect(device.sync_words).to_contain_text(say("en", "sync.not_here"))
    for text in ("After, one", "After, two", "After, three"):
        write_note(device, text)
        expect(device.see("screen-now")).to_be_visible()
    expect(device.sync_words).to_contain_text(say("en", "sync.waiting", n=3))
    expect(device.sync_words).not_to_contain_text(say("en", "sync.all_sent"))
    device.signal(True)
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    assert texts(board) == sorted(
        ["Before, one", "Before, two", "After, one", "After, two", "After, three"]
    )
    sent = api_of(device, http).call("GET", f"/devices/{device_id}/sent").json
    assert [one["n"] for one in sent["operations"]] == [5, 4, 3, 2, 1]


def test_who_comes_back_on_a_wiped_phone_sees_what_had_arrived_and_so_does_the_owner(
    board: Board, http: HttpWire, phone: Open, laptop: Open
) -> None:
    link, member_id = board.invited("Hugo")
    device = aboard(phone(), link)
    old_id = api_of(device, http).device_id
    write_note(device, "Keel bolts weep")
    wait_until(lambda: texts(board) == ["Keel bolts weep"])
    device.signal(False)
    write_note(device, "Written and lost")
    expect(device.sync_words).to_contain_text(say("en", "sync.waiting", n=1))
    elsewhere(device)
    device.context.new_cdp_session(device.page).send(
        "Storage.clearDataForOrigin", {"origin": device.address, "storageTypes": "all"}
    )
    device.signal(True)
    device.join(board.another_phones_link(member_id, "Hugo", "hand"), "the same phone")
    device.tap("nav-crew")
    expect(device.see("this-phone")).to_contain_text(say("en", "phone.was_wiped"))
    owner = aboard(laptop(), board.owners_link())
    owner.tap("nav-crew")
    for looker in (device, owner):
        person = looker.see("member", member=member_id)
        looker.tap(person.locator("summary"))
        looker.tap(looker.see("device", device=old_id).get_by_test_id("see-sent"))
        sent = looker.see("sent", device=old_id)
        expect(sent.get_by_test_id("sent-one")).to_have_count(1)
        expect(sent).to_contain_text("Keel bolts weep")
        expect(sent).to_contain_text(say("en", "act.log_note"))
        expect(sent).not_to_contain_text("Written and lost")
        expect(sent).to_contain_text(re.compile(r"number 1, today"))


def test_what_is_not_sent_survives_that_the_data_are_cleared_under_the_open_page(
    board: Board, phone: Open
) -> None:
    device = aboard(phone(), board.invited("Hugo")[0])
    device.signal(False)
    write_note(device, "Before they were cleared")
    expect(device.sync_words).to_contain_text(say("en", "sync.waiting", n=1))
    device.context.new_cdp_session(device.page).send(
        "Storage.clearDataForOrigin", {"origin": device.address, "storageTypes": "indexeddb"}
    )
    write_note(device, "And after")
    expect(device.see("screen-now")).to_be_visible()
    expect(device.sync_words).to_contain_text(say("en", "sync.waiting", n=2))
    device.signal(True)
    wait_until(lambda: texts(board) == ["And after", "Before they were cleared"])
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    device.reload()
    expect(device.see("nav-work")).to_be_visible()
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
