"""Letters over real connections to a mail server that the project did not write, and what each answer means."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path

import pytest
from aiosmtpd.smtp import SMTP

from tackwatch.alarms.deliver.mail import new_letter
from tackwatch.alarms.deliver.smtp import MailWaits, hand_in
from tackwatch.alarms.deliver.verdicts import Verdict
from tackwatch.settings import SettingError, Settings, Smtp, from_environment
from tests.support.mail_server import Post, certificate, mail_server

QUICK = MailWaits(answer_s=2.0, whole_s=6.0)
TO = "olga@yard.example"
TEXT = "Línea uno\n.\nafter a lone dot\n"


def _smtp(port: int, **rest: str) -> Smtp:
    return Smtp(
        **{
            "host": "127.0.0.1",
            "port": port,
            "security": "none",
            "sender": "bell@boat.example",
            **rest,
        }
    )  # type: ignore[arg-type]


def _send(smtp: Smtp, waits: MailWaits = QUICK) -> Verdict:
    settings = Settings(Path(), "", smtp=smtp)
    letter = new_letter(
        settings, TO, "Start the next coat: próxima mano", TEXT, "es", datetime.now(UTC)
    )
    return hand_in(smtp, waits, TO, letter)


@pytest.fixture
def post() -> Iterator[tuple[Post, int]]:
    with mail_server() as running:
        yield running


def test_a_letter_arrives_whole_rfc5321_rfc5322(post: tuple[Post, int]) -> None:
    """Source: read by aiosmtpd and by the standard library's parser; RFC 5321 4.5.2 for the lone dot."""
    server, port = post
    assert _send(_smtp(port)) == Verdict("accepted", "250")
    (letter,) = server.wait_for(1)
    assert (letter.sender, letter.to) == ("bell@boat.example", (TO,))
    assert letter.message["Subject"] == "Start the next coat: próxima mano"
    assert letter.text().splitlines() == ["Línea uno", ".", "after a lone dot"]
    assert letter.message["Auto-Submitted"] == "auto-generated"
    assert letter.message["Content-Language"] == "es"
    sent_at = parsedate_to_datetime(letter.message["Date"])
    assert abs(sent_at - datetime.now(UTC)) < timedelta(minutes=2)


@pytest.mark.parametrize(
    ("command", "said", "result", "detail"),
    [
        ("RCPT", "450 4.2.0 greylisted, olga@yard.example", "later", "450 4.2.0"),
        ("RCPT", "452 4.2.2 full", "later", "452 4.2.2"),
        ("MAIL", "451 4.3.0 not now", "later", "451 4.3.0"),
        ("DATA", "451 4.7.1 not now", "later", "451 4.7.1"),
        ("RCPT", "550 5.1.1 no such user", "dropped", "550 5.1.1"),
        ("RCPT", "550 5.7.1 relaying denied", "refused", "550 5.7.1"),
        ("RCPT", "550 5.7.1 see 5.1.1", "refused", "550 5.7.1"),
        ("RCPT", "550 no", "refused", "550"),
        ("MAIL", "553 5.1.8 sender unknown", "refused", "553 5.1.8"),
        ("DATA", "554 5.7.1 looks like spam", "refused", "554 5.7.1"),
    ],
)
def test_each_answer_has_its_meaning_rfc5321_rfc3463(
    post: tuple[Post, int], command: str, said: str, result: str, detail: str
) -> None:
    """Source: RFC 5321 4.2.1 (4yz and 5yz), RFC 3463 3.2 (X.1.X: the address)."""
    server, port = post
    server.says[command] = [said]
    assert _send(_smtp(port)) == Verdict(result, detail)
    assert server.letters == []


def test_a_refused_connection_is_tried_later() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        assert _send(_smtp(taken.getsockname()[1])) == Verdict("later", "ConnectionRefusedError")


@contextlib.contextmanager
def _talker(*lines: bytes, drips: bool = False) -> Iterator[int]:
    """A server that says these lines, one for each that it hears, and then nothing, or drips for ever."""
    over = threading.Event()

    def talk() -> None:
        with contextlib.suppress(OSError):
            peer, _ = server.accept()
            with peer:
                for line in lines:
                    peer.sendall(line)
                    peer.recv(1000)
                while drips and not over.wait(0.1):
                    peer.sendall(b"250-more\r\n")
                over.wait(30)

    with socket.create_server(("127.0.0.1", 0)) as server:
        thread = threading.Thread(target=talk, daemon=True)
        thread.start()
        try:
            yield server.getsockname()[1]
        finally:
            over.set()
            thread.join(5)


@pytest.mark.parametrize("lines", [(), (b"220 hello\r\n",), (b"220 hello\r\n", b"250 you\r\n")])
def test_a_server_that_falls_silent_is_given_up(lines: tuple[bytes, ...]) -> None:
    with _talker(*lines) as port:
        verdict = _send(_smtp(port), MailWaits(answer_s=0.3, whole_s=5.0))
    assert verdict.result == "later"


