"""Web Push: a message is sealed for one phone (RFC 8291), signed (RFC 8292) and posted to its push service (RFC 8030).

Rules
-----
- The address is checked again at each sending.
- A signature is for the origin of the address, is valid for twelve hours and used for one (RFC 8292, 5, allows that),
  unless it was refused.
- Each message is sealed with a key pair of its own (RFC 8291, 2).
- Every wait has an end; a network error is ``later``, never the end of the bell.
- Addresses are secrets of the phone: the log has the host alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import lru_cache

import structlog
from py_vapid import Vapid02
from pywebpush import WebPusher

from tackwatch.alarms.deliver.posting import NotPostedError, Poster, Waits
from tackwatch.alarms.deliver.verdicts import LATER, REFUSED, TOO_LARGE, Verdict, from_status
from tackwatch.alarms.message import Message
from tackwatch.settings import Settings
from tackwatch.work.push_hosts import origin, push_host_allowed
from tackwatch.work.ring import Phone

__all__ = ["PushSender", "Waits", "seal"]

_SIGNED_FOR = timedelta(hours=12)
_USED_FOR = timedelta(hours=1)

_log = structlog.get_logger()
_Signed = dict[str, tuple[datetime, str]]  # when an origin's header was signed, and the header


@dataclass(frozen=True, slots=True)
class PushSender:
    """Sends pushes in the name of this server."""

    settings: Settings
    key_pem: str
    waits: Waits = field(default_factory=Waits)
    poster: Poster = field(default_factory=Poster, compare=False)
    signed: _Signed = field(default_factory=dict, compare=False)

    @property
    def longest(self) -> timedelta:
        """Give the longest that one phone can take: a message, and once more where it was too large."""
        return 2 * timedelta(seconds=self.waits.one_s)

    def send(self, phone: Phone, message: Message, now: datetime) -> Verdict:
        """Send a message to one phone."""
        verdict = self._send(phone, message, message.payload, now)
        if verdict.result == TOO_LARGE:
            verdict = self._send(phone, message, message.small, now)
        if verdict.result == TOO_LARGE:
            verdict = Verdict(REFUSED, verdict.detail)
        if verdict.result == REFUSED:
            _log.error(
                "push refused: to be put right on this server",
                push_service=origin(phone.endpoint),
                device_id=phone.device_id,
                why=verdict.detail,
            )
        return verdict

    def _send(self, phone: Phone, message: Message, payload: bytes, now: datetime) -> Verdict:
        if not push_host_allowed(phone.endpoint, self.settings):
            return Verdict(REFUSED, "this host is not allowed")
        try:
            sealed, authorization = seal(phone, payload), self._sign(phone.endpoint, now)
        except Exception as error:  # the libraries raise errors of many kinds about a bad key
            return Verdict(REFUSED, f"cannot be sealed or signed: {type(error).__name__}")
        headers = {
            "Authorization": authorization,
            "Content-Encoding": "aes128gcm",
            "Content-Type": "application/octet-stream",
            "TTL": str(message.ttl_s),
            "Urgency": message.urgency,
            "Topic": message.topic,
        }
        try:
            answer = self.poster.post(phone.endpoint, sealed, headers, self.waits)
        except NotPostedError as error:
            return Verdict(LATER if error.again else REFUSED, error.why)
        verdict = from_status(answer.status, answer.retry_after, now)
        if verdict.result == REFUSED:
            self.signed.pop(origin(phone.endpoint), None)  # it may be the signature
        return verdict

    def _sign(self, endpoint: str, now: datetime) -> str:
        audience = origin(endpoint)
        signed_at, header = self.signed.get(audience, (now, ""))
        if header and timedelta(0) <= now - signed_at < _USED_FOR:
            return header
        until = int((now + _SIGNED_FOR).timestamp())
        claims = {"aud": audience, "exp": until, "sub": self.settings.push_contact}
        header = str(_signer(self.key_pem).sign(claims)["Authorization"])
        self.signed[audience] = (now, header)
        return header


def seal(phone: Phone, payload: bytes) -> bytes:
    """Encrypt a payload so that only this phone can read it (aes128gcm); raises when its keys cannot be used."""
    keys = {"p256dh": phone.p256dh, "auth": phone.auth}
    pusher = WebPusher({"endpoint": phone.endpoint, "keys": keys})
    return bytes(pusher.encode(payload, "aes128gcm")["body"])


@lru_cache(maxsize=4)
def _signer(key_pem: str) -> Vapid02:
    return Vapid02.from_pem(key_pem.encode())
