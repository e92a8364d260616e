"""A job is taken off the board by one while another, out of signal, adds a step to it and notes something on it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.device import Device, wait_until
from tests.browser.words import say

pytestmark = pytest.mark.browser

Open = Callable[..., Device]
JOB = "Barrier coats"


def aboard(device: Device, link: str) -> Device:
    device.join(link, "")
    device.tap("nav-work")
    expect(device.see("job").filter(has_text=JOB)).to_be_visible()
    expect(device.sync_words).to_contain_text(say("en", "sync.all_sent"))
    device.ready_for_no_signal()
    return device


def open_job(device: Device) -> None:
    device.tap("nav-work")
    device.tap(device.see("job").get_by_role("link", name=JOB))
    expect(device.page.get_by_role("heading", level=1, name=JOB)).to_be_visible()


def take_off(owner: Device) -> None:
    open_job(owner)
    owner.tap("job-edit")
    owner.tap("job-drop")
    owner.tap("job-drop-ask-yes")
    expect(owner.see("screen-work")).to_be_visible()
    expect(owner.see("job")).to_have_count(0)


def add_step(device: Device, title: str) -> None:
    open_job(device)
    device.tap("add-step")
    form = device.see("step-form")
    device.type("step-title", title, within=form)
    device.tap(form.get_by_test_id("step-save"))
    expect(device.see("steps")).to_contain_text(title)


def test_work_on_a_job_that_was_taken_off_meanwhile_is_asked_about_and_brings_it_back(
    board: Board, phone: Open, laptop: Open
) -> None:
    ana = aboard(phone(), board.invited("Ana")[0])
    owner = aboard(laptop(), board.owners_link())
    for device in (ana, owner):
        device.signal(False)
    add_step(ana, "Third coat")
    take_off(owner)
    for device in (ana, owner):
        device.signal(True)

    for device in (ana, owner):
        expect(device.sync_words).to_contain_text(say("en", "sync.need_you", n=1))
        device.tap("sync-state")
        asked = device.see("stranded-one", job=board.job_id)
        expect(asked).to_contain_text(JOB)
        added = asked.locator("li").filter(has_text="Third coat")
        expect(added).to_contain_text("Ana")
        expect(asked).to_contain_text("Olga")
        expect(device.see("difference")).to_have_count(0)
    expect(ana.see("job-back")).to_have_count(0)
    expect(ana.see("stranded-one")).to_contain_text(say("en", "settle.owner_decides"))

    owner.tap("job-back")
    for device in (owner, ana):
        expect(device.see("settle-none")).to_be_visible()
        expect(device.sync_words).not_to_contain_text(say("en", "sync.need_you", n=1))
        open_job(device)
        for title in ("Coat 1", "Coat 2", "Third coat"):
            expect(device.see("steps")).to_contain_text(title)


def test_work_on_a_job_that_was_taken_off_may_go_too_and_is_found_below_the_work(
    board: Board, phone: Open, laptop: Open
) -> None:
    ana = aboard(phone(), board.invited("Ana")[0])
    owner = aboard(laptop(), board.owners_link())
    board.coat(0, hours_ago=30, text="Went on well")
    expect(ana.sync_words).to_contain_text(say("en", "sync.all_sent"))
    ana.signal(False)
    add_step(ana, "Third coat")
    take_off(owner)
    wait_until(lambda: board.gone(board.job_id))
    ana.signal(True)
    owner.tap("sync-state")
    owner.tap("steps-go")
    expect(owner.see("settle-none")).to_be_visible()
    expect(ana.sync_words).not_to_contain_text(say("en", "sync.need_you", n=1))

    for device in (owner, ana):
        device.tap("nav-work")
        expect(device.see("job")).to_have_count(0)
        device.tap("gone")
        device.tap("gone-job", job=board.job_id)
        expect(device.see("gone-by")).to_contain_text("Olga")
        expect(device.see("records")).to_contain_text("Went on well")
    owner.tap("bring-back")
    expect(owner.see("steps")).to_contain_text("Coat 2")
    open_job(ana)
    expect(ana.see("steps")).to_contain_text("Coat 1")


def test_what_was_logged_on_a_zone_is_found_after_the_zone_was_taken_off(
    board: Board, laptop: Open
) -> None:
    board.owner.record("note", {"text": "Soft by the stern tube", "zone_id": board.port_id})
    board.owner.sync()
    owner = laptop()
    owner.join(board.owners_link(), "")
    owner.tap("nav-work")
    owner.tap("zone", zone=board.port_id)
    expect(owner.see("records")).to_contain_text("Soft by the stern tube")
    board.owner.drop("zone", board.port_id)
    board.owner.sync()
    expect(owner.see("gone-by")).to_be_visible()
    owner.tap("nav-work")
    expect(owner.see("job").filter(has_text=JOB)).to_be_visible()
    owner.tap("gone")
    owner.tap("gone-zone")
    expect(owner.see("records")).to_contain_text("Soft by the stern tube")
    owner.tap("bring-back")
    expect(owner.see("zone-name")).to_be_visible()
