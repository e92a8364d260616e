"""Beginning a refit, inviting, coming aboard, coming back, and being sent away."""

from __future__ import annotations

import re
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import numpy
import pytest
import zxingcpp
from flask import Flask

from tackwatch.store.db import db
from tackwatch.store.models import Device
from tests.support.phone import REFIT, Phone
from tests.support.tables import dump
from tests.support.wires import ClientWire, call
from tests.support.world import BEGAN_AT, StandingClock


def test_who_begins_a_refit_is_its_owner(owner: Phone) -> None:
    owner.sync()
    refit = owner.item(owner.refit_id)
    assert refit.fields["name"] == REFIT["name"]
    assert refit.fields["launch_at"] == REFIT["launch_at"]
    assert owner.item(owner.member_id).fields == {"name": "Olga", "role": "owner", "language": "en"}
    assert owner.item(owner.device_id).fields["member_id"] == owner.member_id


def test_a_refit_begins_with_one_product_per_bundled_profile(
    wire: ClientWire, clock: StandingClock
) -> None:
    phone = Phone.found(wire, lambda: clock.ms, with_products=True, language="es-MX")
    phone.sync()
    products = [one for one in phone.state.items.values() if one.kind == "product"]
    profiles = call(wire, "GET", "/api/profiles").json["profiles"]
    assert len(products) == len(profiles) > 5
    assert {one.fields["name"] for one in products} == {one["name"]["es"] for one in profiles}
    assert {one.fields["profile"]["id"] for one in products} == {one["id"] for one in profiles}


def test_defaults_are_the_catalogues_and_given_values_are_kept(
    wire: ClientWire, clock: StandingClock
) -> None:
    phone = Phone.found(wire, lambda: clock.ms, day_starts="07:30", curve_min_c=4, curve_max_c=12)
    phone.sync()
    fields = phone.item(phone.refit_id).fields
    assert (fields["day_starts"], fields["curve_min_c"], fields["curve_max_c"]) == ("07:30", 4, 12)
    assert "day_ends" not in fields


def test_keys_tokens_and_codes_are_nowhere_in_the_database(app: Flask, owner: Phone) -> None:
    token = owner.invite()
    hand = Phone.join(owner.wire, owner.now_ms, token)
    text = str(dump(app))
    for secret in (owner.key, hand.key, token, owner.recovery_code):
        assert secret not in text
        assert secret.replace("-", "") not in text


def test_an_invite_brings_somebody_aboard_with_the_role_that_it_names(owner: Phone) -> None:
    answer = owner.call(
        "POST", "/invites", body={"role": "viewer", "name": "Vera", "language": "es"}
    )
    assert answer.status == 201
    made = answer.json
    assert made["link"] == f"https://boat.example/#/join/{made['token']}"
    assert made["qr_svg"].startswith("<svg")
    assert "style" not in made["qr_svg"]
    vera = Phone.join(owner.wire, owner.now_ms, made["token"], "Vera's phone")
    assert vera.member_id == made["member_id"]
    vera.sync()
    assert vera.item(vera.member_id).fields == {"role": "viewer", "name": "Vera", "language": "es"}
    assert vera.item(vera.device_id).fields["name"] == "Vera's phone"


def test_a_camera_reads_the_link_from_the_qr_code_zxing(owner: Phone) -> None:
    """Source: the barcode reader ZXing, which knows nothing of the library that drew the code."""
    made = owner.call("POST", "/invites", body={"role": "hand", "name": "Hank"}).json
    found = zxingcpp.read_barcodes(_drawn(made["qr_svg"]))
    assert [one.text for one in found] == [made["link"]]


