"""Mail: an alarm as a letter in plain text, in its person's language.

Rules
-----
- The Message-ID is made of alarm, person and instant: a repeat of the same telling has the same, so that mailboxes can
  recognise it. An alarm that moved and rings again is another letter; both belong to one thread (RFC 5322, 3.6.4).
- ``Auto-Submitted: auto-generated``: nobody's holiday notice answers it (RFC 3834, 5).
- Days are named by their date: letters are read late.
- Who asked for it gets the alarm as a calendar entry too.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from email.message import EmailMessage
from email.utils import format_datetime
from hashlib import sha256

from tackwatch.alarms.calendar import calendar_of, dated_words
from tackwatch.alarms.deliver.smtp import POLICY, MailWaits, hand_in
from tackwatch.alarms.deliver.verdicts import REFUSED, Verdict
from tackwatch.alarms.words import catalogue, language_of
from tackwatch.settings import Settings
from tackwatch.trade.warnings import iso_of
from tackwatch.work.calendar import calendar_of_one
from tackwatch.work.errors import NotFoundError
from tackwatch.work.letters import Reader
from tackwatch.work.ring import AddressRow, AlarmRow, Ringing

CHANNEL = "mail"


@dataclass(frozen=True, slots=True)
class Mailer:
    """Sends mail in the name of this server."""

    settings: Settings
    waits: MailWaits

    @property
    def longest(self) -> timedelta:
        """Give the longest that one letter can take."""
        return timedelta(seconds=self.waits.whole_s)

    def send(self, ringing: Ringing, address: AddressRow, now: datetime) -> Verdict:
        """Send an alarm to its person's mail address."""
        letter = self._letter(ringing, address, now)
        return self.hand_in(address.target, letter)

    def hand_in(self, to: str, letter: EmailMessage) -> Verdict:
        """Hand in a letter at the operator's mail server."""
        if self.settings.smtp is None:
            return Verdict(REFUSED, "this server sends no mail")
        return hand_in(self.settings.smtp, self.waits, to, letter)

    def _letter(self, ringing: Ringing, address: AddressRow, now: datetime) -> EmailMessage:
        alarm, reader = ringing.alarm, ringing.reader
        words = dated_words(reader, alarm.kind, alarm.params, alarm.due_at)
        frame = catalogue(words.lang)["mail"]
        link = frame["link"].format(url=f"{self.settings.public_url}/#/now")
        why = frame["why"].format(refit=reader.refit_name)
        text = f"{words.body}\n\n{link}\n\n-- \n{why}\n"
        letter = new_letter(self.settings, address.target, words.title, text, words.lang, now)
        letter["Message-ID"] = f"<{_name_of(alarm)}@{_domain(self.settings)}>"
        letter["References"] = f"<{_name(alarm, 'all')}@{_domain(self.settings)}>"
        if address.with_calendar:
            self._attach(letter, alarm, now)
        return letter

    def _attach(self, letter: EmailMessage, alarm: AlarmRow, now: datetime) -> None:
        try:
            reader, entries = calendar_of_one(alarm.refit_id, alarm.member_id, alarm.alarm_id, now)
        except NotFoundError:
            return  # called off before any calendar had it
        content = calendar_of(reader, entries, self.settings.public_url)
        letter.add_attachment(content.decode(), subtype="calendar", filename="alarm.ics")


def new_letter(
    settings: Settings, to: str, subject: str, text: str, lang: str, now: datetime
) -> EmailMessage:
    """Begin a letter that a machine writes."""
    letter = EmailMessage(POLICY)
    letter.set_content(text)  # first: it takes away what was said of the content
    letter["From"] = settings.smtp.sender if settings.smtp else ""
    letter["To"] = to
    letter["Subject"] = subject
    letter["Date"] = format_datetime(now)
    letter["Auto-Submitted"] = "auto-generated"
    letter["Content-Language"] = lang
    return letter


def send_code(mailer: Mailer, reader: Reader, to: str, code: str, now: datetime) -> Verdict:
    """Send the code that confirms an address."""
    lang = language_of(reader.language)
    frame = catalogue(lang)["mail"]
    subject = frame["code_title"].format(code=code)
    said = [line.format(code=code, refit=reader.refit_name) for line in frame["code_body"]]
    letter = new_letter(mailer.settings, to, subject, "\n\n".join(said) + "\n", lang, now)
    name = sha256(f"{reader.refit_id} {reader.member_id} {code} {iso_of(now)}".encode()).hexdigest()
    letter["Message-ID"] = f"<code.{name[:32]}@{_domain(mailer.settings)}>"
    return mailer.hand_in(to, letter)


def _name_of(alarm: AlarmRow) -> str:
    return _name(alarm, f"{iso_of(alarm.due_at)} {alarm.params.get('withdrawn', '')}")


def _name(alarm: AlarmRow, which: str) -> str:
    text = f"{alarm.refit_id} {alarm.member_id} {alarm.alarm_id} {which}"
    return f"alarm.{sha256(text.encode()).hexdigest()[:32]}"


def _domain(settings: Settings) -> str:
    return settings.smtp.sender.rpartition("@")[2].rstrip(">") if settings.smtp else "localhost"
