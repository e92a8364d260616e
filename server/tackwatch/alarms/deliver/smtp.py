"""Handing a letter to the operator's mail server (RFC 5321), and what its answers mean.

answer                                      what follows
250 after the letter                        accepted
4xx; no connection, no answer in time       tried again until the alarm is of no use
5xx for the recipient, 5.1.x (RFC 3463)     dropped: there is no such mailbox
other 5xx for recipient, sender or letter   refused
no STARTTLS, no trust, no sign-in, 5xx at   ours to put right: loud in the log, and tried again, since it may be put
the greeting                                right while the alarm is still of use

Rules
-----
- Every wait has an end, and the whole exchange has one too.
- With ``starttls`` and ``tls`` the server's certificate and name are checked, and nothing is sent without it.
- Details are the status codes alone: what servers write beside them holds addresses.
- A letter that was taken is not sent again because the goodbye failed.
"""

from __future__ import annotations

import contextlib
import re
import smtplib
import ssl
from dataclasses import dataclass
from email.message import EmailMessage
from email.policy import SMTP as SMTP_POLICY
from time import monotonic
from typing import Any, cast

import structlog

from tackwatch.alarms.deliver.verdicts import ACCEPTED, DROPPED, LATER, REFUSED, Verdict
from tackwatch.settings import Smtp

POLICY = SMTP_POLICY.clone(cte_type="7bit")
_NO_SUCH_MAILBOX = re.compile(rb"5\.1\.\d{1,3}\b")
_ENHANCED = re.compile(rb"\s*([245]\.\d{1,3}\.\d{1,3})\b")

_log = structlog.get_logger()


@dataclass(frozen=True, slots=True)
class MailWaits:
    """How long a mail server may take: for one answer, and altogether."""

    answer_s: float = 6.0
    whole_s: float = 18.0


class _Bounded:
    """Ends an exchange that takes too long altogether, however short each of its waits is."""

    ends_at: float
    wait_s: float

    def getreply(self) -> tuple[int, bytes]:
        left_s, server = self.ends_at - monotonic(), cast(smtplib.SMTP, self)
        if left_s <= 0:
            server.close()
            raise TimeoutError
        if server.sock is not None:
            server.sock.settimeout(min(left_s, self.wait_s))
        reply: tuple[int, bytes] = super().getreply()  # type: ignore[misc]
        return reply


class _Plain(_Bounded, smtplib.SMTP):
    pass


class _Sealed(_Bounded, smtplib.SMTP_SSL):
    pass


def hand_in(smtp: Smtp, waits: MailWaits, to: str, letter: EmailMessage) -> Verdict:
    """Hand in a letter for one recipient."""
    try:
        server = _connected(smtp, waits)
        try:
            _say(server, smtp, to, letter)
        finally:
            with contextlib.suppress(smtplib.SMTPException, OSError):
                server.quit()
            server.close()
    except Exception as error:  # judged below: the library's own, and what the network raises
        return _judged(error, to, smtp.host)
    return Verdict(ACCEPTED, "250")


def _connected(smtp: Smtp, waits: MailWaits) -> Any:
    sealed = smtp.security == "tls"
    server: Any = (_Sealed if sealed else _Plain).__new__(_Sealed if sealed else _Plain)
    server.ends_at, server.wait_s = monotonic() + waits.whole_s, waits.answer_s
    how: dict[str, Any] = {"context": ssl.create_default_context()} if sealed else {}
    server.__init__(smtp.host, smtp.port, timeout=waits.answer_s, **how)
    return server


def _say(server: Any, smtp: Smtp, to: str, letter: EmailMessage) -> None:
    if smtp.security == "starttls":
        server.starttls(context=ssl.create_default_context())
    if smtp.user:
        server.login(smtp.user, smtp.password)
    server.send_message(letter, smtp.sender, [to])


def _judged(error: Exception, to: str, host: str) -> Verdict:
    """Say what an error means for the letter."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        status, said = error.recipients[to]
        return _from_status(status, said, host, of_recipient=True)
    if isinstance(error, smtplib.SMTPSenderRefused | smtplib.SMTPDataError):
        return _from_status(error.smtp_code, error.smtp_error, host)
    name = type(error).__name__
    if isinstance(error, smtplib.SMTPResponseException):
        name = str(error.smtp_code)
    ours = isinstance(
        error, smtplib.SMTPNotSupportedError | smtplib.SMTPResponseException | ssl.SSLError
    )
    if ours and not 400 <= getattr(error, "smtp_code", 0) < 500:
        _log.error("mail refused: to be put right on this server", mail_server=host, why=name)
    if isinstance(error, OSError | smtplib.SMTPException):
        return Verdict(LATER, name)
    _log.error("a letter cannot be written", mail_server=host, exc_info=error)
    return Verdict(REFUSED, name)


def _from_status(
    status: int, said: bytes | str, host: str, *, of_recipient: bool = False
) -> Verdict:
    text = said.encode("ascii", "replace") if isinstance(said, str) else said
    enhanced = _ENHANCED.match(text)
    detail = f"{status} {enhanced[1].decode()}" if enhanced else str(status)
    if status < 500:
        return Verdict(LATER, detail)
    if of_recipient and enhanced and _NO_SUCH_MAILBOX.fullmatch(enhanced[1]):
        return Verdict(DROPPED, detail)
    _log.error("mail refused: to be put right on this server", mail_server=host, why=detail)
    return Verdict(REFUSED, detail)
