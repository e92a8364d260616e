"""A working day with two phones and a laptop: handed out, done without a signal, rung on time, met again."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import psychrolib
import pytest
from playwright.sync_api import expect

from tests.browser.device import YARD_ZONE, Device, api_of
from tests.browser.picture import png, read_code
from tests.browser.words import product, say
from tests.support.wires import HttpWire

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

Open = Callable[..., Device]
psychrolib.SetUnitSystem(psychrolib.SI)
PROFILE = "laminating_epoxy_fast"


@dataclass
class Yard:
    """The devices of the people of this day."""

    owner: Device
    painter: Device
    hand: Device
    partner: Device


def found_refit(owner: Device) -> None:
    """The owner begins a refit and is shown the recovery code once."""
    owner.open("/")
    owner.tap("welcome-create")
    owner.type("refit-name", "Wanderer")
    owner.type("owner-name", "Olga")
    owner.pick("time-zone", "Europe/Lisbon")
    owner.tap("create")
    code = owner.see("recovery-code")
    expect(code).to_have_text(re.compile(r"^\w{4}(-\w{4}){4}$"))
    text = code.inner_text()
    owner.tap("written-down")
    expect(owner.see("launch")).to_be_visible()
    owner.reload()
    expect(owner.see("launch")).to_be_visible()
    expect(owner.page.locator("body")).not_to_contain_text(text)


def make_zone(owner: Device, name: str, twin: str = "") -> None:
    owner.tap("nav-work")
    owner.tap("add-zone")
    owner.type("zone-name", name)
    if twin:
        owner.pick("zone-twin", twin)
    owner.tap("save")
    expect(owner.page.get_by_role("link", name=name, exact=True)).to_be_visible()


def make_job(owner: Device) -> None:
    """A job of two coats, the second by the cure of the first."""
    owner.tap("nav-work")
    owner.tap("add-job")
    owner.type("job-title", "Barrier coats")
    owner.pick("job-zone", "Port hull")
    owner.tap("save")
    expect(owner.see("steps")).to_be_visible()
    for name in ("Coat 1", "Coat 2"):
        owner.tap("add-step")
        form = owner.see("step-form")
        owner.pick("step-kind", "Coat", form)
        owner.type("step-title", name, form)
        owner.pick("step-product", product("en", PROFILE), form)
        if name == "Coat 2":
            expect(form.get_by_test_id("step-after")).to_have_value(re.compile("."))
            expect(form.locator('input[value="cure"]')).to_be_checked()
        owner.tap(form.get_by_test_id("step-save"))
        expect(owner.see("steps").get_by_role("heading", name=name)).to_be_visible()
    expect(owner.see("steps")).to_contain_text("by the cure of Coat 1")


def invite(owner: Device, name: str, role: str, language: str) -> str:
    """Invite somebody; the code on the screen holds the link beside it."""
    owner.tap("nav-crew")
    owner.tap("invite")
    form = owner.see("invite-form")
    owner.type("invite-name", name, form)
    owner.choose("invite-role", role, form)
    owner.pick("language", language, form)
    owner.tap("invite-make")
    link = owner.see("invite-link").input_value()
    assert read_code(owner.see("ticket").locator("img.code")) == link
    owner.tap(owner.see("ticket").get_by_role("button", name="Close"))
    return link


def gather(phone: Open, laptop: Open) -> Yard:
    owner = laptop()
    found_refit(owner)
    make_zone(owner, "Port hull")
    make_zone(owner, "Starboard hull", twin="Port hull")
    make_job(owner)
    painter = phone(clock=True)
    painter.join(invite(owner, "Paz", "hand", "Español"), "Paz's phone")
    hand = phone()
    hand.join(invite(owner, "Hugo", "hand", "English"), "Hugo's phone")
    partner = laptop(zone="Pacific/Auckland")
    partner.join(invite(owner, "Petra", "viewer", "English"), "Petra's laptop")
    return Yard(owner, painter, hand, partner)


def hand_out(yard: Yard) -> None:
    """The owner gives the first coat to the painter, whose phone shows it at once and in Spanish."""
    owner, painter = yard.owner, yard.painter
    expect(painter.page.get_by_role("heading", name=say("es", "now.title"))).to_be_visible()
    expect(painter.see("my-steps")).to_have_count(0)
    owner.tap("nav-work")
    owner.tap(owner.see("job").get_by_role("link", name="Barrier coats"))
    step = owner.see("step").filter(has_text="Coat 1").first
    owner.tap(step.get_by_test_id("step-more"))
    owner.tap(step.get_by_role("button", name="Paz"))
    mine = painter.see("my-steps")
    expect(mine).to_contain_text("Coat 1")
    expect(mine).to_contain_text(say("es", "now.mine"))
    expect(mine.get_by_test_id("do-start-coat")).to_have_text(say("es", "start.coat"))
    expect(mine).to_contain_text("Epoxi de laminar, rápido")


def lose_the_signal(device: Device, language: str) -> None:
    """Out of reach, and the page is even loaded again there."""
    expect(device.sync_words).to_contain_text(say(language, "sync.all_sent"))
    device.ready_for_no_signal()
    device.signal(False)
    device.reload()
    expect(device.see("screen-now")).to_be_visible()
    expect(device.sync_words).to_contain_text(say(language, "sync.no_signal"))


def coat_and_mix(painter: Device) -> None:
    """Three entries and a pot, each in at most three taps from Now."""
    painter.taps = 0
    painter.tap("do-start-coat")
    painter.tap("coat-start")
    expect(painter.sync_words).to_contain_text(say("es", "sync.waiting", n=1))
    painter.tap("do-end-coat")
    expect(painter.see("clock")).to_contain_text(say("es", "stage.recoat_opens"))
    assert painter.taps == 3
    expect(painter.sync_words).to_contain_text(say("es", "sync.waiting", n=3))

    painter.taps = 0
    painter.tap("nav-log")
    painter.tap("log-reading")
    painter.type("reading-air", "19,5")
    painter.type("reading-surface", "20")
    painter.type("reading-rh", "35")  # so dry that no night's dew reaches the coat
    # Source: psychrolib (ASHRAE Handbook, Fundamentals, 2017, chapter 1).
    dew_point_c = psychrolib.GetTDewPointFromRelHum(19.5, 0.35)
    expect(painter.see("dew-point")).to_have_text(f"{dew_point_c:.1f} °C".replace(".", ","))
    painter.tap("reading-save")
    assert painter.taps == 3

    painter.taps = 0
    painter.tap("nav-log")
    painter.tap("log-mix")
    painter.type("mix-base", "200")
    expect(painter.see("mix-weigh")).to_contain_text(re.compile(r"\d g"))
    painter.tap("mix-save")
    assert painter.taps == 3
    expect(painter.see("screen-now")).to_be_visible()
    expect(painter.sync_words).to_contain_text(say("es", "sync.waiting", n=5))


def find_work(hand: Device) -> None:
    """Soft timber, with a photo, for both sides; and a note."""
    hand.taps = 0
    hand.tap("nav-log")
    hand.tap("log-found")
    hand.type("found-title", "Soft timber behind the fitting")
    hand.see("found-photo").set_input_files(
        {"name": "photo.png", "mimeType": "image/png", "buffer": png(64, 48, 200)}
    )
    expect(hand.page.get_by_alt_text(say("en", "photo.ready"))).to_be_visible()
    hand.tap("found-save")
    assert hand.taps == 3
    expect(hand.sync_words).to_contain_text("2 waiting for signal, 1 photo to send")
    hand.tap(hand.see("job").get_by_role("link", name="Soft timber behind the fitting"))
    hand.tap("mirror-job")
    hand.tap("mirror-yes")
    expect(hand.page.get_by_text("Starboard hull").first).to_be_visible()
    hand.tap("nav-log")
    hand.tap("log-note")
    hand.type("note-text", "Water runs out when it is pressed")
    hand.tap("note-save")
    expect(hand.sync_words).to_contain_text("4 waiting for signal, 1 photo to send")


def shown_at(phone: Device, stage: str) -> datetime:
    """The instant in large figures on the card that counts to a stage, on the yard's clock, at most a day ahead."""
    heading = phone.page.get_by_role("heading", name=stage)
    card = phone.see("clock").filter(has=heading)
    text = card.get_by_test_id("clock-at").inner_text()
    found = re.search(r"(\d\d):(\d\d)", text)
    assert found is not None, text
    here = phone_time(phone)
    at = here.replace(hour=int(found[1]), minute=int(found[2]), second=0, microsecond=0)
    return at if at > here else at + timedelta(days=1)


