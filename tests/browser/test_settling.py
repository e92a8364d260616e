"""What people have to settle: one field changed twice, entries that the server refused, a key that was withdrawn."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.device import Device, wait_until
from tests.browser.words import say

pytestmark = pytest.mark.browser

Open = Callable[..., Device]


def aboard(device: Device, link: str) -> Device:
    """Come aboard, have everything, and be ready to lose the signal."""
    device.join(link, "")
    device.tap("nav-work")
    expect(device.see("job").filter(has_text="Barrier coats")).to_be_visible()
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    device.ready_for_no_signal()
    return device


def rename(device: Device, title: str) -> None:
    """Change the job's title on its own screen."""
    device.tap(device.see("job").get_by_role("link", name="Barrier coats"))
    device.tap("job-edit")
    device.type("job-title", title)
    device.tap("job-save")
    expect(device.page.get_by_role("heading", level=1, name=title)).to_be_visible()


def write_note(device: Device, text: str) -> None:
    device.tap("nav-log")
    device.tap("log-note")
    device.type("note-text", text)
    device.tap("note-save")
    expect(device.see("screen-now")).to_be_visible()


def give_role(owner: Device, board: Board, member_id: str, role: str) -> None:
    """Change what somebody may do, on the crew screen; the server has it afterwards."""
    owner.tap("nav-crew")
    person = owner.see("member", member=member_id)
    if not person.get_by_test_id("member-role").is_visible():
        owner.tap(person.locator("summary"))
    owner.tap(person.get_by_test_id("member-role").locator(f'label:has(input[value="{role}"])'))
    expect(person.locator(f'input[value="{role}"]')).to_be_checked()
    wait_until(lambda: board.role(member_id) == role)


def wait_for_all_sent(device: Device) -> None:
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))


def test_two_titles_of_one_job_are_settled_by_one_person_for_all(
    board: Board, phone: Open, laptop: Open
) -> None:
    ana = aboard(phone(), board.invited("Ana")[0])
    ben = aboard(phone(), board.invited("Ben")[0])
    owner = aboard(laptop(), board.owners_link())
    for device, title in ((ana, "Two barrier coats"), (ben, "Barrier coats below the waterline")):
        device.signal(False)
        rename(device, title)
    for device in (ana, ben):
        device.signal(True)
        expect(device.sync_words).not_to_contain_text(say("en", "sync.waiting", n=1))

    owner.tap("sync-state")
    difference = owner.see("difference", field="title")
    values = difference.locator("li")
    expect(values).to_have_count(2)
    for name, title in (
        ("Ana", "Two barrier coats"),
        ("Ben", "Barrier coats below the waterline"),
    ):
        expect(values.filter(has_text=title)).to_contain_text(name)
    for device in (ana, ben):
        expect(device.sync_words).to_contain_text(say("en", "sync.need_you", n=1))

    lost = difference.get_by_text(say("en", "settle.value_other")).locator("xpath=..")
    chosen = lost.locator(".value").inner_text()
    owner.tap(lost.get_by_test_id("choose"))
    for device in (owner, ana, ben):
        wait_for_all_sent(device)
        expect(device.sync_words).not_to_contain_text(say("en", "sync.need_you", n=1))
        device.tap("sync-state")
        expect(device.see("settle-none")).to_be_visible()
        device.tap("nav-work")
        expect(device.see("job").filter(has_text=chosen)).to_be_visible()
    assert board.title() == chosen


def test_an_entry_that_was_refused_stays_with_its_text_and_its_reason_until_it_is_dealt_with(
    board: Board, phone: Open, laptop: Open
) -> None:
    link, member_id = board.invited("Hugo", language="es")
    hand = phone()
    hand.join(link, "")
    expect(hand.see("nav-log")).to_be_visible()
    hand.ready_for_no_signal()
    owner = aboard(laptop(), board.owners_link())
    hand.signal(False)
    write_note(hand, "The keel bolts weep")
    write_note(hand, "A second thing that was seen")
    give_role(owner, board, member_id, "viewer")

    hand.signal(True)
    expect(hand.sync_words).to_contain_text(say("es", "sync.need_you", n=2))
    hand.reload()
    hand.tap("sync-state")
    refused = hand.see("refused-one")
    expect(refused).to_have_count(2)
    first = refused.filter(has_text="The keel bolts weep")
    expect(first).to_contain_text(say("es", "act.log_note"))
    expect(first.locator(".problem")).to_contain_text(say("es", "why.not_allowed"))
    assert board.records("note") == []

    give_role(owner, board, member_id, "hand")
    expect(hand.see("nav-log")).to_be_visible()
    hand.tap(first.get_by_test_id("again"))
    second = refused.filter(has_text="A second thing that was seen")
    hand.tap(second.get_by_test_id("drop-refused"))
    hand.tap("let-go-yes")
    expect(hand.see("settle-none")).to_be_visible()
    wait_until(lambda: len(board.records("note")) > 0)
    assert [note["text"] for note in board.records("note")] == ["The keel bolts weep"]


def test_a_phone_whose_key_was_withdrawn_keeps_what_it_holds_and_sends_nothing(
    board: Board, phone: Open, laptop: Open
) -> None:
    link, member_id = board.invited("Hugo")
    hand = aboard(phone(), link)
    owner = aboard(laptop(), board.owners_link())
    hand.signal(False)
    write_note(hand, "Written while the key still held")
    owner.tap("nav-crew")
    person = owner.see("member", member=member_id)
    owner.tap(person.locator("summary"))
    owner.tap(person.get_by_test_id("revoke"))
    owner.tap("revoke-ask-yes")
    expect(person).to_contain_text(say("en", "crew.revoked"))

    hand.signal(True)
    expect(hand.sync_words).to_contain_text(say("en", "sync.revoked"))
    expect(hand.sync_words).to_contain_text(say("en", "sync.kept", n=1))
    hand.reload()
    write_note(hand, "Written after it was withdrawn")
    expect(hand.sync_words).to_contain_text(say("en", "sync.kept", n=2))
    hand.tap("nav-work")
    hand.tap(hand.see("job").get_by_role("link", name="Barrier coats"))
    records = hand.see("records")
    expect(records).to_contain_text("Written while the key still held")
    expect(records).to_contain_text("Written after it was withdrawn")
    hand.tap("sync-state")
    expect(hand.see("sending")).to_contain_text(say("en", "sync.revoked_why"))
    assert board.records("note") == []


def test_a_link_that_was_used_already_says_so_in_the_persons_language(
    board: Board, phone: Open
) -> None:
    link, _ = board.invited("Hugo")
    phone().join(link, "")
    late = phone(language="es")
    late.open(link.removeprefix(late.address))
    late.tap("join")
    expect(late.see("problem")).to_have_text(say("es", "why.invite_claimed"))
