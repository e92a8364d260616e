"""Instants at the door, seconds inside.

Rules
-----
* At the door an instant is an aware datetime; a naive one is refused, for it names no moment.
* Inside, arithmetic runs on float seconds since 1970-01-01T00:00Z (POSIX, no leap seconds).
* Answers go back as aware UTC, rounded to the millisecond: finer than the second to which the
  server and the phone agree, and coarse enough that both write the same text.
"""

from datetime import UTC, datetime, timedelta

from tackwatch.trade.errors import TradeError

EPOCH_AT = datetime(1970, 1, 1, tzinfo=UTC)


def seconds_of(at: datetime, field: str = "at") -> float:
    """Give an aware instant as seconds since the epoch.

    Raises
    ------
    TradeError
        When the instant carries no time zone.
    """
    if at.tzinfo is None:
        raise TradeError(field, "an instant needs its time zone")
    return (at - EPOCH_AT) / timedelta(seconds=1)


def instant_of(at_s: float) -> datetime:
    """Give seconds since the epoch as an aware UTC instant, to the millisecond."""
    return EPOCH_AT + timedelta(milliseconds=round(at_s * 1000.0))
