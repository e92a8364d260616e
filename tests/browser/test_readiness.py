"""May I coat now? asked on the step itself and where the coat is logged, with no signal needed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board, written
from tests.browser.device import Device
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.browser.test_sums import go

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

Open = Callable[..., Device]


def read_the_air(board: Board, surface_c: float = 18.0) -> None:
    """Log a reading of now: dry, mild air unless the surface is said to be cold."""
    now = written(datetime.now(UTC))
    board.owner.record(
        "reading", {"air_c": 18.0, "surface_c": surface_c, "rh_pct": 55, "taken_at": now}
    )
    board.owner.sync()


def second_step(device: Device, board: Board) -> None:
    go(device, f"job/{board.job_id}")
    device.see("step", step=board.step_ids[1]).scroll_into_view_if_needed()


def test_without_a_reading_the_answer_is_not_yet_and_leads_to_the_meter(
    board: Board, phone: Open
) -> None:
    device = phone()
    device.join(board.invited("Ana")[0], "")
    second_step(device, board)
    asked = device.see("step", step=board.step_ids[0]).locator("[data-testid=readiness]")
    expect(asked).to_have_attribute("data-answer", "not_yet")
    device.tap(asked.locator("[data-testid=readiness-reading]"))
    expect(device.see("reading-air")).to_be_visible()


def test_a_surface_near_the_dew_point_is_refused_with_its_source_and_no_signal(
    board: Board, phone: Open
) -> None:
    """Source: ISO 8502-4, at least 3 degC above the dew point (from memory); 18 degC at 55 % has 8.8 degC."""
    read_the_air(board, surface_c=10.0)
    device = phone()
    device.join(board.invited("Ana")[0], "")
    device.ready_for_no_signal()
    go(device, f"log/coat/{board.step_ids[0]}")
    expect(device.see("readiness")).to_have_attribute("data-answer", "not_yet")
    device.signal(False)
    go(device, f"job/{board.job_id}")
    asked = device.see("step", step=board.step_ids[0]).locator("[data-testid=readiness]")
    expect(asked).to_have_attribute("data-answer", "not_yet")
    expect(asked).to_contain_text("1.2 °C above the dew point")
    device.tap(asked.locator("[data-testid=readiness-rules]"))
    rule = asked.locator("[data-rule=dew_now]")
    expect(rule).to_contain_text("data sheet")


def test_a_missed_window_asks_for_sanding_and_one_tap_puts_it_in(board: Board, phone: Open) -> None:
    read_the_air(board)
    board.owner.set("zone", board.port_id, {"area_m2": 10})
    board.coat(0, hours_ago=200)
    now = written(datetime.now(UTC))
    board.owner.record("mark", {"step_id": board.step_ids[0], "mark": "finished", "marked_at": now})
    board.owner.sync()
    device = phone()
    device.join(board.invited("Ana")[0], "")
    second_step(device, board)
    asked = device.see("step", step=board.step_ids[1]).locator("[data-testid=readiness]")
    expect(asked).to_have_attribute("data-answer", "no")
    expect(asked.locator("[data-testid=readiness-first]")).to_contain_text("Sand")
    device.tap(asked.locator("[data-testid=readiness-put]"))
    expect(device.see("said")).to_contain_text("stand before it")
    expect(asked.locator("[data-testid=readiness-put]")).to_have_count(0)
    expect(device.see("sync-state")).to_contain_text("All sent")
    board.owner.sync()
    steps = [one for one in board.owner.state.items.values() if one.kind == "step"]
    order = [one.fields["kind"] for one in sorted(steps, key=lambda one: one.fields["rank"])]
    assert order[0] == "coat"
    assert order[-1] == "coat"
    assert "sand" in order[1:-1]
    sand = next(one for one in steps if one.fields["kind"] == "sand")
    assert sand.fields["labour_h"] == pytest.approx(2.0)  # 12 min/m2 of the profile on 10 m2
    after = {
        (one.fields["after_id"], one.fields["step_id"])
        for one in board.owner.state.items.values()
        if one.kind == "link" and not one.fields.get("gone")
    }
    assert (board.step_ids[0], board.step_ids[1]) not in after


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_answer_fits_a_narrow_phone(board: Board, phone: Open, language: str) -> None:
    read_the_air(board)
    board.coat(0, hours_ago=200)
    board.owner.sync()
    device = phone()
    device.join(board.invited("Maximiliana", language=language)[0], "")
    found = []
    for place in (f"job/{board.job_id}", f"log/coat/{board.step_ids[1]}"):
        go(device, place)
        expect(device.see("readiness").first).to_be_visible()
        open_all(device)
        found += wrong_to_the_eye(device) + wrong_by_the_rules(device)
    assert found == []
