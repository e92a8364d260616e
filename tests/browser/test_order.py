"""The order of a job's steps: told while a step is written, refused where the table says no, mended by one tap."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.device import Device
from tests.browser.house import ROOT
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.browser.test_sums import go

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

Open = Callable[..., Device]


def product_of(board: Board, product_class: str) -> str:
    """Give a product of the refit by its class."""
    return next(
        item.id
        for item in board.owner.state.items.values()
        if item.kind == "product" and item.fields["profile"]["product_class"] == product_class
    )


def steps_of(board: Board) -> list[Any]:
    """Give the steps of the job as the server has them, in their order."""
    board.owner.sync()
    found = [one for one in board.owner.state.items.values() if one.kind == "step"]
    return sorted(found, key=lambda one: one.fields["rank"])


def write_step(device: Device, board: Board, product_class: str) -> None:
    """Open the form of a new coat of a product, behind the last step."""
    go(device, f"job/{board.job_id}")
    device.tap("add-step")
    device.see("step-kind").select_option("coat")
    device.see("step-product").select_option(product_of(board, product_class))


def test_gelcoat_on_epoxy_is_refused_while_it_is_written_and_goes_on_only_with_a_question(
    board: Board, phone: Open
) -> None:
    """Common practice, no source: polyester and gelcoat do not hold on epoxy. Some say otherwise, and are named."""
    device = phone()
    device.join(board.invited("Ana")[0], "")
    write_step(device, board, "gelcoat")
    found = device.see("order-found")
    expect(found).to_have_attribute("data-verdict", "no")
    expect(found).to_contain_text("Gelcoat on epoxy resin")
    expect(found).to_contain_text("common practice, no source")
    expect(found).to_contain_text("Others say")
    device.tap("step-save")
    expect(device.see("order-refused")).to_be_visible()
    expect(device.see("step-form")).to_be_visible()
    assert len(steps_of(board)) == 2
    device.tap("order-hold")
    expect(device.see("step-form")).to_have_count(0)
    expect(device.see("step")).to_have_count(3)
    expect(device.see("sync-state")).to_contain_text("All sent")
    added = steps_of(board)[-1]
    assert added.fields["held"] == "question"
    assert "Gelcoat" in added.fields["held_text"]
    expect(device.see("step", step=added.id)).to_have_attribute("data-state", "held")
    expect(device.see("step", step=added.id).locator("[data-testid=order-found]")).to_be_visible()


def test_a_person_who_chooses_another_product_may_save(board: Board, phone: Open) -> None:
    device = phone()
    device.join(board.invited("Ana")[0], "")
    write_step(device, board, "gelcoat")
    device.tap("step-save")
    expect(device.see("order-refused")).to_be_visible()
    device.see("step-product").select_option(board.product_id)
    expect(device.see("order-found")).to_have_count(0)
    expect(device.see("order-refused")).to_have_count(0)
    device.tap("step-save")
    expect(device.see("step")).to_have_count(3)
    expect(device.see("sync-state")).to_contain_text("All sent")
    assert steps_of(board)[-1].fields.get("held") is None


def test_a_coat_past_the_window_is_mended_by_one_tap_in_the_form_and_on_the_board(
    board: Board, phone: Open
) -> None:
    """Source: MIL-HDBK-1110, 2.2.3b: a cured gloss is sanded; amines are washed off first, common practice."""
    device = phone()
    device.join(board.invited("Ana")[0], "")
    device.ready_for_no_signal()
    go(device, "work")
    device.signal(False)
    write_step(device, board, "laminating_epoxy")
    expect(device.see("order-found")).to_have_count(0)
    device.tap(device.see("step-gap").locator("input[value=any]"))
    expect(device.see("order-found")).to_have_attribute("data-verdict", "only_if")
    expect(device.see("order-form-first")).to_contain_text("Sand")
    device.tap("order-form-put")
    expect(device.see("step")).to_have_count(5)
    second = device.see("step", step=board.step_ids[1])
    device.tap(second.locator("[data-testid=step-more]"))
    device.tap(second.locator("[data-testid=step-edit]"))
    device.tap(second.locator("[data-testid=step-gap] input[value=any]"))
    device.tap(second.locator("[data-testid=step-save]"))
    here = second.locator("[data-testid=order-put]")
    device.tap(here)
    expect(second.locator("[data-testid=order-found]")).to_have_count(0)
    device.signal(True)
    device.tap("sync-state")
    device.tap("sync-now")
    expect(device.see("sending")).to_contain_text("All sent")
    kinds = [one.fields["kind"] for one in steps_of(board)]
    assert kinds == ["coat", "clean", "sand", "coat", "clean", "sand", "coat"]


def test_a_move_that_the_table_refuses_waits_for_a_word(board: Board, phone: Open) -> None:
    """Common practice, no source: paint does not hold on antifouling."""
    third = board.owner.create(
        "step",
        {
            "job_id": board.job_id,
            "kind": "coat",
            "product_id": product_of(board, "antifouling_hard"),
            "rank": 2,
        },
    )
    board.owner.create("link", {"step_id": third, "after_id": board.step_ids[1], "by_cure": True})
    board.owner.sync()
    device = phone()
    device.join(board.invited("Ana")[0], "")
    go(device, f"job/{board.job_id}")
    step = device.see("step", step=third)
    device.tap(step.locator("[data-testid=step-more]"))
    device.tap(step.locator("[data-testid=move-up]"))
    expect(device.see("order-move")).to_contain_text("Paint does not hold on antifouling")
    assert [one.id for one in steps_of(board)][-1] == third
    device.tap("order-move-hold")
    expect(device.see("order-move")).to_have_count(0)
    expect(device.see("sync-state")).to_contain_text("All sent")
    order = steps_of(board)
    assert [one.id for one in order] == [board.step_ids[0], third, board.step_ids[1]]
    assert order[-1].fields["held"] == "question"


def test_the_ground_of_a_zone_is_said_on_the_phone_and_judges_the_first_coat(
    board: Board, phone: Open
) -> None:
    """Common practice, no source: a bare face is washed and sanded before anything goes on it."""
    device = phone()
    device.join(board.invited("Ana")[0], "")
    go(device, f"job/{board.job_id}")
    first = device.see("step", step=board.step_ids[0])
    expect(first).to_be_visible()
    expect(device.see("order-found")).to_have_count(0)
    go(device, f"zone/{board.port_id}")
    device.see("zone-ground").select_option("bare_aluminium")
    device.tap("save")
    found = first.locator("[data-testid=order-found]")
    expect(found).to_contain_text("bare aluminium")
    expect(found.locator("[data-testid=order-first]")).to_contain_text("Sand")
    device.tap(found.locator("[data-testid=order-put]"))
    expect(device.see("step")).to_have_count(4)
    expect(device.see("order-found")).to_have_count(0)
    expect(device.see("sync-state")).to_contain_text("All sent")
    assert [one.fields["kind"] for one in steps_of(board)] == ["clean", "sand", "coat", "coat"]
    assert board.owner.item(board.port_id).fields["ground"] == "bare_aluminium"


def named(board: Board, profile_id: str) -> str:
    """Give the product of the refit whose profile has that id."""
    return next(
        item.id
        for item in board.owner.state.items.values()
        if item.kind == "product" and item.fields["profile"]["id"] == profile_id
    )


def past_its_window(board: Board) -> tuple[str, list[str]]:
    """Put a primer and an antifouling past its window on the board."""
    primer = named(board, "epoxy_barrier_primer")
    steps = []
    for rank, product_id in enumerate((primer, product_of(board, "antifouling_hard"))):
        fields = {
            "job_id": board.job_id,
            "kind": "coat",
            "product_id": product_id,
            "rank": rank + 9,
        }
        steps.append(board.owner.create("step", fields))
    board.owner.create("link", {"step_id": steps[1], "after_id": steps[0]})
    board.owner.sync()
    return primer, steps


def test_a_tack_coat_is_told_whole_and_put_in_with_the_product_that_a_person_chose(
    board: Board, phone: Open
) -> None:
    """Source: UFGS-09971, 3.7.1.4: 25 to 50 um wet, 25 % thinner; TB 43-0144: 4 h until the full coat."""
    primer, (_, second) = past_its_window(board)
    device = phone()
    device.join(board.invited("Ana")[0], "")
    go(device, f"job/{board.job_id}")
    step = device.see("step", step=second)
    expect(step.locator("[data-testid=order-else-tack]")).to_have_text(
        re.compile("25 to 50 µm.*25 %.*4 h")
    )
    which = step.locator("[data-testid=order-else-product]")
    device.tap(step.locator("[data-testid=order-else-put]"))
    expect(which).to_have_attribute("aria-invalid", "true")
    assert len(steps_of(board)) == 4
    which.select_option(primer)
    device.tap(step.locator("[data-testid=order-else-put]"))
    expect(step.locator("[data-testid=order-found]")).to_have_count(0)
    expect(device.see("step")).to_have_count(5)
    expect(device.see("readiness-tack")).to_contain_text("25 to 50 µm")
    expect(step).to_contain_text("at least 4 h after")
    expect(device.see("sync-state")).to_contain_text("All sent")
    tack = steps_of(board)[-2]
    assert (tack.fields["tack"], tack.fields["product_id"]) == (True, primer)


def test_where_one_product_fits_a_tack_coat_it_is_named_and_taken(
    board: Board, phone: Open
) -> None:
    primer, (_, second) = past_its_window(board)
    board.owner.set("product", named(board, "epoxy_polyamide_primer"), {"gone": True})
    board.owner.sync()
    device = phone()
    device.join(board.invited("Ana")[0], "")
    go(device, f"job/{board.job_id}")
    step = device.see("step", step=second)
    expect(step.locator("[data-testid=order-else-laid]")).to_contain_text("primer")
    device.tap(step.locator("[data-testid=order-else-put]"))
    expect(device.see("step")).to_have_count(5)
    expect(device.see("sync-state")).to_contain_text("All sent")
    assert steps_of(board)[-2].fields["product_id"] == primer


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_tack_coat_fits_a_narrow_phone(board: Board, phone: Open, language: str) -> None:
    past_its_window(board)
    board.owner.set("zone", board.port_id, {"ground": "bare_aluminium"})
    board.owner.sync()
    device = phone()
    device.join(board.invited("Maximiliana", language=language)[0], "")
    found = []
    for place in (f"zone/{board.port_id}", f"job/{board.job_id}"):
        go(device, place)
        if place.startswith("job"):
            expect(device.see("order-else-tack")).to_be_visible()
        open_all(device)
        found += wrong_to_the_eye(device) + wrong_by_the_rules(device)
    assert found == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_what_is_wrong_fits_a_narrow_phone(board: Board, phone: Open, language: str) -> None:
    device = phone()
    device.join(board.invited("Maximiliana", language=language)[0], "")
    texts = json.loads((ROOT / "client" / "src" / "handbook" / f"{language}.json").read_text())
    found = []
    for product_class in ("gelcoat", "antifouling_hard"):
        write_step(device, board, product_class)
        device.see("step-gap").locator("input[value=any]").tap()
        expect(device.see("order-found").last).to_be_visible()
        device.tap(device.see("step-form").locator("[data-testid=step-save]"))
        found += wrong_to_the_eye(device) + wrong_by_the_rules(device)
        if product_class == "gelcoat":
            expect(device.see("order-refused")).to_have_text(texts["order.refused"])
            device.tap("order-hold")
        open_all(device)
        expect(device.see("order-found")).not_to_have_count(0)
        found += wrong_to_the_eye(device) + wrong_by_the_rules(device)
        go(device, "now")
    assert found == []
