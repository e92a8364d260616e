"""One push to one phone, over a real connection, and what each answer means."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import pytest

from tackwatch.alarms.deliver.push import PushSender, Waits
from tackwatch.alarms.deliver.verdicts import Verdict, from_status, pause, when_again
from tackwatch.alarms.message import Message, topic_of
from tackwatch.settings import Settings
from tackwatch.work import vapid
from tackwatch.work.ring import Phone
from tests.alarms.conftest import QUICK
from tests.alarms.yard import NOON
from tests.support.push_receiver import Answer, PushReceiver

MESSAGE = Message(
    payload=b'{"alarm_id":"a.pot_life_over","title":"t"}',
    small=b'{"alarm_id":"a.pot_life_over"}',
    ttl_s=600,
    urgency="high",
    topic=topic_of("a.pot_life_over"),
)


SETTINGS = Settings(Path(), "", push_hosts=("127.0.0.1",), push_contact="mailto:a@yard.example")


@pytest.fixture
def sender() -> PushSender:
    return PushSender(SETTINGS, vapid.new_key_pem(), QUICK)


def _now() -> datetime:
    return datetime.now(UTC)


def _send(sender: PushSender, receiver: PushReceiver, *answers: Answer) -> Verdict:
    phone = Phone("d", **receiver.subscribe("d", answers))
    return sender.send(phone, MESSAGE, _now())


def test_a_phone_can_read_the_message_and_the_service_its_headers(
    sender: PushSender, receiver: PushReceiver
) -> None:
    assert _send(sender, receiver, Answer(201)).result == "accepted"
    (push,) = receiver.wait_for(1)
    assert push.payload == {"alarm_id": "a.pot_life_over", "title": "t"}
    assert (push.headers["TTL"], push.headers["Urgency"]) == ("600", "high")
    assert push.headers["Topic"] == MESSAGE.topic
    assert push.claims["aud"] == receiver.origin
    assert push.claims["k"] == vapid.public_of(sender.key_pem)
    assert push.claims["sub"] == sender.settings.push_contact


def test_each_push_is_signed_afresh_for_its_own_service(
    sender: PushSender, receiver: PushReceiver
) -> None:
    for hours in (0, 30):  # the receiver refuses a signature that is over
        phone = Phone("d", **receiver.subscribe("d"))
        signed = sender._sign(phone.endpoint, _now() + timedelta(hours=hours))
        assert signed.startswith("vapid t=")
    first, second = (sender._sign(f"https://{host}/x", NOON) for host in ("a.example", "b.example"))
    assert first.split(".")[1] != second.split(".")[1]


@pytest.mark.parametrize(
    ("status", "result"),
    [
        (200, "accepted"),
        (201, "accepted"),
        (202, "accepted"),
        (404, "dropped"),
        (410, "dropped"),
        (429, "later"),
        (500, "later"),
        (502, "later"),
        (503, "later"),
        (400, "refused"),
        (401, "refused"),
        (403, "refused"),
    ],
)
def test_each_status_has_its_meaning_rfc8030(
    sender: PushSender, receiver: PushReceiver, status: int, result: str
) -> None:
    verdict = _send(sender, receiver, Answer(status))
    assert (verdict.result, verdict.detail) == (result, str(status))
    assert len(receiver.pushes) == 1


def test_too_large_is_sent_again_with_the_id_alone(
    sender: PushSender, receiver: PushReceiver
) -> None:
    assert _send(sender, receiver, Answer(413), Answer(201)).result == "accepted"
    assert [push.payload for push in receiver.pushes] == [
        {"alarm_id": "a.pot_life_over", "title": "t"},
        {"alarm_id": "a.pot_life_over"},
    ]


def test_too_large_twice_is_refused(sender: PushSender, receiver: PushReceiver) -> None:
    assert _send(sender, receiver, Answer(413)).result == "refused"
    assert len(receiver.pushes) == 2


@pytest.mark.parametrize("status", [429, 503])
def test_retry_after_is_kept_to(sender: PushSender, receiver: PushReceiver, status: int) -> None:
    verdict = _send(sender, receiver, Answer(status, {"Retry-After": "120"}))
    assert verdict.not_before is not None
    assert abs(verdict.not_before - _now() - timedelta(seconds=120)) < timedelta(seconds=5)


def test_retry_after_may_be_seconds_or_a_date_rfc9110_10_2_3() -> None:
    at = datetime(2026, 3, 3, 13, 0, tzinfo=UTC)
    assert when_again("3600", NOON) == NOON + timedelta(hours=1)
    assert when_again(format_datetime(at, usegmt=True), NOON) == at
    for nothing in (None, "", "soon", "-5", "١٢"):
        assert when_again(nothing, NOON) is None


def test_a_redirect_is_not_followed(sender: PushSender, receiver: PushReceiver) -> None:
    receiver.subscribe("elsewhere")
    moved = Answer(307, {"Location": f"{receiver.origin}/push/elsewhere"})
    assert _send(sender, receiver, moved).result == "refused"
    assert [push.name for push in receiver.pushes] == ["d"]


def test_a_refused_connection_is_tried_later(sender: PushSender, receiver: PushReceiver) -> None:
    phone = Phone("d", **receiver.subscribe("d"))
    receiver.server.socket.close()
    verdict = sender.send(phone, MESSAGE, _now())
    assert (verdict.result, verdict.detail) == ("later", "ConnectionError")


def test_a_service_that_does_not_answer_is_given_up_in_time(
    sender: PushSender, receiver: PushReceiver
) -> None:
    stall = threading.Event()
    verdict = _send(sender, receiver, Answer(201, stall=stall))
    stall.set()
    assert (verdict.result, verdict.detail) == ("later", "ReadTimeout")


def test_waits_have_an_end_by_default() -> None:
    assert timedelta(seconds=5) < Waits().longest < timedelta(seconds=30)


def test_a_host_that_is_not_listed_is_not_posted_to(
    sender: PushSender, receiver: PushReceiver
) -> None:
    strict = replace(sender, settings=replace(sender.settings, push_hosts=("push.example",)))
    assert _send(strict, receiver, Answer(201)).result == "refused"
    assert receiver.pushes == []


@pytest.mark.parametrize(
    ("field", "value"),
    [("p256dh", "AAAA"), ("p256dh", ""), ("auth", ""), ("p256dh", "ñ"), ("p256dh", "A" * 87)],
)
def test_keys_that_cannot_be_used_are_refused_without_a_post(
    sender: PushSender, receiver: PushReceiver, field: str, value: str
) -> None:
    phone = Phone("d", **{**receiver.subscribe("d"), field: value})
    assert sender.send(phone, MESSAGE, _now()).result == "refused"
    assert receiver.pushes == []


def test_what_is_ours_to_put_right_is_logged_loudly_and_without_the_address(
    sender: PushSender, receiver: PushReceiver, capsys: pytest.CaptureFixture[str]
) -> None:
    _send(sender, receiver, Answer(403))
    said = capsys.readouterr().out
    assert "error" in said
    assert "403" in said
    assert "/push/d" not in said


def test_pauses_double_up_to_a_minute_and_are_spread() -> None:
    pauses = [pause(attempt, "a").total_seconds() for attempt in range(1, 12)]
    assert 2 <= pauses[0] <= 2.5
    assert 4 <= pauses[1] <= 5
    assert 60 <= pauses[-1] <= 75
    assert len({pause(3, name) for name in "abcdefgh"}) > 4


def test_a_topic_fits_and_differs_rfc8030_5_4() -> None:
    topics = {topic_of(f"{number}.pot_life_over") for number in range(100)}
    assert len(topics) == 100
    assert all(len(topic) == 32 for topic in topics)
    assert topic_of("a") == topic_of("a")


def test_a_status_is_read_without_a_body() -> None:
    assert from_status(201, None, NOON) == Verdict("accepted", "201")