def phone_time(phone: Device) -> datetime:
    return datetime.fromtimestamp(phone.page.evaluate("Date.now()") / 1000, ZoneInfo(YARD_ZONE))


def let_it_be(phone: Device, at: datetime) -> None:
    """Move the phone's clock forward, and wait until its screen has followed."""
    ahead = at - phone_time(phone)
    assert ahead > timedelta(0)
    phone.page.clock.fast_forward(int(ahead.total_seconds() * 1000))
    expect(phone.page.locator(".today")).to_contain_text(f"{at:%H:%M}")


def ring_once(painter: Device) -> datetime:
    """The recoat window opens: rung once, put off, rung again, seen; and once more before it closes.

    Gives the minute in which it opens.
    """
    opens_at = shown_at(painter, say("es", "stage.recoat_opens"))
    alarm = painter.see("alarm")
    let_it_be(painter, opens_at - timedelta(seconds=30))
    expect(alarm).to_have_count(0)
    painter.rang(0)
    before = painter.asked
    let_it_be(painter, opens_at + timedelta(seconds=61))
    expect(alarm).to_have_attribute("data-kind", "recoat_open")
    painter.rang(1)
    assert painter.asked == {"sounds": before["sounds"] + 1, "shakes": before["shakes"] + 1}
    box = alarm.bounding_box()
    assert box is not None
    assert box["width"] == 360

    painter.reload()
    expect(alarm).to_be_visible()
    painter.rang(0)
    assert painter.asked["shakes"] == 0

    painter.tap("alarm-later")
    expect(alarm).to_have_count(0)
    let_it_be(painter, phone_time(painter) + timedelta(minutes=11))
    expect(alarm).to_have_attribute("data-kind", "recoat_open")
    painter.rang(1)
    painter.tap("alarm-seen")
    expect(alarm).to_have_count(0)
    painter.reload()
    expect(painter.see("clocks")).to_be_visible()
    expect(alarm).to_have_count(0)

    # An hour and the way to the boat ahead is what a person gets who asks for nothing else, and a reading is asked for
    # six hours after the last: docs/alarms.md.
    warned_at = shown_at(painter, say("es", "stage.recoat_closes")) - timedelta(minutes=70)
    let_it_be(painter, warned_at - timedelta(seconds=30))
    expect(alarm).to_have_attribute("data-kind", "reading_stale")
    painter.tap("alarm-seen")
    expect(alarm).to_have_count(0)
    let_it_be(painter, warned_at + timedelta(seconds=61))
    expect(alarm).to_have_attribute("data-kind", "recoat_closing")
    painter.rang(2)
    painter.tap("alarm-seen")
    expect(alarm).to_have_count(0)
    return opens_at


