"""A tin's data sheet on the phone: typed in, checked at once, kept in versions, given out and taken in."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.board import Board
from tests.browser.device import Device
from tests.browser.house import ROOT
from tests.browser.looks import open_all, wrong_by_the_rules, wrong_to_the_eye
from tests.browser.test_sums import go

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]

Open = Callable[..., Device]


def example() -> str:
    """Give the example of docs/profiles.md."""
    page = (ROOT / "docs" / "profiles.md").read_text("utf-8")
    found = re.search(r"```json\n(.*?)```", page, re.DOTALL)
    assert found
    return found.group(1)


def test_a_hand_types_in_the_numbers_of_a_tin_and_the_old_coat_keeps_its_own(
    board: Board, phone: Open
) -> None:
    board.owner.sync()
    board.coat(0, hours_ago=1)
    board.owner.sync()
    device = phone()
    device.join(board.invited("Ana")[0], "")
    go(device, f"product/{board.product_id}")
    expect(device.see("product-standing")).to_contain_text("typical")
    device.tap("stage-recoat_closes")
    device.type("sum-recoat_closes[0].hours", "1")
    device.tap("product-save")
    expect(device.see("product-note")).to_have_attribute("aria-invalid", "true")
    device.type("product-note", "Sheet of March")
    field = device.see("sum-recoat_closes[1].hours")
    expect(field).to_have_attribute("aria-invalid", "true")
    device.type("sum-recoat_closes[0].hours", "30")
    expect(field).not_to_have_attribute("aria-invalid", "true")
    device.tap("product-save")
    expect(device.see("product-standing")).to_contain_text("Version 2")
    expect(device.see("product-standing")).not_to_contain_text("typical")
    expect(device.see("sync-state")).to_contain_text("All sent")
    board.owner.sync()
    profile = board.owner.item(board.product_id).fields["profile"]
    assert profile["stages"]["recoat_closes"][0] == {"temp_c": 10, "minutes": 1800}
    assert (profile["version"], profile["typical"]) == (2, False)
    (coat,) = board.records("application")
    assert coat["profile"]["version"] == 1
    assert coat["profile"]["stages"]["recoat_closes"][0]["minutes"] == 1440


def test_the_time_in_the_tin_is_typed_in_bands_and_checked_at_once(
    board: Board, phone: Open
) -> None:
    """Source: NAVFAC MO-124, 2 h at 50 to 60 degF and 1 to 1.5 h at 60 to 70 degF."""
    device = phone()
    device.join(board.invited("Ana")[0], "")
    go(device, f"product/{board.product_id}")
    device.tap("group-by_mass_base")
    for n, (from_c, to_c, minutes) in enumerate((("10", "15.6", "120"), ("12", "", "90"))):
        device.tap("sum-induction_by_temp-more")
        for name, value in (("from_c", from_c), ("to_c", to_c), ("minutes", minutes)):
            device.type(f"sum-induction_by_temp[{n}].{name}", value)
    device.type("product-note", "Sheet of March")
    device.tap("product-save")
    second = device.see("sum-induction_by_temp[1].from_c")
    expect(second).to_have_attribute("aria-invalid", "true")
    device.type("sum-induction_by_temp[1].from_c", "15.6")
    expect(second).not_to_have_attribute("aria-invalid", "true")
    device.tap("product-save")
    expect(device.see("product-standing")).to_contain_text("Version 2")
    expect(device.see("sync-state")).to_contain_text("All sent")
    board.owner.sync()
    assert board.owner.item(board.product_id).fields["profile"]["mix"]["induction_by_temp"] == [
        {"from_c": 10, "to_c": 15.6, "minutes": 120},
        {"from_c": 15.6, "to_c": None, "minutes": 90},
    ]
    device.tap(device.see("sum-induction_by_temp-less").last)
    device.tap("product-save")
    expect(device.see("product-standing")).to_contain_text("Version 3")
    expect(device.see("sum-induction_by_temp-row")).to_have_count(1)


def test_what_somebody_else_saved_meanwhile_is_said_first(board: Board, phone: Open) -> None:
    device = phone()
    device.join(board.owners_link(), "")
    go(device, f"product/{board.product_id}")
    device.tap("group-density_kg_l")
    device.type("sum-film_um", "150")
    board.owner.sync()
    theirs = {**board.owner.item(board.product_id).fields["profile"], "film_um": 90, "version": 2}
    board.owner.set("product", board.product_id, {"profile": theirs})
    board.owner.sync()
    device.type("product-note", "Sheet of March")
    device.page.wait_for_timeout(1500)
    device.tap("product-save")
    expect(device.see("clash")).to_be_visible()
    device.tap("product-save")
    expect(device.see("product-standing")).to_contain_text("Version 3")
    expect(device.see("sync-state")).to_contain_text("All sent")
    board.owner.sync()
    assert board.owner.item(board.product_id).fields["profile"]["film_um"] == 150


def test_a_product_goes_out_as_a_file_and_one_comes_in(
    board: Board, phone: Open, tmp_path: Path
) -> None:
    device = phone()
    device.join(board.owners_link(), "")
    go(device, f"product/{board.product_id}")
    with device.page.expect_download() as given:
        device.tap("product-out")
    text = Path(given.value.path()).read_text("utf-8")
    assert json.loads(text) == board.owner.item(board.product_id).fields["profile"]
    assert given.value.suggested_filename == "laminating_epoxy_fast.json"
    go(device, "product")
    device.see("product-in").set_input_files(
        {"name": "bad.json", "mimeType": "application/json", "buffer": b'{"id": "a"}'}
    )
    expect(device.see("product-in-wrong")).to_contain_text("version")
    device.see("product-in").set_input_files(
        {"name": "mine.json", "mimeType": "application/json", "buffer": example().encode()}
    )
    expect(device.see("product-name")).to_have_value("My primer")
    device.tap("product-save")
    expect(device.see("products")).to_contain_text("My primer")
    expect(device.see("sync-state")).to_contain_text("All sent")
    board.owner.sync()
    made = [
        item.fields["profile"]
        for item in board.owner.state.items.values()
        if item.kind == "product" and item.fields["name"] == "My primer"
    ]
    assert [one["stages"] for one in made] == [json.loads(example())["stages"]]


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_screens_of_products_are_for_everybody_and_fit_a_narrow_phone(
    board: Board, phone: Open, language: str
) -> None:
    found = []
    for role in ("hand", "viewer"):
        device = phone()
        device.join(board.invited("Maximiliana", role=role, language=language)[0], "")
        for place in ("product", f"product/{board.product_id}", "product/new/polyester_waxed"):
            go(device, place)
            open_all(device)
            looked = wrong_to_the_eye(device) + wrong_by_the_rules(device)
            found += [f"{role} {place}: {one}" for one in looked]
    assert found == []
