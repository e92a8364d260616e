"""Every screen in every language: for readers, for gloves, and on the narrowest phone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board, written
from tests.browser.device import Device
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.support.phone import Phone

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

Open = Callable[..., Device]

LONG = "Soft and wet timber behind the fitting, looked at with the hammer"


@pytest.fixture
def full_board(board: Board) -> Board:
    """A board with one of everything on it that a screen can show."""
    owner = board.owner
    ana = owner.crew("hand", "Ana")
    ana.sync()
    now = datetime.now(UTC)
    owner.sync()
    coat_id = board.coat(0, hours_ago=3.0)
    twin = {**_body(owner, coat_id), "end_at": written(now - timedelta(hours=2.9))}
    ana.record("application", twin)  # one coat or two?
    profile = _body(owner, coat_id)["profile"]
    owner.record(
        "mix",
        {
            "product_id": board.product_id,
            "profile": profile,
            "stirred_at": written(now),
            "base_g": 200,
            "hardener_g": 50,
        },
    )
    owner.record(
        "reading", {"air_c": 14.5, "surface_c": 13, "rh_pct": 71, "taken_at": written(now)}
    )
    owner.record("note", {"text": LONG, "job_id": board.job_id})
    owner.record(
        "hours",
        {
            "member_id": owner.member_id,
            "worked_on": f"{now:%Y-%m-%d}",
            "minutes": 330,
            "job_id": board.job_id,
            "step_id": board.step_ids[0],
        },
    )
    owner.create(
        "job",
        {"title": LONG, "zone_id": board.starboard_id, "found_while": board.job_id, "rank": 2},
    )
    held = owner.create("step", {"job_id": board.job_id, "kind": "fit", "title": "", "rank": 9})
    owner.sync()
    owner.set("step", held, {"held": "parts", "held_text": "the bolts come on Friday"})
    owner.set("job", board.job_id, {"title": "Barrier coats to port"})
    ana.set(
        "job",
        board.job_id,
        {"title": "Barrier coats, all of them"},
        seen={"title": _born(owner, board.job_id)},
    )
    ana.sync()
    owner.sync()
    assert owner.open_differences() != []
    return board


def _body(owner: Phone, record_id: str) -> dict[str, object]:
    (operation,) = [one for one in owner.outbox if one["actions"][0]["id"] == record_id]
    return dict(operation["actions"][0]["body"])


def _born(owner: Phone, item_id: str) -> str:
    return owner.item(item_id).at


def owner_with_a_refused_note(device: Device, board: Board, language: str) -> None:
    """Come aboard as a hand whose note is refused, and who is made an owner afterwards: every screen has something."""
    link, member_id = board.invited("Maximiliana", language=language)
    device.join(link, "")
    expect(device.see("nav-log")).to_be_visible()
    device.ready_for_no_signal()
    device.signal(False)
    device.tap("nav-log")
    device.tap("log-note")
    device.type("note-text", LONG)
    device.tap("note-save")
    board.owner.sync()
    board.owner.set("member", member_id, {"role": "viewer"})
    board.owner.sync()
    device.signal(True)
    device.tap("sync-state")
    expect(device.see("refused-one")).to_be_visible()
    board.owner.sync()
    board.owner.set("member", member_id, {"role": "owner"})
    board.owner.sync()
    device.tap("nav-crew")
    expect(device.see("invite")).to_be_visible()


def record_of(board: Board, kind: str) -> str:
    return next(one.id for one in board.owner.state.records.values() if one.kind == kind)


def places(board: Board) -> list[str]:
    return [
        "work",
        "now",
        "new",
        "zone/new",
        f"zone/{board.port_id}",
        f"job/{board.job_id}",
        "job/none",
        "log",
        "log/coat",
        "log/mix",
        "log/reading",
        "log/found",
        "log/photo",
        "log/note",
        "log/hours",
        f"log/coat/{board.step_ids[1]}",
        *(
            f"log/correct/{kind}/{record_of(board, kind)}"
            for kind in ("application", "mix", "reading", "note", "hours")
        ),
        "crew",
        "settle",
        "welcome",
        "create",
        "join",
        "recover",
    ]


def look(device: Device, place: str, eye: bool = True) -> list[str]:
    """Give what is wrong with the screen that stands there now."""
    expect(device.page.locator("h1")).to_be_visible()
    open_all(device)
    found = wrong_by_the_rules(device) + (wrong_to_the_eye(device) if eye else [])
    return [f"{place}: {one}" for one in found]


def go(device: Device, place: str) -> None:
    """Go to a place and wait until its heading has taken the focus."""
    device.page.evaluate(
        "place => { document.activeElement.blur(); location.hash = `#/${place}`; }", place
    )
    expect(device.page.locator("h1:focus")).to_be_visible()


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_screen_is_for_everybody_and_fits_a_narrow_phone(
    full_board: Board, phone: Open, language: str
) -> None:
    device = phone()
    owner_with_a_refused_note(device, full_board, language)
    device.reload()  # no tap yet: the phone cannot ring and says so
    device.open("/#/now")
    expect(device.see("not-ready")).to_be_visible()
    found = look(device, "a phone that cannot ring yet")
    for place in places(full_board):
        go(device, place)
        found += look(device, place)
    go(device, "crew")
    device.tap("invite")
    found += look(device, "the form of an invite")
    device.type("invite-name", "Maximiliana", device.see("invite-form"))
    device.tap("invite-make")
    expect(device.see("ticket")).to_be_visible()
    found += look(device, "an invite")
    go(device, "log/note")
    device.tap("note-save")
    found += look(device, "a note that is missing its words")
    assert not found, "\n".join(["", *found])


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_doors_are_for_everybody_and_fit_a_narrow_phone(phone: Open, language: str) -> None:
    device = phone(language=language)
    found: list[str] = []
    for place in ("welcome", "join", "recover", "join/a-token", "create"):
        device.open(f"/#/{place}")
        found += look(device, place)
    device.tap("create")
    found += look(device, "a refit that is missing its name")
    device.type("refit-name", "A refit with a long and winding name")
    device.type("owner-name", "Maximiliana")
    device.tap("create")
    expect(device.see("recovery-code")).to_be_visible()
    found += look(device, "the recovery code")
    device.tap("written-down")
    expect(device.see("nothing")).to_be_visible()
    found += look(device, "an empty board")
    assert not found, "\n".join(["", *found])


@pytest.mark.parametrize("kind", ["recoat_open", "recoat_missed", "pot_life_over"])
def test_an_alarm_is_for_everybody_and_fits_a_narrow_phone(
    board: Board, phone: Open, kind: str
) -> None:
    device = phone()
    link, member_id = board.invited("Paz", language="es")
    board.assign(member_id)
    device.join(link, "")
    expect(device.see("nav-log")).to_be_visible()
    if kind == "pot_life_over":
        device.tap("nav-log")
        device.tap("log-mix")
        device.type("mix-base", "200")
        device.tap("mix-more")
        device.tap("mix-stirred-minus-60")
        device.tap("mix-save")
    else:
        board.coat(0, hours_ago=6 if kind == "recoat_open" else 24)
        board.owner.sync()
    expect(device.see("alarm", kind=kind)).to_be_visible()
    found = look(device, kind)
    assert not found, "\n".join(["", *found])


def test_the_screens_keep_their_contrast_on_a_laptop_in_the_dark(
    full_board: Board, laptop: Open
) -> None:
    device = laptop(color_scheme="dark")
    device.join(full_board.owners_link(), "")
    expect(device.see("nav-log")).to_be_visible()
    found: list[str] = []
    for place in places(full_board):
        go(device, place)
        found += look(device, place, eye=False)
    assert not found, "\n".join(["", *found])
