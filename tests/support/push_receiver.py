"""A push service and phone for tests: a real HTTP server that checks the signature and opens the message.

Everything is written from the standards with ``cryptography`` alone, so that it shares no code with the sender:
RFC 8030 (the request), RFC 8188 and 8291 (the sealed body), RFC 8292 and 7515 (the signature).
"""

from __future__ import annotations

import base64
import json
import struct
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, utils
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF


def b64(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def unb64(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def point(key: ec.EllipticCurvePublicKey) -> bytes:
    return key.public_bytes(
        serialization.Encoding.X962, serialization.PublicFormat.UncompressedPoint
    )


@dataclass(frozen=True)
class PhoneKeys:
    """The secrets that a phone makes when it subscribes."""

    private: ec.EllipticCurvePrivateKey
    auth: bytes

    @property
    def p256dh(self) -> str:
        return b64(point(self.private.public_key()))


def open_message(sealed: bytes, keys: PhoneKeys) -> bytes:
    """Decrypt an aes128gcm body: RFC 8188 with the keys of RFC 8291, 3.4."""
    salt, record_size, id_length = sealed[:16], *struct.unpack("!LB", sealed[16:21])
    sender, records = sealed[21 : 21 + id_length], sealed[21 + id_length :]
    assert id_length == 65
    assert len(records) <= record_size
    secret = keys.private.exchange(
        ec.ECDH(), ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), sender)
    )
    phone = point(keys.private.public_key())
    ikm = _hkdf(keys.auth, secret, b"WebPush: info\x00" + phone + sender, 32)
    content_key = _hkdf(salt, ikm, b"Content-Encoding: aes128gcm\x00", 16)
    nonce = _hkdf(salt, ikm, b"Content-Encoding: nonce\x00", 12)
    padded = AESGCM(content_key).decrypt(nonce, records, None)
    text = padded.rstrip(b"\x00")
    assert text[-1:] == b"\x02", "the last record of a message ends with 2 and padding"
    return text[:-1]


def _hkdf(salt: bytes, secret: bytes, info: bytes, length: int) -> bytes:
    return HKDF(hashes.SHA256(), length, salt, info).derive(secret)


def check_signature(authorization: str, audience: str, now: datetime) -> dict[str, Any]:
    """Check a signature of RFC 8292 and give its claims; raise when anything is not as it says."""
    scheme, _, rest = authorization.partition(" ")
    assert scheme.lower() == "vapid"
    parts = dict(part.strip().split("=", 1) for part in rest.split(","))
    head, claims, signature = parts["t"].split(".")
    assert json.loads(unb64(head))["alg"] == "ES256"
    raw = unb64(signature)
    assert len(raw) == 64
    key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), unb64(parts["k"]))
    whole = utils.encode_dss_signature(int.from_bytes(raw[:32]), int.from_bytes(raw[32:]))
    key.verify(whole, f"{head}.{claims}".encode(), ec.ECDSA(hashes.SHA256()))
    said: dict[str, Any] = json.loads(unb64(claims))
    assert said["aud"] == audience
    assert 0 < said["exp"] - now.timestamp() <= 24 * 3600, "RFC 8292, 2: at most 24 hours"
    assert said["sub"].startswith(("mailto:", "https:"))
    return {**said, "k": parts["k"]}


@dataclass(frozen=True)
class Answer:
    """How the service answers one post; with ``stall`` it waits for the event first."""

    status: int = 201
    headers: Mapping[str, str] = field(default_factory=dict)
    stall: threading.Event | None = None


@dataclass(frozen=True)
class Push:
    """A message as it arrived."""

    name: str
    headers: Mapping[str, str]
    payload: dict[str, Any]
    claims: dict[str, Any]
    answered: int
    at: datetime


class PushReceiver:
    """Push service and phones in one; ``pushes`` are all messages that came, whatever was answered."""

    def __init__(self) -> None:
        self.pushes: list[Push] = []
        self.faults: list[str] = []
        self._phones: dict[str, PhoneKeys] = {}
        self._answers: dict[str, list[Answer]] = {}
        self._came = threading.Condition()
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                receiver._take(self)

            def log_message(self, *_: Any) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.origin = f"http://127.0.0.1:{self.server.server_port}"

    def subscribe(self, name: str, answers: Sequence[Answer] = (Answer(),)) -> dict[str, str]:
        """Add a phone; of its answers the last is given for ever after."""
        keys = PhoneKeys(ec.generate_private_key(ec.SECP256R1()), b"0123456789abcdef")
        self._phones[name] = keys
        self._answers[name] = list(answers)
        return {
            "endpoint": f"{self.origin}/push/{name}",
            "p256dh": keys.p256dh,
            "auth": b64(keys.auth),
        }

    def wait_for(self, count: int, timeout_s: float = 20.0) -> list[Push]:
        """Wait until that many messages came, and give all that did."""
        with self._came:
            enough = self._came.wait_for(
                lambda: len(self.pushes) >= count or self.faults, timeout_s
            )
        assert not self.faults, self.faults
        assert enough, f"{len(self.pushes)} of {count} messages came"
        return list(self.pushes)

    def shown(self) -> dict[str, dict[str, Push]]:
        """Give what each phone shows: notifications with one tag take each other's place."""
        shown: dict[str, dict[str, Push]] = {}
        for push in self.pushes:
            if 200 <= push.answered < 300:
                shown.setdefault(push.name, {})[push.payload["alarm_id"]] = push
        return shown

    def _take(self, request: BaseHTTPRequestHandler) -> None:
        body = request.rfile.read(int(request.headers.get("Content-Length", "0")))
        name = request.path.rpartition("/")[2]
        with self._came:
            answers = self._answers[name]
            answer = answers.pop(0) if len(answers) > 1 else answers[0]
            try:
                self.pushes.append(self._read(name, request.headers, body, answer.status))
            except Exception as error:
                self.faults.append(f"{type(error).__name__}: {error}")
            self._came.notify_all()
        if answer.stall is not None:
            answer.stall.wait(30)
        try:
            request.send_response(answer.status)
            for header, value in {"Content-Length": "0", **answer.headers}.items():
                request.send_header(header, value)
            request.end_headers()
        except OSError:
            pass  # the sender went away meanwhile

    def _read(self, name: str, headers: Any, body: bytes, status: int) -> Push:
        now = datetime.now(UTC)
        assert headers["Content-Encoding"] == "aes128gcm"
        assert int(headers["TTL"]) > 0, "a phone that is offline would never get it"
        assert headers["Urgency"] in ("very-low", "low", "normal", "high")
        assert len(headers["Topic"]) <= 32
        assert set(headers["Topic"]) <= set(
            "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
        )
        claims = check_signature(headers["Authorization"], self.origin, now)
        payload = json.loads(open_message(body, self._phones[name]))
        return Push(name, dict(headers), payload, claims, status, now)


@contextmanager
def push_receiver() -> Iterator[PushReceiver]:
    """Run a receiver on a free port."""
    receiver = PushReceiver()
    thread = threading.Thread(target=receiver.server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield receiver
    finally:
        receiver.server.shutdown()
        receiver.server.server_close()
        thread.join()
