"""A mail server for tests: aiosmtpd on loopback, which keeps letters and answers as it is told.

It shares no code with the sender; letters are read by the standard library's parser.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import ipaddress
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

OK = "250 OK"


@dataclass(frozen=True)
class Letter:
    """A letter as it arrived."""

    sender: str
    to: tuple[str, ...]
    message: EmailMessage
    sealed: bool
    user: str | None

    def text(self) -> str:
        body = self.message.get_body(("plain",))
        assert body is not None
        return str(body.get_content()).replace("\r\n", "\n")


class Post:
    """What the server does: ``says`` are answers by command, the last of each for ever after."""

    def __init__(self) -> None:
        self.letters: list[Letter] = []
        self.says: dict[str, list[str]] = {}
        self.tries: list[str] = []
        self._came = threading.Condition()

    def _answer(self, command: str) -> str:
        said = self.says.get(command, [OK])
        return said.pop(0) if len(said) > 1 else said[0]

    async def handle_MAIL(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        answer = self._answer("MAIL")
        if answer == OK:
            envelope.mail_from = address
        return answer

    async def handle_RCPT(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        self.tries.append(address)
        answer = self._answer("RCPT")
        if answer == OK:
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope
    ) -> str:
        answer = self._answer("DATA")
        if answer == OK:
            message = message_from_bytes(envelope.content or b"", policy=policy.default)  # type: ignore[arg-type]
            user = session.auth_data.login.decode() if session.auth_data else None
            letter = Letter(
                str(envelope.mail_from), tuple(envelope.rcpt_tos), message,  # type: ignore[arg-type]
                _is_sealed(server), user,
            )  # fmt: skip
            with self._came:
                self.letters.append(letter)
                self._came.notify_all()
        return answer

    def wait_for(self, count: int, timeout_s: float = 30.0) -> list[Letter]:
        with self._came:
            assert self._came.wait_for(lambda: len(self.letters) >= count, timeout_s), self.tries
        return list(self.letters)


def _is_sealed(server: SMTP) -> bool:
    return server.transport is not None and server.transport.get_extra_info("cipher") is not None


class _Control(Controller):
    """A controller on a free port."""

    def _trigger_server(self) -> None:
        self.port = self.server.sockets[0].getsockname()[1]  # type: ignore[union-attr]
        super()._trigger_server()


@contextmanager
def mail_server(
    *,
    tls: ssl.SSLContext | None = None,
    starttls: ssl.SSLContext | None = None,
    password: str = "",
) -> Iterator[tuple[Post, int]]:
    """Run a server; with ``password`` the user ``yard`` must sign in with it."""

    def signs_in(
        server: SMTP, session: Session, envelope: Envelope, how: str, data: Any
    ) -> AuthResult:
        assert isinstance(data, LoginPassword)
        good = (data.login, data.password) == (b"yard", password.encode())
        return AuthResult(success=good, handled=False, auth_data=data if good else None)

    post = Post()
    more: dict[str, Any] = {"tls_context": starttls} if starttls else {}
    if password:
        more |= {
            "authenticator": signs_in, "auth_required": bool(starttls), "auth_require_tls": bool(starttls),
        }  # fmt: skip
    control = _Control(post, hostname="127.0.0.1", port=0, ssl_context=tls, **more)
    control.start()
    try:
        yield post, control.port
    finally:
        control.stop()


@contextmanager
def silent_server() -> Iterator[int]:
    """A server that takes connections and says nothing until it goes away."""
    with socket.create_server(("127.0.0.1", 0), backlog=50) as server:
        peers: list[socket.socket] = []

        def take() -> None:
            with contextlib.suppress(OSError):
                while True:
                    peers.append(server.accept()[0])

        thread = threading.Thread(target=take, daemon=True)
        thread.start()
        try:
            yield int(server.getsockname()[1])
        finally:
            server.shutdown(socket.SHUT_RDWR)
            thread.join()
            for peer in peers:
                peer.close()


def certificate(folder: Path, host: str = "127.0.0.1") -> tuple[ssl.SSLContext, Path]:
    """Make a certificate of its own for a host: the server's context, and the file that a client may trust."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "test")])
    now = dt.datetime.now(dt.UTC)
    names = x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(host))])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(names, critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    place, secret = folder / "server.pem", folder / "server.key"
    place.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    secret.write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(place, secret)
    return context, place
