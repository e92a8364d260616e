"""Which channels an alarm uses, and how they stand beside each other: real mail server, webhook and push service."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from flask import Flask

from tackwatch.alarms.bell import Bell
from tackwatch.alarms.deliver.mail import Mailer
from tackwatch.alarms.deliver.push import Waits
from tackwatch.alarms.deliver.smtp import MailWaits
from tackwatch.alarms.ways import TO_MAIL
from tackwatch.settings import Settings, Smtp
from tackwatch.store import addresses
from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm
from tests.alarms.conftest import QUICK
from tests.alarms.yard import NOON, Yard, wanted
from tests.support.mail_server import Post, mail_server, silent_server
from tests.support.push_receiver import Answer, PushReceiver
from tests.support.webhook_receiver import WebhookReceiver, webhook_receiver
from tests.support.world import StandingClock, ports_with

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
ALL = {"by_push": True, "by_mail": True, "by_webhook": True}
TO = "olga@yard.example"


class Shore:
    """A member with a phone, a mail address and a webhook, and the bell."""

    def __init__(
        self, yard: Yard, receiver: PushReceiver, hook: WebhookReceiver, clock: StandingClock
    ) -> None:
        self.yard, self.receiver, self.hook, self.clock = yard, receiver, hook, clock
        self.post, self.bell = Post(), None  # set by the fixture
        self.member = yard.member(language="en", devices=0)
        self.phone = yard.device(self.member, receiver.subscribe("a"))
        hook.secret = SECRET
        self.give("mail", target=TO)
        self.give("webhook", target=hook.url, secret=SECRET)

    def give(self, kind: str, **values: Any) -> None:
        values = {"confirmed_at": NOON, **values}
        with writing():
            addresses.put(self.yard.refit_id, self.member, kind, NOON, **values)

    def ring(self, **params: Any) -> Alarm:
        if params:
            self.yard.keep(wanted(self.member, self.clock.at, **params), now=self.clock.at)
        assert isinstance(self.bell, Bell)
        self.bell.look()
        self.bell._room.wait_until_all_free()
        return self.yard.one()

    def results(self) -> dict[str, str]:
        channels = self.yard.one().outcome["channels"]
        return {name.replace(self.phone, "phone"): how["result"] for name, how in channels.items()}

    def address(self, kind: str) -> addresses.AddressRow:
        db.session.rollback()
        return addresses.of_member(self.yard.refit_id, self.member)[kind]


@pytest.fixture
def shore(
    app: Flask, settings: Settings, yard: Yard, receiver: PushReceiver, hand: StandingClock
) -> Iterator[Shore]:
    with webhook_receiver() as hook, mail_server() as (post, port):
        shore = Shore(yard, receiver, hook, hand)
        smtp = Smtp("127.0.0.1", port, "none", "bell@boat.example")
        settings = replace(settings, webhook_hosts=("127.0.0.1",), smtp=smtp)
        waits = MailWaits(answer_s=5.0, whole_s=15.0)
        shore.post = post
        bell = Bell(app, settings, ports_with(hand), waits=QUICK, mail_waits=waits)
        shore.bell = bell  # type: ignore[assignment]
        yield shore
        bell.finish()


def test_an_alarm_goes_the_ways_that_its_rule_names(shore: Shore) -> None:
    assert shore.ring(**ALL).state == "told"
    assert shore.results() == {
        "stream": "shown", "phone": "accepted", "mail": "accepted", "webhook": "accepted",
    }  # fmt: skip
    (push,), (post,) = shore.receiver.wait_for(1), shore.hook.wait_for(1)
    assert post.payload == push.payload
    (letter,) = shore.post.wait_for(1)
    assert letter.to == (TO,)
    assert letter.message["Subject"].startswith("Start the next coat")
    assert "https://boat.example/#/now" in letter.text()


@pytest.mark.parametrize(
    ("rule", "told_by"),
    [
        (
            {"zone": "Port"},
            {"stream", "phone"},
        ),  # what a rule does not name: push and the open page
        ({"by_push": False}, {"stream"}),
        ({"by_push": False, "by_mail": True}, {"stream", "mail"}),
        ({"by_webhook": True}, {"stream", "phone", "webhook"}),
    ],
)
def test_what_a_rule_does_not_name_is_not_used(
    shore: Shore, rule: dict[str, Any], told_by: set[str]
) -> None:
    assert shore.ring(**rule).state == "told"
    assert set(shore.results()) == told_by
    assert len(shore.post.letters) == ("mail" in told_by)
    assert len(shore.hook.posts) == ("webhook" in told_by)


def test_without_an_address_or_with_one_not_confirmed_the_rule_rings_elsewhere(
    shore: Shore,
) -> None:
    shore.give("mail", target=TO, confirmed_at=None)
    with writing():
        addresses.drop(shore.yard.refit_id, shore.member, "webhook")
    shore.ring(**ALL)
    assert set(shore.results()) == {"stream", "phone"}
    assert (shore.post.letters, shore.hook.posts) == ([], [])


def test_another_persons_addresses_are_not_used(shore: Shore) -> None:
    other = shore.yard.member()
    shore.yard.keep(wanted(other, shore.clock.at, **ALL), now=shore.clock.at)
    shore.ring()
    assert (shore.post.letters, shore.hook.posts, shore.receiver.pushes) == ([], [], [])


def test_a_channel_that_fails_holds_no_other_and_is_tried_alone(shore: Shore) -> None:
    shore.post.says["RCPT"] = ["451 4.7.1 later", "250 OK"]
    alarm = shore.ring(**ALL)
    assert alarm.state == "claimed", "still to be tried by mail"
    assert shore.results() == {
        "stream": "shown", "phone": "accepted", "mail": "later", "webhook": "accepted",
    }  # fmt: skip
    assert alarm.lease_until is not None
    wait = alarm.lease_until - shore.clock.at
    assert timedelta(seconds=30) <= wait <= timedelta(seconds=38), (
        "no sooner: mail servers count tries"
    )
    shore.clock.forward(seconds=40)
    assert shore.ring().state == "told"
    assert shore.results()["mail"] == "accepted"
    assert (len(shore.receiver.pushes), len(shore.hook.posts), len(shore.post.letters)) == (1, 1, 1)


def test_a_fault_of_our_own_on_one_way_holds_no_other(
    shore: Shore, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("tackwatch.alarms.deliver.push.PushSender.send", broken)
    shore.ring(**ALL)
    assert shore.results() == {
        "stream": "shown", "phone": "later", "mail": "accepted", "webhook": "accepted",
    }  # fmt: skip
    assert "a way failed" in capsys.readouterr().out


def test_pauses_of_mail_grow_until_the_alarm_is_of_no_use(shore: Shore) -> None:
    shore.post.says["RCPT"] = ["450 4.2.0 later"]
    waits = []
    alarm = shore.ring(by_push=False, by_mail=True)
    while alarm.state == "claimed":
        assert alarm.lease_until is not None
        waits.append((alarm.lease_until - shore.clock.at).total_seconds())
        shore.clock.at = alarm.lease_until
        alarm = shore.ring()
    assert alarm.state == "missed"
    assert all(30 * 2**n <= wait <= 38 * 2**n for n, wait in enumerate(waits[:5]))
    assert waits[-1] <= 900 * 1.25
    assert len(shore.post.tries) == len(waits) + 1, "one more is the notice of what was missed"


def test_a_repeat_of_a_letter_can_be_recognised_rfc5322_3_6_4(shore: Shore) -> None:
    """Source: RFC 5322 3.6.4: one Message-ID for one instance of a message."""
    only_mail = {"by_push": False, "by_mail": True}
    shore.ring(**only_mail)
    shore.yard.change(state="due", outcome={}, claimed_by=None, lease_until=None)
    shore.ring()
    first, repeat = shore.post.wait_for(2)
    assert first.message["Message-ID"] == repeat.message["Message-ID"]
    moved_to = shore.clock.at + timedelta(minutes=30)
    shore.yard.keep(wanted(shore.member, moved_to, **only_mail), now=shore.clock.at)
    shore.clock.at = moved_to
    shore.ring()
    moved = shore.post.wait_for(3)[2]
    assert moved.message["Message-ID"] != first.message["Message-ID"]
    assert moved.message["References"] == first.message["References"]


def test_a_mailbox_that_does_not_exist_is_not_written_to_again(shore: Shore) -> None:
    shore.post.says["RCPT"] = ["550 5.1.1 unknown"]
    assert shore.ring(by_mail=True).state == "told", "the phone took it"
    assert shore.results()["mail"] == "dropped"
    mail = shore.address("mail")
    assert (mail.confirmed_at, mail.trouble) == (None, "550 5.1.1")


def test_a_refusal_is_noted_for_its_person_until_a_letter_is_taken(shore: Shore) -> None:
    shore.post.says["DATA"] = ["554 5.7.1 spam", "250 OK"]
    shore.ring(by_mail=True)
    assert (shore.results()["mail"], shore.address("mail").trouble) == ("refused", "554 5.7.1")
    assert shore.address("mail").confirmed_at is not None
    shore.yard.change(state="due", outcome={}, claimed_by=None, lease_until=None)
    shore.ring()
    assert (shore.results()["mail"], shore.address("mail").trouble) == ("accepted", "")


def test_a_webhook_that_is_gone_is_not_posted_to_again(shore: Shore) -> None:
    shore.hook.answers = [Answer(410)]
    shore.ring(by_webhook=True)
    assert (shore.results()["webhook"], shore.address("webhook").confirmed_at) == ("dropped", None)
    shore.yard.change(state="due", outcome={}, claimed_by=None, lease_until=None)
    shore.ring()
    assert len(shore.hook.posts) == 1


def test_what_is_called_off_is_called_off_by_mail_and_webhook_too(shore: Shore) -> None:
    shore.ring(**ALL)
    shore.clock.forward(minutes=1)
    shore.yard.keep(now=shore.clock.at)
    assert shore.ring().state == "withdrawn"
    assert shore.hook.wait_for(2)[1].payload["withdrawn"] is True
    told, off = shore.post.wait_for(2)
    assert "No longer needed" in off.message["Subject"]
    assert off.message["Message-ID"] != told.message["Message-ID"]
    assert off.message["References"] == told.message["References"]


def test_letters_are_in_their_persons_language_with_dates_in_full(shore: Shore) -> None:
    shore.member = shore.yard.member(language="es-MX")
    shore.give("mail", target="luis@yard.example")
    shore.clock.at = datetime(2026, 3, 3, 13, 0, tzinfo=UTC)
    shore.ring(by_mail=True, by_push=False)
    (letter,) = shore.post.wait_for(1)
    assert letter.message["Subject"].startswith("Da la mano siguiente")
    assert "mar" in letter.message["Subject"]
    assert "hoy" not in letter.message["Subject"] + letter.text()
    assert letter.message["Content-Language"] == "es"


def test_who_asked_for_it_gets_the_calendar_entry_with_the_letter(shore: Shore) -> None:
    """Source: the entry is read by the package icalendar."""
    from icalendar import Calendar

    shore.give("mail", target=TO, with_calendar=True)
    alarm = shore.ring(by_mail=True)
    (letter,) = shore.post.wait_for(1)
    (part,) = letter.message.iter_attachments()
    assert part.get_content_type() == "text/calendar"
    (event,) = Calendar.from_ical(part.get_content()).walk("VEVENT")
    assert event["UID"] == f"{alarm.alarm_id}@{shore.yard.refit_id}"
    assert event.decoded("DTSTART") == alarm.due_at


def test_a_mail_server_that_answers_nobody_does_not_hold_other_alarms_pushes(shore: Shore) -> None:
    assert isinstance(shore.bell, Bell)
    many = TO_MAIL.most + TO_MAIL.waiting + 6
    with silent_server() as port:
        mailer = shore.bell._senders.mail
        smtp = Smtp("127.0.0.1", port, "none", "bell@boat.example")
        settings = replace(mailer.settings, smtp=smtp)
        slow = Mailer(settings, MailWaits(answer_s=40.0, whole_s=40.0))  # longer than this waits
        push = replace(shore.bell._senders.push, waits=Waits())
        shore.bell._senders = replace(shore.bell._senders, mail=slow, push=push)
        wanted_ = [
            wanted(shore.member, shore.clock.at, alarm=f"coat{one}", by_mail=True)
            for one in range(many)
        ]
        shore.yard.keep(*wanted_, now=shore.clock.at)
        shore.bell.look()
        assert len(shore.receiver.wait_for(many, timeout_s=25)) == many
    shore.bell._room.wait_until_all_free()
    how = [alarm.outcome["channels"]["mail"] for alarm in shore.yard.alarms()]
    assert {one["result"] for one in how} == {"later"}
    assert 0 < sum("tries" in one for one in how) <= many - 1
