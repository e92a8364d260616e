"""A person's webhook: the message that phones get, as JSON, signed as *Standard Webhooks* has it.

Rules
-----
- ``webhook-id`` names the telling: a repeat has the same. ``webhook-timestamp`` is the instant of the attempt in
  seconds. ``webhook-signature`` is ``v1,`` and the HMAC-SHA256 of ``id.timestamp.body`` under the secret, in base64.
- The address is checked again at each sending.
- A body has at most 20,000 bytes; what is larger is sent as its id alone.

answer                    what follows
2xx                       accepted
410                       dropped: the webhook is not used again until its person gives it anew
408, 429, 5xx, none       tried again when ``Retry-After`` says, else with pauses, until the alarm is of no use
others                    refused, and not tried again for this alarm

Source
------
The open specification *Standard Webhooks* 1.0.0 (standardwebhooks.com): headers, signature, secret, size, 410.
"""

from __future__ import annotations

import base64
import hmac
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from hashlib import sha256

from tackwatch.alarms.deliver.posting import Answer, NotPostedError, Poster, Waits
from tackwatch.alarms.deliver.verdicts import ACCEPTED, DROPPED, LATER, REFUSED, Verdict, when_again
from tackwatch.alarms.message import message_of
from tackwatch.settings import Settings
from tackwatch.trade.warnings import iso_of
from tackwatch.work.push_hosts import webhook_host_allowed
from tackwatch.work.ring import AddressRow, AlarmRow, Ringing

CHANNEL = "webhook"
MOST_BYTES = 20_000
_NOT_NOW = (408, 429)


@dataclass(frozen=True, slots=True)
class WebhookSender:
    """Posts alarms to persons' webhooks."""

    settings: Settings
    waits: Waits
    poster: Poster = field(default_factory=Poster, compare=False)

    @property
    def longest(self) -> timedelta:
        """Give the longest that one webhook can take."""
        return timedelta(seconds=self.waits.one_s)

    def send(self, ringing: Ringing, address: AddressRow, now: datetime) -> Verdict:
        """Post an alarm to its person's webhook."""
        if not webhook_host_allowed(address.target, self.settings):
            return Verdict(REFUSED, "this host is not allowed")
        message = message_of(ringing, now)
        body = message.payload if len(message.payload) <= MOST_BYTES else message.small
        headers = {
            "Content-Type": "application/json",
            **signed(address.secret, _id_of(ringing.alarm), now, body),
        }
        try:
            return _judged(self.poster.post(address.target, body, headers, self.waits), now)
        except NotPostedError as error:
            return Verdict(LATER if error.again else REFUSED, error.why)


def signed(secret: str, id_: str, now: datetime, body: bytes) -> dict[str, str]:
    """Give the headers that name and sign a body."""
    at = str(int(now.timestamp()))
    key = base64.b64decode(secret.removeprefix("whsec_"))
    mac = hmac.digest(key, f"{id_}.{at}.".encode() + body, sha256)
    signature = f"v1,{base64.b64encode(mac).decode()}"
    return {"webhook-id": id_, "webhook-timestamp": at, "webhook-signature": signature}


def _judged(answer: Answer, now: datetime) -> Verdict:
    status, detail = answer.status, str(answer.status)
    if 200 <= status < 300:
        return Verdict(ACCEPTED, detail)
    if status == 410:
        return Verdict(DROPPED, detail)
    if status in _NOT_NOW or status >= 500:
        return Verdict(LATER, detail, when_again(answer.retry_after, now))
    return Verdict(REFUSED, detail)


def _id_of(alarm: AlarmRow) -> str:
    which = f"{iso_of(alarm.due_at)} {alarm.params.get('withdrawn', '')}"
    text = f"{alarm.refit_id} {alarm.member_id} {alarm.alarm_id} {which}"
    return f"alarm_{sha256(text.encode()).hexdigest()[:32]}"