def meet_again(yard: Yard) -> None:
    """The signal is back: everybody has everything, without a reload."""
    for device in (yard.painter, yard.hand):
        device.signal(True)
    for device, language in (
        (yard.painter, "es"),
        (yard.hand, "en"),
        (yard.owner, "en"),
        (yard.partner, "en"),
    ):
        expect(device.sync_words).to_have_text(re.compile(f": {say(language, 'sync.all_sent')}$"))
    yard.owner.tap("nav-now")
    for laptop in (yard.owner, yard.partner):
        latest = laptop.see("latest")
        for kind in ("application", "mix", "reading", "note", "photo"):
            expect(latest.locator(f'[data-kind="{kind}"]')).to_have_count(1)
        expect(latest).to_contain_text("Water runs out when it is pressed")
        expect(latest.get_by_test_id("photo").locator("img")).to_be_visible()
        width_px = "image => image.decode().then(() => image.naturalWidth)"
        assert latest.get_by_test_id("photo").locator("img").evaluate(width_px) == 64
        found = laptop.see("stands").get_by_role("link", name="Soft timber behind the fitting")
        expect(found).to_have_count(2)
    coats = [
        one.see("latest").locator('[data-kind="application"]') for one in (yard.owner, yard.partner)
    ]
    assert coats[0].inner_text() == coats[1].inner_text()  # the yard's clock, also in Auckland


def count_all(yard: Yard, http: HttpWire, opens_at: datetime) -> None:
    """The server has what was entered, neither less nor more, and rings nothing that was seen."""
    owner = api_of(yard.owner, http)
    owner.sync()
    records = Counter(record.kind for record in owner.state.records.values())
    # A coat's end corrects its start; three alarms were seen, one of them after it was put off.
    assert records == {
        "application": 2, "mark": 1, "reading": 1, "mix": 1, "photo": 1, "note": 1, "seen": 3,
        "snoozed": 1,
    }  # fmt: skip
    jobs = [item for item in owner.state.items.values() if item.kind == "job"]
    assert sorted(str(job.fields["title"]) for job in jobs) == [
        "Barrier coats", "Soft timber behind the fitting", "Soft timber behind the fitting",
    ]  # fmt: skip
    answer = api_of(yard.painter, http).call("GET", "/alarms")
    alarms = {alarm["kind"]: alarm for alarm in answer.json["alarms"]}
    for kind in ("recoat_open", "recoat_closing"):
        assert (alarms[kind]["state"], alarms[kind]["told_at"]) == ("seen", None)
    due_at = datetime.fromisoformat(alarms["recoat_open"]["due_at"])
    assert opens_at <= due_at < opens_at + timedelta(minutes=1)


def test_a_day_without_a_signal_loses_nothing(phone: Open, laptop: Open, http: HttpWire) -> None:
    yard = gather(phone, laptop)
    hand_out(yard)
    lose_the_signal(yard.painter, "es")
    lose_the_signal(yard.hand, "en")
    coat_and_mix(yard.painter)
    find_work(yard.hand)
    opens_at = ring_once(yard.painter)
    meet_again(yard)
    count_all(yard, http, opens_at)
