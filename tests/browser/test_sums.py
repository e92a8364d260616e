"""Sums on the phone: from a step, without a signal, kept in its job's record, and whole in both languages."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board, written
from tests.browser.device import Device
from tests.browser.house import ROOT
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

Open = Callable[..., Device]
REGISTRY = json.loads((ROOT / "fixtures" / "trade" / "sums.json").read_text("utf-8"))
NAMES = [one["name"] for one in REGISTRY["sums"]]


def go(device: Device, place: str) -> None:
    """Go to a place and wait until its heading has taken the focus."""
    device.page.evaluate(
        "place => { document.activeElement.blur(); location.hash = `#/${place}`; }", place
    )
    expect(device.page.locator("h1:focus")).to_be_visible()


def test_a_hand_works_out_the_paint_of_a_step_without_a_signal_and_keeps_it(
    board: Board, phone: Open
) -> None:
    """Source: 38.5 m2 at 100 um dry and 100 % solids are 3.85 l, by the meaning of the units."""
    board.owner.sync()
    board.owner.set("zone", board.port_id, {"area_m2": 38.5})
    board.owner.sync()
    device = phone()
    device.join(board.invited("Ana")[0], "")
    device.ready_for_no_signal()
    go(device, "work")
    expect(device.see("screen-work")).to_contain_text("Barrier coats")
    device.signal(False)
    go(device, f"job/{board.job_id}")
    device.tap(device.see("step-more").first)
    device.tap("step-sums")
    device.tap("sum-paint_needed")
    expect(device.see("sum-area_m2")).to_have_value("38.5")
    expect(device.see("sum-solids_by_volume_pct")).to_have_value("100")
    expect(device.see("sum-result")).to_have_count(0)
    device.type("sum-dry_film_um", "100")
    device.type("sum-loss_pct", "0")
    expect(device.see("sum-large")).to_contain_text("3.85 l")
    device.type("sum-text", "bottom, first coat")
    device.tap("sum-keep")
    go(device, f"job/{board.job_id}")
    record = device.see("record", kind="sum")
    expect(record).to_contain_text("3.85 l")
    expect(record).to_contain_text("bottom, first coat")
    device.signal(True)
    device.tap("sync-state")
    device.tap("sync-now")
    expect(device.see("sending")).to_contain_text("All sent")
    (kept,) = board.records("sum")
    assert (kept["name"], kept["step_id"]) == ("paint_needed", board.step_ids[0])
    assert kept["takes"]["area_m2"] == 38.5
    assert kept["gives"]["order_l"] == pytest.approx(3.85)


def test_a_pot_starts_with_the_bands_of_its_tin_and_the_air_that_was_measured(
    board: Board, phone: Open
) -> None:
    """Source: NAVFAC MO-124, 1 to 1.5 h in the tin between 60 and 70 degF; the longer one, our own caution."""
    bands = [{"from_c": 15.6, "to_c": 21.1, "minutes": 90}]
    board.owner.sync()
    profile = board.owner.item(board.product_id).fields["profile"]
    mixed = {**profile["mix"], "induction_by_temp": bands}
    board.owner.set("product", board.product_id, {"profile": {**profile, "mix": mixed}})
    now = written(datetime.now(UTC))
    air = {"air_c": 18.0, "surface_c": 12.0, "rh_pct": 55, "taken_at": now}
    board.owner.record("reading", air)
    board.owner.sync()
    device = phone()
    device.join(board.invited("Ana")[0], "")
    go(device, "work")
    expect(device.see("screen-work")).to_contain_text("Barrier coats")
    go(device, f"sums/mix_by_mass/{board.step_ids[0]}")
    expect(device.see("sum-temp_c")).to_have_value("18")
    device.type("sum-base_kg", "1")
    fact = device.page.locator("[data-testid=sum-fact][data-field=use_after_minutes]")
    expect(fact).to_contain_text("90")
    open_all(device)
    expect(device.see("sum-induction_by_temp-row")).to_have_count(1)


@pytest.mark.parametrize("language", ["en", "es"])
def test_whether_a_coat_may_go_on_starts_from_the_board_and_is_told_in_words(
    board: Board, phone: Open, language: str
) -> None:
    board.owner.set("zone", board.port_id, {"ground": "bare_aluminium"})
    board.coat(0, hours_ago=200)
    board.owner.sync()
    device = phone()
    device.join(board.invited("Maximiliana", language=language)[0], "")
    go(device, "work")
    expect(device.see("screen-work")).to_contain_text("Barrier coats")
    go(device, f"sums/may_coat_now/{board.step_ids[1]}")
    expect(device.see("sum-below.material")).to_have_value("epoxy_resin")
    texts = json.loads((ROOT / "client" / "src" / "handbook" / f"{language}.json").read_text())
    rules = device.page.locator("[data-testid=sum-fact][data-field=rules]")
    expect(rules).to_contain_text(texts["reason.blush"])
    expect(rules).not_to_contain_text("_")
    open_all(device)
    assert wrong_to_the_eye(device) + wrong_by_the_rules(device) == []


def test_what_is_wrong_stands_at_its_field_and_nothing_is_kept(board: Board, phone: Open) -> None:
    device = phone()
    device.join(board.owners_link(), "")
    go(device, "sums/dew_point")
    device.tap("sum-keep")
    for name in ("sum-air_c", "sum-rh_pct"):
        expect(device.see(name)).to_have_attribute("aria-invalid", "true")
    device.type("sum-air_c", "20")
    device.type("sum-rh_pct", "140")
    expect(device.see("sum-air_c")).not_to_have_attribute("aria-invalid", "true")
    expect(device.see("sum-rh_pct")).to_have_attribute("aria-invalid", "true")
    device.tap("sum-keep")
    assert board.records("sum") == []


def test_a_schedule_of_plies_is_laid_row_by_row(board: Board, phone: Open) -> None:
    device = phone()
    device.join(board.owners_link(), "")
    go(device, "sums/laminate_schedule")
    device.type("sum-area_m2", "2")
    device.pick("sum-plies[0].kind", "Chopped mat")
    device.type("sum-plies[0].fibre_kg_m2", "300")
    expect(device.see("sum-result")).to_be_visible()
    one = device.see("sum-large").inner_text()
    device.tap("sum-plies-more")
    expect(device.see("sum-plies-row")).to_have_count(2)
    device.pick("sum-plies[1].kind", "Woven roving")
    device.type("sum-plies[1].fibre_kg_m2", "600")
    expect(device.see("sum-large")).not_to_have_text(one)
    device.tap(device.see("sum-plies-less").nth(1))
    expect(device.see("sum-large")).to_have_text(one, use_inner_text=True)


def test_who_looks_on_may_work_out_but_keeps_nothing(board: Board, phone: Open) -> None:
    device = phone()
    device.join(board.invited("Vera", role="viewer")[0], "")
    go(device, "sums/dew_point")
    device.type("sum-air_c", "20")
    device.type("sum-rh_pct", "50")
    expect(device.see("sum-large")).to_contain_text("9.")
    expect(device.see("sum-keep")).to_have_count(0)


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_sum_is_for_everybody_and_fits_a_narrow_phone(
    board: Board, phone: Open, language: str
) -> None:
    device = phone()
    device.join(board.invited("Maximiliana", language=language)[0], "")
    found = []
    for name in ["", *NAMES]:
        go(device, f"sums/{name}/{board.step_ids[0]}" if name else "sums")
        open_all(device)
        looked = wrong_to_the_eye(device)
        if name in ("", "laminate_schedule", "cautions", "post_cure"):
            looked += wrong_by_the_rules(device)
        found += [f"{name}: {one}" for one in looked]
    assert found == []
