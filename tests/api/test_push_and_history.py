"""Where a device takes pushes; the history of an item; what is derived; the caller's alarms."""

from __future__ import annotations

from datetime import timedelta

import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from flask import Flask

from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm
from tests.api.roleyard import PUSH
from tests.support.phone import Phone
from tests.support.tables import dump
from tests.support.wires import call
from tests.support.world import BEGAN_AT


def test_a_device_has_one_push_address_and_a_new_one_takes_its_place(
    app: Flask, owner: Phone
) -> None:
    assert owner.call("PUT", "/push", body=PUSH).status == 204
    later = {**PUSH, "endpoint": "https://fcm.googleapis.com/fcm/send/abc"}
    assert owner.call("PUT", "/push", body=later).status == 204
    (row,) = dump(app)["push_subscription"]
    assert (row["device_id"], row["member_id"]) == (owner.device_id, owner.member_id)
    assert {name: row[name] for name in PUSH} == later


def test_a_push_address_goes_when_it_is_given_up_or_the_key_is_withdrawn(
    app: Flask, owner: Phone
) -> None:
    hand = owner.crew("hand")
    for phone in (owner, hand):
        phone.call("PUT", "/push", body=PUSH)
    assert owner.call("DELETE", "/push").status == 204
    assert owner.call("DELETE", "/push").status == 204
    assert [one["device_id"] for one in dump(app)["push_subscription"]] == [hand.device_id]
    owner.call("DELETE", f"/devices/{hand.device_id}")
    assert dump(app)["push_subscription"] == []


@pytest.mark.parametrize(
    "endpoint",
    ["https://web.push.apple.com/QAb", "https://db5p.notify.windows.com/w/?token=Bg%3d%3d"],
)
def test_the_listed_push_services_are_taken(owner: Phone, endpoint: str) -> None:
    assert owner.call("PUT", "/push", body={**PUSH, "endpoint": endpoint}).status == 204


def test_the_push_key_is_a_point_of_p256_and_stays_the_same_rfc_8292(owner: Phone) -> None:
    """Source: RFC 8292 section 3.2, an uncompressed P-256 point in base64url; read by another library."""
    import base64

    key = call(owner.wire, "GET", "/api/push-key").json["public_key"]
    point = base64.urlsafe_b64decode(key + "=")
    assert len(point) == 65
    ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
    assert call(owner.wire, "GET", "/api/push-key").json["public_key"] == key


def test_the_history_tells_who_sent_what_when_with_verdicts(owner: Phone) -> None:
    hand = owner.crew("hand")
    job = owner.create("job", {"title": "Fair the keel"})
    owner.create("job", {"title": "Another"})
    owner.sync(), hand.sync()
    hand.set("job", job, {"title": "Fair the keel, port"})
    hand.set("job", job, {"title": 7})
    hand.set("job", job, {"gone": True})
    hand.sync()
    operations = owner.call("GET", f"/history/job/{job}").json["operations"]
    assert [(one["act"], one["member_id"]) for one in operations] == [
        ("create_job", owner.member_id),
        *[("set_fields", hand.member_id)] * 3,
    ]
    assert [one["problem"] and one["problem"]["status"] for one in operations] == [
        *(None, None, 422, 403),
    ]
    assert operations[2]["actions"][0]["fields"] == {"title": 7}
    assert [one["n"] for one in operations] == [1, 1, 2, 3]


def test_the_history_of_a_record_holds_its_corrections(owner: Phone) -> None:
    first = owner.record("note", {"text": "soft timber"})
    second = owner.record("note", {"text": "soft timber, 20 cm"}, replaces=first)
    owner.sync()
    operations = owner.call("GET", f"/history/note/{first}").json["operations"]
    assert [one["actions"][0]["id"] for one in operations] == [first, second]


def test_the_history_holds_the_settling_of_a_difference(owner: Phone) -> None:
    hand = owner.crew("hand")
    job = owner.create("job", {"title": "A"})
    owner.sync(), hand.sync()
    owner.set("job", job, {"title": "B"})
    hand.set("job", job, {"title": "C"})
    owner.sync(), hand.sync(), owner.sync()
    (difference,) = owner.open_differences()
    owner.act("settle", {"do": "settle", "differences": [difference.id]})
    owner.sync()
    operations = owner.call("GET", f"/history/job/{job}").json["operations"]
    assert [one["act"] for one in operations][-1] == "settle"


def test_an_operation_that_only_mentions_the_id_is_not_in_the_history(owner: Phone) -> None:
    job = owner.create("job", {"title": "A"})
    owner.record("note", {"text": f"see {job}", "job_id": job})
    owner.sync()
    operations = owner.call("GET", f"/history/job/{job}").json["operations"]
    assert [one["act"] for one in operations] == ["create_job"]


def test_a_long_history_comes_in_pages(owner: Phone) -> None:
    job = owner.create("job", {"title": "0"})
    for number in range(1, 450):
        owner.set("job", job, {"title": str(number)}, seen={})
    owner.sync()
    titles, after = [], ""
    while True:
        page = owner.call("GET", f"/history/job/{job}?after={after}").json
        titles += [one["actions"][0]["fields"]["title"] for one in page["operations"]]
        after = page["operations"][-1]["at"]
        if not page["more"]:
            break
    assert titles == [str(number) for number in range(450)]


def test_the_work_is_seen_as_the_server_derives_it(owner: Phone) -> None:
    job = owner.create("job", {"title": "A"})
    step = owner.create("step", {"job_id": job, "kind": "sand"})
    owner.sync()
    seen = owner.call("GET", "/work").json
    assert seen["at"].startswith("2026-03-02T08:00:00")
    assert [one["step_id"] for one in seen["steps"]] == [step]


def test_a_person_sees_the_own_alarms_in_the_order_in_which_they_are_due(
    app: Flask, owner: Phone
) -> None:
    hand = owner.crew("hand")
    with app.app_context():
        with writing():
            for member_id, alarm_id, hours in (
                (hand.member_id, "b.recoat_closes", 5),
                (hand.member_id, "a.pot_ends", 1),
                (owner.member_id, "c.pot_ends", 1),
            ):
                due_at = BEGAN_AT + timedelta(hours=hours)
                db.session.add(
                    Alarm(
                        refit_id=owner.refit_id, member_id=member_id, alarm_id=alarm_id,
                        kind=alarm_id[2:], source_id=alarm_id[0], due_at=due_at,
                        useless_after=due_at, params={}, state="due", outcome={},
                    )
                )  # fmt: skip
        db.session.remove()
    alarms = hand.call("GET", "/alarms").json["alarms"]
    assert [one["alarm_id"] for one in alarms] == ["a.pot_ends", "b.recoat_closes"]
    assert alarms[0]["due_at"] == "2026-03-02T09:00:00+00:00"
    assert (alarms[0]["state"], alarms[0]["told_at"]) == ("due", None)
