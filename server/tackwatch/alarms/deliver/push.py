"""Web Push: a message is sealed for one phone (RFC 8291), signed (RFC 8292) and posted to its push service (RFC 8030).

Rules
-----
- The address is checked again at each sending, redirects are not followed, the answer's body is not read.
- Each attempt is signed afresh, for the origin of the address and for at most twelve hours.
- Every wait has an end; a network error is ``later``, never the end of the bell.
- Addresses are secrets of the phone: the log has the host alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

import requests
import structlog
from py_vapid import Vapid02
from pywebpush import WebPusher

from tackwatch.alarms.deliver.verdicts import LATER, REFUSED, TOO_LARGE, Verdict, from_status
from tackwatch.alarms.message import Message
from tackwatch.settings import Settings
from tackwatch.work.push_hosts import origin, push_host_allowed
from tackwatch.work.ring import Phone

CONNECT_S, ANSWER_S = 3.05, 5.0
LONGEST_S = 2 * (
    CONNECT_S + ANSWER_S
)  # of one phone: a message, and once more where it was too large
_SIGNED_FOR = timedelta(hours=12)

_log = structlog.get_logger()


@dataclass(frozen=True, slots=True)
class Waits:
    """How long a push service may take."""

    connect_s: float = 3.05
    answer_s: float = 5.0

    @property
    def longest(self) -> timedelta:
        """Give the longest that one phone can take: a message, and once more where it was too large."""
        return 2 * timedelta(seconds=self.connect_s + self.answer_s)


@dataclass(frozen=True, slots=True)
class PushSender:
    """Sends pushes in the name of this server."""

    settings: Settings
    key_pem: str
    waits: Waits = Waits()

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
            "Content-Encoding": "aes128gcm",
            "Content-Type": "application/octet-stream",
            "TTL": str(message.ttl_s),
            "Urgency": message.urgency,
            "Topic": message.topic,
        }
        try:
            return self._post(phone.endpoint, sealed, headers, authorization, now)
        except (requests.ConnectionError, requests.Timeout) as error:
            return Verdict(LATER, type(error).__name__)
        except requests.RequestException as error:
            return Verdict(REFUSED, type(error).__name__)

    def _post(
        self,
        endpoint: str,
        body: bytes,
        headers: dict[str, str],
        authorization: str,
        now: datetime,
    ) -> Verdict:
        def signed(request: requests.PreparedRequest) -> requests.PreparedRequest:
            request.headers["Authorization"] = authorization  # as auth: no netrc replaces it
            return request

        with requests.post(
            endpoint,
            data=body,
            headers=headers,
            auth=signed,
            timeout=(self.waits.connect_s, self.waits.answer_s),
            allow_redirects=False,
            stream=True,
        ) as answer:
            return from_status(answer.status_code, answer.headers.get("Retry-After"), now)

    def _sign(self, endpoint: str, now: datetime) -> str:
        claims = {
            "aud": origin(endpoint),
            "exp": int((now + _SIGNED_FOR).timestamp()),
            "sub": self.settings.push_contact,
        }
        return str(_signer(self.key_pem).sign(claims)["Authorization"])


def seal(phone: Phone, payload: bytes) -> bytes:
    """Encrypt a payload so that only this phone can read it (aes128gcm); raises when its keys cannot be used."""
    keys = {"p256dh": phone.p256dh, "auth": phone.auth}
    pusher = WebPusher({"endpoint": phone.endpoint, "keys": keys})
    return bytes(pusher.encode(payload, "aes128gcm")["body"])


@lru_cache(maxsize=4)
def _signer(key_pem: str) -> Vapid02:
    return Vapid02.from_pem(key_pem.encode())
