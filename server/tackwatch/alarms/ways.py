"""The ways to one person: each phone, their webhook, their mail. A new channel is a few lines here.

A way that fails takes nothing from the others: each has its verdict, its own pauses, an end to its wait, and the lane
of the host that it goes to.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from tackwatch.alarms.deliver import mail, webhook
from tackwatch.alarms.deliver.mail import Mailer
from tackwatch.alarms.deliver.push import PushSender
from tackwatch.alarms.deliver.verdicts import ACCEPTED, DROPPED, LATER, Verdict
from tackwatch.alarms.deliver.webhook import WebhookSender
from tackwatch.alarms.lanes import Width
from tackwatch.alarms.message import message_of
from tackwatch.work import ring
from tackwatch.work.push_hosts import origin
from tackwatch.work.ring import AddressRow, Phone, Ringing

TO_PUSH_SERVICE = Width(most=128, waiting=1000)
TO_WEBHOOKS = Width(most=4, waiting=32)
TO_MAIL = Width(most=2, waiting=16)
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
    """One way to a person; ``name`` is its name in the alarm's outcome, ``ended`` is told each verdict."""

    name: str
    lane: str
    width: Width
    longest: timedelta
    pauses: Pauses
    send: Send
    ended: Callable[[Verdict], None]


@dataclass(frozen=True, slots=True)
class Senders:
    """What sends on each kind of way."""

    push: PushSender
    webhook: WebhookSender
    mail: Mailer

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

        lane, longest = origin(phone.endpoint), self.push.longest
        return Way(phone.device_id, lane, TO_PUSH_SERVICE, longest, PUSHES, send, ended)

    def _webhook(self, ringing: Ringing, address: AddressRow) -> Way:
        def send(now: datetime) -> Verdict:
            return self.webhook.send(ringing, address, now)

        lane, longest = f"webhook {origin(address.target)}", self.webhook.longest
        return Way(webhook.CHANNEL, lane, TO_WEBHOOKS, longest, POSTS, send, _noting(address))

    def _mail(self, ringing: Ringing, address: AddressRow) -> Way:
        def send(now: datetime) -> Verdict:
            return self.mail.send(ringing, address, now)

        lane, longest = mail.CHANNEL, self.mail.longest
        return Way(mail.CHANNEL, lane, TO_MAIL, longest, LETTERS, send, _noting(address))


def _at(ringing: Ringing, kind: str) -> list[AddressRow]:
    return [address for address in ringing.addresses if address.kind == kind]


def _noting(address: AddressRow) -> Callable[[Verdict], None]:
    def ended(verdict: Verdict) -> None:
        trouble = "" if verdict.result == ACCEPTED else verdict.detail
        if verdict.result != LATER and (trouble != address.trouble or verdict.result == DROPPED):
            ring.note_trouble(address, trouble, gone=verdict.result == DROPPED)

    return ended
