"""One push to one phone, over a real connection, and what each answer means."""

from __future__ import annotations

import socket
import threading
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric import ec

from tackwatch.alarms.deliver.push import PushSender, Waits
from tackwatch.alarms.deliver.verdicts import Verdict, from_status, pause, when_again
from tackwatch.alarms.message import Message, topic_of
from tackwatch.settings import Settings
from tackwatch.work import vapid
from tackwatch.work.ring import Phone
from tests.alarms.conftest import QUICK
from tests.alarms.yard import NOON
from tests.support.push_receiver import Answer, PhoneKeys, PushReceiver, b64

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


def test_a_signature_serves_one_service_for_an_hour_rfc8292_5(sender: PushSender) -> None:
    def signed(host: str, **after: float) -> str:
        return sender._sign(f"https://{host}/x", NOON + timedelta(**after))

    first, other = signed("a.example"), signed("b.example")
    assert first.split(".")[1] != other.split(".")[1], "for the origin"
    assert signed("a.example", minutes=59) == first
    assert signed("a.example", minutes=61) != first
    again = signed("a.example", minutes=61)
    assert signed("a.example", minutes=-1) != again, "the clock was put back"


def test_a_signature_that_was_refused_is_not_used_again(
    sender: PushSender, receiver: PushReceiver
) -> None:
    _send(sender, receiver, Answer(403), Answer(201))
    phone = Phone("d", **receiver.subscribe("d"))
    sender.send(phone, MESSAGE, _now())
    first, second = (push.headers["Authorization"] for push in receiver.pushes)
    assert first != second


def test_a_connection_is_kept_and_one_that_was_closed_meanwhile_fails_nobody(
    sender: PushSender,
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        took: list[int] = []  # how many posts each connection brought
        thread = threading.Thread(target=_answer_two_then_close, args=(listener, took))
        thread.start()
        endpoint = f"http://127.0.0.1:{listener.getsockname()[1]}/push/d"
        keys = PhoneKeys(ec.generate_private_key(ec.SECP256R1()), b"0123456789abcdef")
        phone = Phone("d", endpoint, keys.p256dh, b64(keys.auth))
        results = [sender.send(phone, MESSAGE, _now()).result for _ in range(3)]
        thread.join(10)
    assert results == ["accepted"] * 3
    assert took == [3, 1], "the third came on the first connection and again on the second"


def _answer_two_then_close(listener: socket.socket, took: list[int]) -> None:
    for most in (3, 1):
        connection, _ = listener.accept()
        with connection, connection.makefile("rb") as requests:
            for count in range(1, most + 1):
                length = 0
                while (line := requests.readline().strip()) != b"":
                    name, _, value = line.partition(b":")
                    length = int(value) if name.lower() == b"content-length" else length
                requests.read(length)
                if count < 3:
                    connection.sendall(b"HTTP/1.1 201 Created\r\nContent-Length: 0\r\n\r\n")
            took.append(most)


def test_a_service_that_cannot_be_reached_is_given_up_in_time(sender: PushSender) -> None:
    with socket.create_server(("127.0.0.1", 0), backlog=0) as listener, ExitStack() as full:
        for _ in range(2):  # Linux takes one more than the backlog; further ones get no answer
            waiting = full.enter_context(socket.socket())
            waiting.setblocking(False)
            waiting.connect_ex(listener.getsockname())
        keys = PhoneKeys(ec.generate_private_key(ec.SECP256R1()), b"0123456789abcdef")
        endpoint = f"http://127.0.0.1:{listener.getsockname()[1]}/push/d"
        phone = Phone("d", endpoint, keys.p256dh, b64(keys.auth))
        verdict = sender.send(phone, MESSAGE, _now())
    assert (verdict.result, verdict.detail) == ("later", "ConnectTimeout")


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


def test_waits_have_an_end_by_default(sender: PushSender) -> None:
    assert timedelta(seconds=5) < replace(sender, waits=Waits()).longest < timedelta(seconds=30)


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