def _drawn(svg: str) -> numpy.ndarray[Any, Any]:
    """Draw the code's path (strokes one unit high: M, h and m only) as a grey picture."""
    size = int(re.search(r'viewBox="0 0 (\d+) \d+"', svg)[1])  # type: ignore[index]
    picture = numpy.full((size, size), 255, numpy.uint8)
    x, y = 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmh])([-\d. ]+)", re.search(r' d="([^"]+)"', svg)[1]):  # type: ignore[index]
        values = [float(one) for one in numbers.split()]
        if letter == "h":
            picture[int(y), int(x) : int(x + values[0])] = 0
            x += values[0]
        else:
            x, y = (values[0], values[1]) if letter == "M" else (x + values[0], y + values[1])
    return picture.repeat(8, 0).repeat(8, 1)


def test_a_member_is_in_the_crew_from_the_invite_on(owner: Phone) -> None:
    owner.invite("hand", "Hank")
    owner.sync()
    names = {one.fields["name"] for one in owner.state.items.values() if one.kind == "member"}
    assert names == {"Olga", "Hank"}


def test_an_invite_for_a_member_gives_that_person_a_second_device(owner: Phone) -> None:
    answer = owner.call("POST", "/invites", body={"member_id": owner.member_id, "role": "owner"})
    laptop = Phone.join(owner.wire, owner.now_ms, answer.json["token"], "laptop")
    assert laptop.member_id == owner.member_id
    assert laptop.device_id != owner.device_id
    laptop.sync()
    assert [one.id for one in laptop.state.items.values() if one.kind == "member"] == [
        owner.member_id
    ]


def test_an_invite_may_not_change_a_members_role(app: Flask, owner: Phone) -> None:
    before = dump(app)
    answer = owner.call("POST", "/invites", body={"member_id": owner.member_id, "role": "viewer"})
    assert (answer.status, answer.json["field"]) == (422, "role")
    assert dump(app) == before


def test_an_invite_for_an_unknown_member_is_refused(app: Flask, owner: Phone) -> None:
    before = dump(app)
    answer = owner.call("POST", "/invites", body={"member_id": "nobody"})
    assert (answer.status, answer.json["field"]) == (422, "member_id")
    assert dump(app) == before


@pytest.mark.parametrize("missing", ["role", "name"])
def test_an_invite_for_somebody_new_needs_role_and_name(
    app: Flask, owner: Phone, missing: str
) -> None:
    body = {"role": "hand", "name": "Hank"}
    del body[missing]
    before = dump(app)
    answer = owner.call("POST", "/invites", body=body)
    assert (answer.status, answer.json["field"]) == (422, missing)
    assert dump(app) == before


def test_an_invite_works_once(app: Flask, owner: Phone) -> None:
    token = owner.invite()
    Phone.join(owner.wire, owner.now_ms, token)
    before = dump(app)
    answer = call(owner.wire, "POST", "/api/invites/claim", body={"token": token})
    assert answer.status == 410
    assert answer.json["type"] == "urn:tackwatch:problem:invite-claimed"
    assert dump(app) == before


def test_an_invite_lasts_seven_days_unless_told_otherwise(
    owner: Phone, clock: StandingClock
) -> None:
    week, day = owner.invite(), owner.invite(days=1)
    clock.at = BEGAN_AT + timedelta(days=1)
    late = call(owner.wire, "POST", "/api/invites/claim", body={"token": day})
    assert (late.status, late.json["type"]) == (410, "urn:tackwatch:problem:invite-expired")
    clock.at = BEGAN_AT + timedelta(days=7, milliseconds=-1)
    assert call(owner.wire, "POST", "/api/invites/claim", body={"token": week}).status == 201
    third = owner.invite()
    clock.at += timedelta(days=7)
    assert call(owner.wire, "POST", "/api/invites/claim", body={"token": third}).status == 410


def test_an_invite_that_was_taken_back_does_not_work(owner: Phone) -> None:
    made = owner.call("POST", "/invites", body={"role": "hand", "name": "Hank"}).json
    assert owner.call("DELETE", f"/invites/{made['invite_id']}").status == 204
    assert owner.call("DELETE", f"/invites/{made['invite_id']}").status == 204
    answer = call(owner.wire, "POST", "/api/invites/claim", body={"token": made["token"]})
    assert (answer.status, answer.json["type"]) == (410, "urn:tackwatch:problem:invite-revoked")


def test_an_invite_that_was_used_cannot_be_taken_back(owner: Phone) -> None:
    made = owner.call("POST", "/invites", body={"role": "hand", "name": "Hank"}).json
    Phone.join(owner.wire, owner.now_ms, made["token"])
    answer = owner.call("DELETE", f"/invites/{made['invite_id']}")
    assert (answer.status, answer.json["type"]) == (409, "urn:tackwatch:problem:invite-claimed")


def test_an_unknown_token_opens_nothing(app: Flask, owner: Phone) -> None:
    before = dump(app)
    answer = call(owner.wire, "POST", "/api/invites/claim", body={"token": "A" * 43})
    assert (answer.status, answer.json["field"]) == (404, "token")
    assert dump(app) == before


def test_an_invite_for_somebody_who_left_does_not_work(owner: Phone) -> None:
    made = owner.call("POST", "/invites", body={"role": "hand", "name": "Hank"}).json
    owner.sync()
    owner.drop("member", made["member_id"])
    assert owner.sync()["refused"] == []
    answer = call(owner.wire, "POST", "/api/invites/claim", body={"token": made["token"]})
    assert (answer.status, answer.json["type"]) == (410, "urn:tackwatch:problem:member-gone")


def test_the_list_of_invites_says_what_became_of_each(owner: Phone, clock: StandingClock) -> None:
    tokens = [owner.invite(name=f"Hand {n}", days=1) for n in range(4)]
    Phone.join(owner.wire, owner.now_ms, tokens[0])
    ids = [one["invite_id"] for one in owner.call("GET", "/invites").json["invites"]]
    states = {one["invite_id"]: one for one in owner.call("GET", "/invites").json["invites"]}
    assert sorted(one["state"] for one in states.values()) == ["claimed", "open", "open", "open"]
    still_open = [id_ for id_ in ids if states[id_]["state"] == "open"]
    owner.call("DELETE", f"/invites/{still_open[0]}")
    clock.forward(days=1)
    listed = owner.call("GET", "/invites").json["invites"]
    assert sorted(one["state"] for one in listed) == ["claimed", "expired", "expired", "revoked"]
    assert all("token" not in one for one in listed)


def test_of_many_claims_at_once_exactly_one_wins(app: Flask, owner: Phone) -> None:
    for _ in range(3):
        token = owner.invite()
        assert sorted(_claim_at_once(app, token, 6)) == [201] + [410] * 5
    rows = dump(app)
    assert len(rows["device"]) == 1 + 3
    assert len([one for one in rows["item"] if one["kind"] == "device"]) == 1 + 3


def _claim_at_once(app: Flask, token: str, times: int) -> list[int]:
    gate = threading.Barrier(times)

    def claim() -> int:
        wire = ClientWire(app.test_client())
        gate.wait()
        return call(wire, "POST", "/api/invites/claim", body={"token": token}).status

    with ThreadPoolExecutor(times) as pool:
        return [one.result() for one in [pool.submit(claim) for _ in range(times)]]


def test_the_recovery_code_gives_the_owner_a_new_device(owner: Phone) -> None:
    body = {"code": owner.recovery_code, "device_name": "new phone"}
    answer = owner.call("POST", "/recover", body=body, key=None)
    assert answer.status == 201
    fresh = Phone(wire=owner.wire, now_ms=owner.now_ms, **answer.json)
    assert fresh.member_id == owner.member_id
    assert fresh.device_id != owner.device_id
    fresh.sync()
    assert fresh.item(fresh.device_id).fields["name"] == "new phone"


def test_a_recovery_code_may_be_written_carelessly(owner: Phone) -> None:
    code = owner.recovery_code.replace("0", "o").replace("1", "l").replace("-", " ").upper()
    answer = owner.call("POST", "/recover", body={"code": f" {code} "}, key=None)
    assert answer.status == 201


def test_a_wrong_code_and_an_unknown_refit_get_the_same_answer(app: Flask, owner: Phone) -> None:
    before = dump(app)
    wrong = owner.call("POST", "/recover", body={"code": "aaaa-bbbb-cccc-dddd-eeee"}, key=None)
    path = "/api/refits/00000000-0000-0000-0000-000000000000/recover"
    unknown = call(owner.wire, "POST", path, body={"code": owner.recovery_code})
    assert wrong.status == unknown.status == 403
    assert wrong.json == unknown.json
    assert wrong.json["field"] == "code"
    assert dump(app) == before


def test_the_code_of_one_refit_does_not_open_another(
    wire: ClientWire, clock: StandingClock, owner: Phone
) -> None:
    other = Phone.found(wire, lambda: clock.ms)
    assert (
        other.call("POST", "/recover", body={"code": owner.recovery_code}, key=None).status == 403
    )


def test_a_withdrawn_key_opens_nothing_and_says_so(owner: Phone) -> None:
    hand = owner.crew("hand")
    hand.sync()
    assert owner.call("DELETE", f"/devices/{hand.device_id}").status == 204
    assert owner.call("DELETE", f"/devices/{hand.device_id}").status == 204
    hand.record("note", {"text": "the outbox is kept"})
    for answer in (hand.exchange(), hand.call("GET", "/work"), hand.call("GET", "/live")):
        assert answer.status == 401
        assert answer.json["type"] == "urn:tackwatch:problem:key-withdrawn"
        assert answer.headers["www-authenticate"].startswith("Bearer")
    owner.sync()
    assert owner.item(hand.device_id).fields["revoked"] is True
    assert owner.state.records == {}


def test_everybody_may_withdraw_the_own_device_only(app: Flask, owner: Phone) -> None:
    hand, viewer = owner.crew("hand"), owner.crew("viewer")
    before = dump(app)
    assert hand.call("DELETE", f"/devices/{owner.device_id}").status == 403
    assert viewer.call("DELETE", f"/devices/{hand.device_id}").status == 403
    assert dump(app) == before
    assert viewer.call("DELETE", f"/devices/{viewer.device_id}").status == 204
    assert viewer.call("GET", "/work").status == 401


def test_a_device_that_does_not_exist_cannot_be_withdrawn(owner: Phone) -> None:
    for name in ("000000000000", "%00", "x" * 41):
        assert owner.call("DELETE", f"/devices/{name}").status == 404


def test_who_left_the_crew_is_signed_in_no_more(owner: Phone) -> None:
    hand = owner.crew("hand")
    owner.sync()
    owner.drop("member", hand.member_id)
    assert owner.sync()["refused"] == []
    answer = hand.exchange()
    assert (answer.status, answer.json["type"]) == (401, "urn:tackwatch:problem:key-withdrawn")


def test_a_key_opens_its_own_refit_only(
    app: Flask, wire: ClientWire, clock: StandingClock, owner: Phone
) -> None:
    other = Phone.found(wire, lambda: clock.ms)
    made = other.call("POST", "/invites", body={"role": "hand", "name": "Hank"}).json
    before = dump(app)
    for method, below, body in (
        ("GET", "/work", None),
        ("GET", "/alarms", None),
        ("GET", "/invites", None),
        ("GET", f"/history/member/{other.member_id}", None),
        ("GET", "/live", None),
        ("GET", f"/photos/{'0' * 64}", None),
        ("POST", "/invites", {"role": "hand", "name": "Hank"}),
        ("DELETE", f"/invites/{made['invite_id']}", None),
        ("DELETE", f"/devices/{other.device_id}", None),
        ("DELETE", "/push", None),
        ("POST", "/sync", {**owner.body()}),
    ):
        answer = other.call(method, below, key=owner.key, body=body)
        assert (answer.status, answer.json["type"]) == (404, "urn:tackwatch:problem:unknown-refit")
    assert owner.call("DELETE", f"/invites/{made['invite_id']}").status == 404
    assert owner.call("DELETE", f"/devices/{other.device_id}").status == 404
    assert owner.call("POST", "/invites", body={"member_id": other.member_id}).status == 422
    assert owner.call("GET", f"/history/member/{other.member_id}").json["operations"] == []
    assert dump(app) == before


@pytest.mark.parametrize(
    ("header", "code"),
    [
        (None, "key-missing"),
        ("", "key-missing"),
        ("Bearer", "key-missing"),
        ("Bearer  ", "key-missing"),
        ("Basic b2xnYTpzZWNyZXQ=", "key-missing"),
        ("Bearer wrong", "key-unknown"),
        ("Bearer k\xf6", "key-unknown"),
    ],
)
def test_without_a_known_key_nobody_comes_in(owner: Phone, header: str | None, code: str) -> None:
    headers = {} if header is None else {"Authorization": header}
    answer = owner.call("GET", "/work", key=None, headers=headers)
    assert answer.status == 401
    assert answer.json["type"] == f"urn:tackwatch:problem:{code}"
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_device_is_noted_as_seen_once_a_minute(
    app: Flask, owner: Phone, clock: StandingClock
) -> None:
    def seen_at() -> object:
        with app.app_context():
            device = db.session.get(Device, owner.device_id)
            return device.last_seen_at if device else None

    owner.call("GET", "/work")
    assert seen_at() == BEGAN_AT
    clock.forward(seconds=59)
    owner.call("GET", "/work")
    assert seen_at() == BEGAN_AT
    clock.forward(seconds=1)
    owner.call("GET", "/work")
    assert seen_at() == clock.at
