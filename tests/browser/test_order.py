"""The order of a job's steps: told while a step is written, refused where the table says no, mended by one tap."""

from __future__ import annotations

import json
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
