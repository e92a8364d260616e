"""Counting what was sent: on which channel, how it ended, and how late.

Rules
-----
- What is counted is the difference between how an alarm's channels stood when it was claimed and how they stand when
  its claim ends: an attempt counts once, whichever process made it.
- An attempt that was not made, for want of time or of room in a lane, is none.
- How late: from the alarm's due instant to the end of the attempt that was accepted. What was called off is not late.
- A phone's channel is ``push``, whichever phone it was; open pages are ``page``. How the alarms themselves ended, told
  or missed, stands under ``alarm``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from tackwatch.store import health as store
from tackwatch.store.alarms import AlarmRow
from tackwatch.store.health import Count

Channels = Mapping[str, Mapping[str, str]]

CHANNELS = ("page", "push", "webhook", "mail")
BOUNDS_S = (1, 5, 15, 60, 300, 900, 3600)
NO_BOUND = "+Inf"
SHOWN_DAYS = 35
PAGE, ALARM = "page", "alarm"
_PERSON = "person"  # nobody was there to be told
_NAMES = {"stream": PAGE, "mail": "mail", "webhook": "webhook"}
_RESULTS = {"accepted": "sent", "shown": "sent", "later": "failed"}
_NOT_TRIED = ("no time left", "stopped")
_FEW_ROWS = 2_000


def count(ended: Iterable[tuple[AlarmRow, str, Channels]], now: datetime) -> None:
    """Count how claims ended, in the transaction in which they do.

    Parameters
    ----------
    ended
        Each alarm as it was claimed, the state in which its claim ended, and how its channels stand now.
    now
        The present instant.
    """
    by_refit: dict[str, dict[tuple[str, str, str], list[int]]] = defaultdict(
        lambda: defaultdict(lambda: [0, 0])
    )
    for alarm, state, channels in ended:
        for sort, late_ms in _of_one(alarm, state, channels, now):
            found = by_refit[alarm.refit_id][sort]
            found[0] += 1
            found[1] += late_ms
    for refit_id, counts in sorted(by_refit.items()):
        store.add(refit_id, day_of(now), (Count(*sort, *sums) for sort, sums in counts.items()))


def fold(now: datetime) -> None:
    """Keep the table of counts small, inside a writing transaction."""
    if store.rows_counted() > _FEW_ROWS:
        store.fold(day_of(now - timedelta(days=SHOWN_DAYS)))


def day_of(at: datetime) -> str:
    """Give the date of an instant in UTC."""
    return f"{at:%Y-%m-%d}"


def bucket(late_ms: int) -> str:
    """Give the bound of the bucket that a lateness belongs to."""
    return next((str(bound) for bound in BOUNDS_S if late_ms <= 1000 * bound), NO_BOUND)


def _of_one(
    alarm: AlarmRow, state: str, channels: Channels, now: datetime
) -> Iterable[tuple[tuple[str, str, str], int]]:
    before: Channels = alarm.outcome.get("channels", {})
    called_off = "withdrawn" in alarm.params
    late_ms = max(0, round((now - alarm.due_at).total_seconds() * 1000))
    for name, how in channels.items():
        untried = how == before.get(name) or how.get("detail") in _NOT_TRIED
        if untried or called_off or name == _PERSON:
            continue
        channel, result = _NAMES.get(name, "push"), _RESULTS.get(how["result"], how["result"])
        if result == "sent":
            at_ms = _shown_late_ms(alarm, late_ms) if channel == PAGE else late_ms
            yield (channel, result, bucket(at_ms)), at_ms
        else:
            yield (channel, result, ""), 0
    if state in ("told", "missed") and not called_off:
        yield (ALARM, state, ""), 0


def _shown_late_ms(alarm: AlarmRow, late_ms: int) -> int:
    if alarm.told_at is None or alarm.told_at < alarm.due_at:
        return late_ms
    return max(0, round((alarm.told_at - alarm.due_at).total_seconds() * 1000))
