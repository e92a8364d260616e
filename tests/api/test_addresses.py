"""A person's own addresses through the door: mail with its code, webhook with its secret, calendar with its link."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask
from icalendar import Calendar

from tackwatch.settings import Settings, Smtp
from tackwatch.store.db import writing
from tackwatch.trade.warnings import iso_of
from tackwatch.work.keep_alarms import Wanted, keep
from tests.support.mail_server import Post, mail_server
from tests.support.phone import Phone
from tests.support.tables import dump
from tests.support.wires import Answer, call
from tests.support.world import BEGAN_AT, StandingClock

TO = "olga@yard.example"
URL = "https://hooks.example/in/1?yard=2"


@pytest.fixture
def post() -> Iterator[Post]:
    with mail_server() as (running, port):
        running.says["port"] = [str(port)]
        yield running


@pytest.fixture
def settings(settings: Settings, post: Post) -> Settings:
    smtp = Smtp("127.0.0.1", int(post.says["port"][0]), "none", "bell@boat.example")
    return replace(settings, smtp=smtp, webhook_hosts=("hooks.example",))


def give_mail(phone: Phone, address: str = TO, **rest: Any) -> Answer:
    return phone.call("PUT", "/addresses/mail", body={"address": address, **rest})


def confirm(phone: Phone, code: str) -> Answer:
    return phone.call("POST", "/addresses/mail/confirm", body={"code": code})


def code_in(post: Post, count: int = 1) -> str:
    return str(post.wait_for(count)[-1].message["Subject"]).rpartition(" ")[2]


def listed(phone: Phone) -> dict[str, Any]:
    answer = phone.call("GET", "/addresses")
    assert answer.status == 200
    return {one.pop("kind"): one for one in answer.json["addresses"]}


def refused(answer: Answer, status: int, field: str | None, code: str) -> None:
    assert answer.status == status, answer.content
    assert answer.headers["content-type"] == "application/problem+json"
    assert (answer.json.get("field"), answer.json["type"].rpartition(":")[2]) == (field, code)


def test_a_mail_address_is_used_once_its_code_came_back(owner: Phone, post: Post) -> None:
    assert give_mail(owner).status == 204
    assert listed(owner)["mail"]["usable"] is False
    (letter,) = post.wait_for(1)
    code = code_in(post)
    assert (letter.to, letter.message["Auto-Submitted"]) == ((TO,), "auto-generated")
    assert len(code) == 6
    assert f" {code}\n" in letter.text()
    assert "Wanderer" in letter.text()
    assert confirm(owner, f" {code} ").status == 204
    mail = listed(owner)["mail"]
    assert (mail["target"], mail["usable"], mail["trouble"]) == (TO, True, "")
    refused(confirm(owner, code), 409, "code", "no-code-awaited")


def test_the_code_is_written_in_the_persons_language(owner: Phone, post: Post) -> None:
    token = owner.invite("viewer", "Luis", language="es")
    far_away = Phone.join(owner.wire, owner.now_ms, token)
    give_mail(far_away)
    assert post.wait_for(1)[0].message["Subject"].startswith("Tu código")


def test_a_wrong_code_confirms_nothing_and_five_are_enough(owner: Phone, post: Post) -> None:
    give_mail(owner)
    code = code_in(post)
    wrong = "000000" if code != "000000" else "111111"
    for _ in range(5):
        refused(confirm(owner, wrong), 422, "code", "code-wrong")
    refused(confirm(owner, code), 410, "code", "code-over")
    assert listed(owner)["mail"]["usable"] is False


def test_a_code_holds_for_half_an_hour(owner: Phone, post: Post, clock: StandingClock) -> None:
    give_mail(owner)
    clock.forward(minutes=30, seconds=1)
    refused(confirm(owner, code_in(post)), 410, "code", "code-over")


def test_a_code_is_its_persons_alone(owner: Phone, post: Post) -> None:
    hand = owner.crew("hand")
    give_mail(owner)
    refused(confirm(hand, code_in(post)), 409, "code", "no-code-awaited")
    give_mail(hand, "hank@yard.example")
    refused(confirm(owner, code_in(post, 2)), 422, "code", "code-wrong")


def test_codes_are_held_back(app: Flask, owner: Phone, post: Post, clock: StandingClock) -> None:
    assert give_mail(owner).status == 204
    again = give_mail(owner)
    refused(again, 429, "address", "too-many-codes")
    assert again.headers["retry-after"] == "60"
    for _ in range(5):
        clock.forward(seconds=61)
        assert give_mail(owner).status == 204
    clock.forward(seconds=61)
    refused(give_mail(owner), 429, "address", "too-many-codes")
    hand = owner.crew("hand")
    refused(give_mail(hand, TO.upper()), 429, "address", "too-many-codes")
    owner.call("DELETE", f"/members/{owner.member_id}/addresses/mail")
    refused(give_mail(owner, "other@yard.example"), 429, "address", "too-many-codes")
    assert len(post.letters) == 6
    clock.forward(days=1)
    assert give_mail(owner).status == 204
    assert len(dump(app)["sent_code"]) == 1, "older ones are forgotten"


@pytest.mark.parametrize(
    "address",
    [
        "nobody", "@yard.example", "a@", "a@yard", "a b@yard.example", "a@yard.example\r\nBcc: b@yard.example",
        "a@yard.example, b@yard.example", "<a@yard.example>", "Olga <a@yard.example>", '"a b"@yard.example',
        "a@[127.0.0.1]", "ñ@yard.example", "a@yárd.example", "a..b@yard.example", ".a@yard.example",
        "x" * 65 + "@yard.example", "a@" + "x" * 64 + ".example", "a@-yard.example", "a@yard.example ",
    ],
)  # fmt: skip
def test_what_is_no_mail_address_is_named(
    app: Flask, owner: Phone, post: Post, address: str
) -> None:
    before = dump(app)
    assert give_mail(owner, address).status == 422
    assert give_mail(owner, address).json["field"] == "address"
    assert dump(app) == before
    assert post.tries == []


@pytest.mark.parametrize("address", ["o'neil+tackwatch@mail.yard.example", "A_b-c.d@x--y.example"])
def test_usual_mail_addresses_are_taken_rfc5321_4_1_2(owner: Phone, address: str) -> None:
    """Source: RFC 5321 4.1.2, Dot-string and Domain."""
    assert give_mail(owner, address).status == 204


@pytest.mark.parametrize(
    ("said", "status", "code"),
    [("550 5.1.1 unknown", 422, "mail-refused"), ("451 4.7.1 later", 503, "mail-not-now")],
)
def test_an_address_that_the_mail_server_does_not_take_changes_nothing(
    owner: Phone, post: Post, clock: StandingClock, said: str, status: int, code: str
) -> None:
    give_mail(owner)
    confirm(owner, code_in(post))
    clock.forward(minutes=2)
    post.says["RCPT"] = [said]
    refused(give_mail(owner, "other@yard.example"), status, "address", code)
    mail = listed(owner)["mail"]
    assert (mail["target"], mail["usable"]) == (TO, True)


def test_whether_the_calendar_comes_along_can_be_changed_without_a_code(
    owner: Phone, post: Post
) -> None:
    give_mail(owner)
    confirm(owner, code_in(post))
    assert give_mail(owner, with_calendar=True).status == 204
    mail = listed(owner)["mail"]
    assert (mail["usable"], mail["with_calendar"]) == (True, True)
    assert len(post.letters) == 1


def test_a_webhooks_secret_is_shown_once_and_a_new_one_takes_its_place(
    app: Flask, owner: Phone
) -> None:
    first = owner.call("PUT", "/addresses/webhook", body={"url": URL})
    assert (first.status, first.json["url"]) == (200, URL)
    assert first.json["secret"].startswith("whsec_")
    second = owner.call("PUT", "/addresses/webhook", body={"url": URL}).json["secret"]
    assert second != first.json["secret"]
    (row,) = dump(app)["address"]
    assert row["secret"] == second
    seen = owner.call("GET", "/addresses").content
    assert second.encode() not in seen
    assert listed(owner)["webhook"]["target"] == URL


@pytest.mark.parametrize(
    "url",
    [
        "http://hooks.example/x", "https://127.0.0.1/x", "https://localhost/x", "https://[::1]/x",
        "https://169.254.169.254/x", "https://hooks.example.evil.example/x", "https://evil@hooks.example/x",
        "https://hooks.example:8443/x", "https://hooks.example", "https://sub.hooks.example/x", "file:///etc/passwd",
        "https://hooks.example/x#y", "https://hooks.example\\@evil.example/x", "nothing",
    ],
)  # fmt: skip
def test_a_webhook_elsewhere_is_named(app: Flask, owner: Phone, url: str) -> None:
    before = dump(app)
    refused(
        owner.call("PUT", "/addresses/webhook", body={"url": url}),
        422,
        "url",
        "unknown-webhook-host",
    )
    assert dump(app) == before


def test_addresses_are_nobody_elses_to_see_and_are_not_synced(app: Flask, owner: Phone) -> None:
    hand, viewer = owner.crew("hand"), owner.crew("viewer")
    hand.call("PUT", "/addresses/webhook", body={"url": URL})
    assert listed(hand).keys() == {"webhook"}
    assert listed(owner) == listed(viewer) == {}
    assert "hooks.example" not in str(owner.sync())
    owner_path = f"/members/{hand.member_id}/addresses/webhook"
    refused(viewer.call("DELETE", owner_path), 403, None, "not-allowed")
    assert listed(hand).keys() == {"webhook"}
    assert owner.call("DELETE", owner_path).status == 204
    assert listed(hand) == {}
    assert owner.call("DELETE", owner_path).status == 204


def test_a_kind_that_does_not_exist_is_named(owner: Phone) -> None:
    answer = owner.call("DELETE", f"/members/{owner.member_id}/addresses/fax")
    refused(answer, 404, "kind", "unknown-kind")


def test_the_offers_are_what_this_server_can_do(owner: Phone) -> None:
    assert owner.call("GET", "/addresses").json["offers"] == ["mail", "webhook", "calendar"]


# --- calendar --------------------------------------------------------------------------------------------------------


def want(app: Flask, phone: Phone, minutes: float = 30) -> str:
    due_at = BEGAN_AT + timedelta(minutes=minutes)
    useless, params = due_at + timedelta(hours=1), {"last_start_at": iso_of(due_at)}
    one = Wanted(
        phone.member_id, "coat.recoat_closing", "recoat_closing", "coat", due_at, useless, params
    )
    with app.app_context(), writing():
        keep(phone.refit_id, [one], {}, BEGAN_AT)
    return one.alarm_id


def feed(phone: Phone, url: str, **headers: str) -> Answer:
    return call(phone.wire, "GET", url.removeprefix("https://boat.example"), headers=headers)


def make_link(phone: Phone) -> str:
    made = phone.call("POST", "/addresses/calendar")
    assert made.status == 201
    assert made.json["webcal_url"] == made.json["url"].replace("https:", "webcal:")
    return str(made.json["url"])


def test_the_link_opens_the_persons_calendar_without_a_key(app: Flask, owner: Phone) -> None:
    alarm_id, url = want(app, owner), make_link(owner)
    answer = feed(owner, url)
    assert (answer.status, answer.headers["content-type"]) == (200, "text/calendar; charset=utf-8")
    assert answer.headers["cache-control"] == "private, no-cache"
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert event["UID"] == f"{alarm_id}@{owner.refit_id}"
    assert event.decoded("DTSTART") == BEGAN_AT + timedelta(minutes=30)
    token = url.rpartition("/")[2].removesuffix(".ics")
    assert token not in str(dump(app)["address"])
    assert token not in owner.call("GET", "/addresses").content.decode()


def test_nothing_new_is_304_and_a_move_is_not_rfc9110_13_1_2(
    app: Flask, owner: Phone, clock: StandingClock
) -> None:
    """Source: RFC 9110 13.1.2 and 15.4.5: the tag is given with 304 too, and there is no body."""
    want(app, owner)
    url = make_link(owner)
    first = feed(owner, url)
    clock.forward(hours=1)
    same = feed(owner, url, **{"If-None-Match": first.headers["etag"]})
    assert (same.status, same.content, same.headers["etag"]) == (304, b"", first.headers["etag"])
    want(app, owner, minutes=200)
    moved = feed(owner, url, **{"If-None-Match": first.headers["etag"]})
    assert moved.status == 200
    (event,) = Calendar.from_ical(moved.content).walk("VEVENT")
    assert event["SEQUENCE"] == 1


def test_a_cancelled_alarm_stays_for_a_while(
    app: Flask, owner: Phone, clock: StandingClock
) -> None:
    want(app, owner)
    url = make_link(owner)
    feed(owner, url)
    with app.app_context(), writing():
        keep(owner.refit_id, [], {}, BEGAN_AT)
    (event,) = Calendar.from_ical(feed(owner, url).content).walk("VEVENT")
    assert (event["STATUS"], event["SEQUENCE"]) == ("CANCELLED", 1)
    clock.forward(days=15)
    assert Calendar.from_ical(feed(owner, url).content).walk("VEVENT") == []


def test_a_new_link_ends_the_old_and_taking_it_away_ends_it(owner: Phone) -> None:
    first = make_link(owner)
    second = make_link(owner)
    assert (feed(owner, first).status, feed(owner, second).status) == (404, 200)
    owner.call("DELETE", f"/members/{owner.member_id}/addresses/calendar")
    refused(feed(owner, second), 404, None, "unknown-calendar")


def test_who_has_no_phone_with_a_key_any_more_has_no_calendar(app: Flask, owner: Phone) -> None:
    hand = owner.crew("hand")
    url = make_link(hand)
    assert feed(owner, url).status == 200
    owner.call("DELETE", f"/devices/{hand.device_id}")
    assert feed(owner, url).status == 404


def test_who_left_the_crew_has_no_calendar(owner: Phone) -> None:
    hand = owner.crew("hand")
    url = make_link(hand)
    owner.sync()
    owner.drop("member", hand.member_id)
    owner.sync()
    assert feed(owner, url).status == 404


def test_guessing_at_links_is_held_back(app: Flask, owner: Phone) -> None:
    url = make_link(owner)
    app.extensions["tackwatch"].throttle._per_minute = 3
    for _ in range(3):
        assert feed(owner, "/api/calendar/guess.ics").status == 404
    assert feed(owner, "/api/calendar/guess.ics").status == 429
    assert feed(owner, url).status == 200, "who has a link is not held back"


def test_one_alarm_can_be_kept(app: Flask, owner: Phone) -> None:
    alarm_id, hand = want(app, owner), owner.crew("hand")
    answer = owner.call("GET", f"/alarms/{alarm_id}.ics")
    assert answer.status == 200
    assert answer.headers["content-disposition"] == 'attachment; filename="alarm.ics"'
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert event["UID"] == f"{alarm_id}@{owner.refit_id}"
    refused(hand.call("GET", f"/alarms/{alarm_id}.ics"), 404, "alarm_id", "unknown-alarm")
    assert owner.call("GET", f"/alarms/{alarm_id}.ics", key=None).status == 401
