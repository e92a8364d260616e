"""What a push service's answer means for the alarm (RFC 8030, 5 and 8).

answer            meaning                        what follows
2xx               taken for delivery, not seen   accepted
404, 410          no such subscription           dropped; the other channels remain
413               message too large              once more with the id alone
429, 5xx, none    not now                        tried again until the alarm is of no use
400, 401, 403 ..  ours to put right              refused; the subscription is kept and the log is loud
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from hashlib import sha256

from tackwatch.trade.warnings import iso_of

ACCEPTED = "accepted"
DROPPED = "dropped"
TOO_LARGE = "too large"
REFUSED = "refused"
LATER = "later"
FINAL = (ACCEPTED, DROPPED, REFUSED)

FIRST_PAUSE_S = 2.0
LONGEST_PAUSE_S = 60.0
_SPREAD = 0.25


@dataclass(frozen=True, slots=True)
class Verdict:
    """How one attempt on one way ended; ``not_before`` is when to try again, where that helps."""

    result: str
    detail: str
    not_before: datetime | None = None

    def as_dict(self) -> dict[str, str]:
        """Give the verdict as it is kept with the alarm."""
        kept = {"result": self.result, "detail": self.detail}
        return kept if self.not_before is None else {**kept, "not_before": iso_of(self.not_before)}


def from_status(status: int, retry_after: str | None, now: datetime) -> Verdict:
    """Read a push service's status."""
    detail = str(status)
    if 200 <= status < 300:
        return Verdict(ACCEPTED, detail)
    if status in (404, 410):
        return Verdict(DROPPED, detail)
    if status == 413:
        return Verdict(TOO_LARGE, detail)
    if status == 429 or status >= 500:
        return Verdict(LATER, detail, when_again(retry_after, now))
    return Verdict(REFUSED, detail)


def when_again(retry_after: str | None, now: datetime) -> datetime | None:
    """Read ``Retry-After``: seconds or a date (RFC 9110, 10.2.3); ``None`` when it says nothing that can be read."""
    text = (retry_after or "").strip()
    if text.isascii() and text.isdecimal():
        return now + timedelta(seconds=min(int(text[:9]), 86_400))
    try:
        at = parsedate_to_datetime(text)
    except ValueError:
        return None
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def pause(
    attempt: int,
    name: str,
    first_s: float = FIRST_PAUSE_S,
    longest_s: float = LONGEST_PAUSE_S,
) -> timedelta:
    """Give how long to wait after an attempt: doubling, spread by a name so that alarms do not all knock at once."""
    whole = min(first_s * 2.0 ** min(attempt - 1, 10), longest_s)
    share = sha256(f"{name} {attempt}".encode()).digest()[0] / 255
    return timedelta(seconds=whole * (1 + _SPREAD * share))