def test_a_server_that_answers_each_time_just_in_time_is_given_up_altogether() -> None:
    many = [b"220 hello\r\n", b"250 you\r\n", b"250 OK\r\n", b"250 OK\r\n"]
    with _talker(*many) as port:
        verdict = _send(_smtp(port), MailWaits(answer_s=30.0, whole_s=0.0))
    assert verdict.result == "later"


def test_no_service_here_is_loud_and_tried_later(capsys: pytest.CaptureFixture[str]) -> None:
    with _talker(b"554 no service\r\n") as port:
        assert _send(_smtp(port)) == Verdict("later", "554")
    assert "to be put right" in capsys.readouterr().out


def test_a_letter_that_was_taken_is_not_sent_again_for_a_bad_goodbye(
    post: tuple[Post, int],
) -> None:
    server, port = post

    async def gone(smtp: SMTP, *_: object) -> str:
        assert smtp.transport is not None
        smtp.transport.abort()
        return "221 bye"

    server.handle_QUIT = gone  # type: ignore[attr-defined]
    assert _send(_smtp(port)) == Verdict("accepted", "250")
    assert len(server.wait_for(1)) == 1


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_the_password_goes_sealed_to_a_server_that_is_trusted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, security: str
) -> None:
    context, trusted = certificate(tmp_path)
    monkeypatch.setenv("SSL_CERT_FILE", str(trusted))
    peer = {"tls": context} if security == "tls" else {"starttls": context}
    word = "sesame" if security == "starttls" else ""
    with mail_server(**peer, password=word) as (server, port):  # type: ignore[arg-type]
        smtp = _smtp(port, security=security, user="yard" if word else "", password=word)
        assert _send(smtp) == Verdict("accepted", "250")
        (letter,) = server.wait_for(1)
    assert (letter.sealed, letter.user) == (True, "yard" if word else None)


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_server_that_is_not_trusted_gets_nothing_and_is_tried_later(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], security: str
) -> None:
    context, _ = certificate(tmp_path)
    peer = {"tls": context} if security == "tls" else {"starttls": context}
    with mail_server(**peer) as (server, port):  # type: ignore[arg-type]
        verdict = _send(_smtp(port, security=security))
        assert verdict == Verdict("later", "SSLCertVerificationError")
        assert (server.letters, server.tries) == ([], [])
    assert "to be put right" in capsys.readouterr().out


def test_without_starttls_nothing_is_sent(post: tuple[Post, int]) -> None:
    server, port = post
    verdict = _send(_smtp(port, security="starttls", user="yard", password="sesame"))
    assert verdict == Verdict("later", "SMTPNotSupportedError")
    assert (server.letters, server.tries) == ([], [])


def test_a_wrong_password_is_loud_and_tried_later(capsys: pytest.CaptureFixture[str]) -> None:
    with mail_server(password="sesame") as (server, port):
        assert _send(_smtp(port, user="yard", password="wrong")) == Verdict("later", "535")
        assert server.tries == []
    said = capsys.readouterr().out
    assert "to be put right" in said
    assert "wrong" not in said


def test_what_servers_write_beside_their_codes_is_not_kept(
    post: tuple[Post, int], capsys: pytest.CaptureFixture[str]
) -> None:
    server, port = post
    server.says["RCPT"] = [f"550 5.7.1 <{TO}> unwanted"]
    assert TO not in str(_send(_smtp(port)))
    assert TO not in capsys.readouterr().out


GIVEN = {"TACKWATCH_SMTP_HOST": "mail.example", "TACKWATCH_SMTP_SENDER": "bell@boat.example"}


def test_mail_is_set_from_the_environment(tmp_path: Path) -> None:
    secret = tmp_path / "word"
    secret.write_text("sesame\n")
    more = {"TACKWATCH_SMTP_USER": "yard", "TACKWATCH_SMTP_PASSWORD_FILE": str(secret)}
    smtp = from_environment({**GIVEN, **more}).smtp
    assert smtp == Smtp("mail.example", 587, "starttls", "bell@boat.example", "yard", "sesame")
    assert "sesame" not in repr(smtp)
    assert from_environment({}).smtp is None
    tls = from_environment({**GIVEN, "TACKWATCH_SMTP_SECURITY": "tls"}).smtp
    assert tls is not None
    assert tls.port == 465


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"TACKWATCH_SMTP_SECURITY": "ssl"}, "TACKWATCH_SMTP_SECURITY"),
        ({"TACKWATCH_SMTP_SENDER": "nobody"}, "TACKWATCH_SMTP_SENDER"),
        ({"TACKWATCH_SMTP_PORT": "smtp"}, "TACKWATCH_SMTP_PORT"),
        ({"TACKWATCH_SMTP_USER": "yard"}, "TACKWATCH_SMTP_PASSWORD_FILE"),
        (
            {"TACKWATCH_SMTP_USER": "yard", "TACKWATCH_SMTP_SECURITY": "none"},
            "TACKWATCH_SMTP_SECURITY",
        ),
    ],
)
def test_settings_of_mail_that_cannot_be_used_are_named(
    changes: dict[str, str], field: str
) -> None:
    with pytest.raises(SettingError) as caught:
        from_environment({**GIVEN, **changes})
    assert caught.value.field == field
