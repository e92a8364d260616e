"""A sum that was kept is corrected as other records are: what it was before stays in sight."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.device import Device
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.browser.test_sums import go

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

Open = Callable[..., Device]


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_kept_sum_is_corrected_and_what_it_was_stays(
    board: Board, phone: Open, language: str
) -> None:
    """Source: 10 m2 at 100 um and 100 % solids are 1 l, at 200 um 2 l, by the meaning of the units."""
    device = phone()
    device.join(board.invited("Maximiliana", language=language)[0], "")
    go(device, "work")
    expect(device.see("screen-work")).to_contain_text("Barrier coats")
    go(device, f"sums/paint_needed/{board.step_ids[0]}")
    for field, value in (("area_m2", "10"), ("dry_film_um", "100"), ("loss_pct", "0")):
        open_all(device)
        device.type(f"sum-{field}", value)
    device.type("sum-text", "first try")
    expect(device.see("sum-large")).to_contain_text("1 l")
    device.tap("sum-keep")
    expect(device.see("sum-text")).to_have_value("")
    go(device, f"job/{board.job_id}")
    record = device.see("record", kind="sum")
    device.tap(record.locator("[data-testid=correct]"))
    expect(device.see("sum-dry_film_um")).to_have_value("100")
    expect(device.see("sum-text")).to_have_value("first try")
    found = wrong_to_the_eye(device) + wrong_by_the_rules(device)
    device.type("sum-dry_film_um", "200")
    device.tap("sum-keep")
    expect(record.locator("[data-testid=kept-sum]").first).to_contain_text("2 l")
    open_all(device)
    expect(record.locator("[data-testid=kept-sum]").nth(1)).to_contain_text("1 l")
    found += wrong_to_the_eye(device) + wrong_by_the_rules(device)
    assert found == []
    device.tap("sync-state")
    device.tap("sync-now")
    kept = board.records("sum")
    assert [one["takes"]["dry_film_um"] for one in kept if one["gives"]["order_l"] > 1.5] == [200]
    assert {one["step_id"] for one in kept} == {board.step_ids[0]}
