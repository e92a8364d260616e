"""The ways to one person: each phone, their webhook, their mail. A new channel is a few lines here.

A way that fails takes nothing from the others: each has its verdict, its own pauses, and an end to its wait. Letters
and posts to webhooks go through few lanes, so that a mail server that answers nobody never holds all deliverers while
a pot's push waits for one; who finds no lane free comes again soon, and it counts as no try.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from threading import Semaphore

from tackwatch.alarms.deliver import mail, webhook
from tackwatch.alarms.deliver.mail import Mailer
from tackwatch.alarms.deliver.push import PushSender
from tackwatch.alarms.deliver.verdicts import ACCEPTED, DROPPED, LATER, Verdict
from tackwatch.alarms.deliver.webhook import WebhookSender
from tackwatch.alarms.message import message_of
from tackwatch.work import ring
from tackwatch.work.ring import AddressRow, Phone, Ringing

LANES = 2
Send = Callable[[datetime], Verdict]


@dataclass(frozen=True, slots=True)
class Pauses:
    """How long to wait before the second attempt, and at most."""

    first_s: float
    longest_s: float


PUSHES = Pauses(2.0, 60.0)
POSTS = Pauses(5.0, 300.0)
LETTERS = Pauses(30.0, 900.0)  # servers that put strangers off do so for minutes


@dataclass(frozen=True, slots=True)
class Way:
    """One way to a person; ``name`` is its name in the alarm's outcome, ``ended`` is told each verdict.

    ``lanes`` are those that must not all be taken while something is sent.
    """

    name: str
    longest: timedelta
    pauses: Pauses
    send: Send
    ended: Callable[[Verdict], None]
    lanes: Semaphore | None = None


@dataclass(frozen=True, slots=True)
class Senders:
    """What sends on each kind of way."""

    push: PushSender
    webhook: WebhookSender
    mail: Mailer
    webhook_lanes: Semaphore = field(default_factory=lambda: Semaphore(LANES))
    mail_lanes: Semaphore = field(default_factory=lambda: Semaphore(LANES))

    def ways_to(self, ringing: Ringing) -> list[Way]:
        """Give the ways to a person, the quickest first."""
        ways = [self._phone(ringing, phone) for phone in ringing.phones]
        by_kind = {webhook.CHANNEL: self._webhook, mail.CHANNEL: self._mail}
        ways += [make(ringing, a) for kind, make in by_kind.items() for a in _at(ringing, kind)]
        return ways

    def _phone(self, ringing: Ringing, phone: Phone) -> Way:
        def send(now: datetime) -> Verdict:
            return self.push.send(phone, message_of(ringing, now), now)

        def ended(verdict: Verdict) -> None:
            if verdict.result == DROPPED:
                ring.drop_phone(phone)

        return Way(phone.device_id, self.push.waits.longest, PUSHES, send, ended)

    def _webhook(self, ringing: Ringing, address: AddressRow) -> Way:
        def send(now: datetime) -> Verdict:
            return self.webhook.send(ringing, address, now)

        ended, lanes = _noting(address), self.webhook_lanes
        return Way(webhook.CHANNEL, self.webhook.longest, POSTS, send, ended, lanes)

    def _mail(self, ringing: Ringing, address: AddressRow) -> Way:
        def send(now: datetime) -> Verdict:
            return self.mail.send(ringing, address, now)

        ended, lanes = _noting(address), self.mail_lanes
        return Way(mail.CHANNEL, self.mail.longest, LETTERS, send, ended, lanes)


def _at(ringing: Ringing, kind: str) -> list[AddressRow]:
    return [address for address in ringing.addresses if address.kind == kind]


def _noting(address: AddressRow) -> Callable[[Verdict], None]:
    def ended(verdict: Verdict) -> None:
        trouble = "" if verdict.result == ACCEPTED else verdict.detail
        if verdict.result != LATER and (trouble != address.trouble or verdict.result == DROPPED):
            ring.note_trouble(address, trouble, gone=verdict.result == DROPPED)

    return ended
