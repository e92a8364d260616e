"""One post to a webhook, over a real connection, and what each answer means."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from standardwebhooks import Webhook, WebhookVerificationError

from tackwatch.alarms.deliver.verdicts import Verdict
from tackwatch.alarms.deliver.webhook import MOST_BYTES, WebhookSender, signed
from tackwatch.settings import Settings
from tackwatch.work.letters import Reader
from tackwatch.work.ring import AddressRow, AlarmRow, Ringing
from tests.alarms.conftest import QUICK
from tests.alarms.yard import NOON
from tests.support.push_receiver import Answer
from tests.support.webhook_receiver import WebhookReceiver, webhook_receiver

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
SETTINGS = Settings(Path(), "", webhook_hosts=("127.0.0.1",))


def _now() -> datetime:
    return datetime.now(UTC)


def _ringing(**params: Any) -> Ringing:
    row = AlarmRow(
        id=1, refit_id="r", member_id="m", alarm_id="a.pot_life_over", kind="pot_life_over", source_id="a",
        due_at=NOON, useless_after=_now() + timedelta(hours=1), params={"product": "Resin", **params},
        state="claimed", claimed_by="x", lease_until=None, attempts=1, told_at=None, seen_at=None, outcome={},
    )  # fmt: skip
    return Ringing(row, Reader("r", "m", "en", "UTC", "Wanderer"), (), (), {})


def _address(url: str) -> AddressRow:
    return AddressRow(
        refit_id="r", member_id="m", kind="webhook", target=url, secret=SECRET, with_calendar=False,
        code_hash=None, code_until=None, code_tries=0, made_at=NOON, confirmed_at=NOON, trouble="",
    )  # fmt: skip


@pytest.fixture
def hook() -> Iterator[WebhookReceiver]:
    with webhook_receiver() as running:
        running.secret = SECRET
        yield running


def _send(
    hook: WebhookReceiver, *answers: Answer, settings: Settings = SETTINGS, **params: Any
) -> Verdict:
    hook.answers = list(answers) or [Answer(204)]
    return WebhookSender(settings, QUICK).send(_ringing(**params), _address(hook.url), _now())


def test_the_signature_is_that_of_the_specification_standard_webhooks() -> None:
    """Source: secret, id, timestamp, body and signature of the example in the reference implementations' tests of
    Standard Webhooks 1.0.0 (from memory), and the reference implementation itself.
    """
    at, body = datetime.fromtimestamp(1614265330, UTC), b'{"test": 2432232314}'
    id_ = "msg_p5jXN8AQM9LWM0D4loKWxJek"
    headers = signed(SECRET, id_, at, body)
    assert headers["webhook-signature"] == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
    assert headers["webhook-signature"] == Webhook(SECRET).sign(id_, at, body.decode())


def test_the_message_is_what_phones_get_and_its_signature_holds(hook: WebhookReceiver) -> None:
    assert _send(hook) == Verdict("accepted", "204")
    (post,) = hook.wait_for(1)
    assert post.path == "/hook?yard=1"
    assert post.headers["content-type"] == "application/json"
    assert (post.payload["alarm_id"], post.payload["kind"]) == ("a.pot_life_over", "pot_life_over")
    assert {"title", "body", "due_at", "lang", "url"} <= post.payload.keys()
    assert "authorization" not in post.headers


def test_a_body_that_was_changed_does_not_pass_standard_webhooks() -> None:
    headers = signed(SECRET, "alarm_1", _now(), b'{"a":1}')
    Webhook(SECRET).verify(b'{"a":1}', headers)
    for body, other in ((b'{"a":2}', {}), (b'{"a":1}', {"webhook-id": "alarm_2"})):
        with pytest.raises(WebhookVerificationError):
            Webhook(SECRET).verify(body, {**headers, **other})


def test_a_repeat_has_the_same_id_and_another_telling_another(hook: WebhookReceiver) -> None:
    for params in ({}, {}, {"withdrawn": "gone"}):
        _send(hook, **params)
    first, repeat, off = [post.headers["webhook-id"] for post in hook.wait_for(3)]
    assert first == repeat != off


@pytest.mark.parametrize(
    ("status", "result"),
    [
        (200, "accepted"), (204, "accepted"),
        (410, "dropped"),
        (408, "later"), (429, "later"), (500, "later"), (502, "later"), (503, "later"),
        (400, "refused"), (401, "refused"), (403, "refused"), (404, "refused"), (413, "refused"),
    ],
)  # fmt: skip
def test_each_status_has_its_meaning(hook: WebhookReceiver, status: int, result: str) -> None:
    assert _send(hook, Answer(status)) == Verdict(result, str(status))
    assert len(hook.posts) == 1


@pytest.mark.parametrize("status", [429, 503])
def test_retry_after_is_kept_to_rfc9110_10_2_3(hook: WebhookReceiver, status: int) -> None:
    verdict = _send(hook, Answer(status, {"Retry-After": "120"}))
    assert verdict.not_before is not None
    assert abs(verdict.not_before - _now() - timedelta(seconds=120)) < timedelta(seconds=20)


@pytest.mark.parametrize("status", [301, 302, 307, 308])
def test_a_redirect_is_not_followed(hook: WebhookReceiver, status: int) -> None:
    moved = Answer(status, {"Location": hook.url + "&elsewhere=1"})
    assert _send(hook, moved).result == "refused"
    assert len(hook.posts) == 1


def test_a_refused_connection_is_tried_later(hook: WebhookReceiver) -> None:
    hook.server.socket.close()
    assert _send(hook) == Verdict("later", "ConnectionError")


def test_who_does_not_answer_is_given_up(hook: WebhookReceiver) -> None:
    stall = threading.Event()
    verdict = _send(hook, Answer(200, stall=stall))
    stall.set()
    assert verdict == Verdict("later", "ReadTimeout")


@pytest.mark.parametrize("hosts", [(), ("hooks.example",), ("*.0.0.1",), ("localhost",)])
def test_a_host_that_is_not_listed_is_not_posted_to(
    hook: WebhookReceiver, hosts: tuple[str, ...]
) -> None:
    verdict = _send(hook, settings=replace(SETTINGS, webhook_hosts=hosts))
    assert verdict == Verdict("refused", "this host is not allowed")
    assert hook.posts == []


def test_what_is_too_long_is_sent_as_its_id_alone(hook: WebhookReceiver) -> None:
    assert (
        _send(hook, product="x" * MOST_BYTES, closes_at="2026-03-03T12:00:00+00:00").result
        == "accepted"
    )
    assert hook.wait_for(1)[0].payload == {"alarm_id": "a.pot_life_over"}
