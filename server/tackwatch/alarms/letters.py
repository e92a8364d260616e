"""What the work asks the bells to write: the code for a mail address, and calendars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from tackwatch.alarms.calendar import calendar_of
from tackwatch.alarms.deliver.mail import Mailer, send_code
from tackwatch.alarms.deliver.smtp import MailWaits
from tackwatch.alarms.deliver.verdicts import ACCEPTED, LATER
from tackwatch.settings import Settings
from tackwatch.work.letters import Entry, MailNotTakenError, Reader


@dataclass(frozen=True, slots=True)
class Writer:
    """Writes in the words of the bells; see ``tackwatch.work.letters.Letters``."""

    settings: Settings
    waits: MailWaits

    def send_code(self, reader: Reader, to: str, code: str, now: datetime) -> None:
        """Send the code that confirms a mail address."""
        verdict = send_code(Mailer(self.settings, self.waits), reader, to, code, now)
        if verdict.result == LATER:
            raise MailNotTakenError(
                "mail-not-now", "The mail server cannot take it now. Try again later.", 503
            )
        if verdict.result != ACCEPTED:
            detail = f"The mail server refused this address ({verdict.detail})."
            raise MailNotTakenError("mail-refused", detail, 422)

    def calendar(self, reader: Reader, entries: Sequence[Entry], *, feed: bool) -> bytes:
        """Write entries as iCalendar."""
        return calendar_of(reader, entries, self.settings.public_url, feed=feed)
