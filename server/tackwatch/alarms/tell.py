"""Telling one person: every way that is not done with yet, those never tried before first.

Rules
-----
- A way is done with when it accepted, was dropped, or refused; the same alarm is not sent on it again.
- While a way is not done with, the alarm is tried again, until it is of no use. Then it is *told* if any way
  accepted it, else *missed*.
- Each way has its own pauses, which grow with its own tries. One that fails, for whatever reason, holds no other.
- A person with no way but the open pages is told by them alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

import structlog

from tackwatch.alarms.claim import has_time
from tackwatch.alarms.deliver import stream
from tackwatch.alarms.deliver.verdicts import ACCEPTED, FINAL, LATER, Verdict, pause
from tackwatch.alarms.ways import Senders, Way
from tackwatch.work.ring import AlarmRow, Ringing, Settled

_JUST_AFTER = timedelta(milliseconds=1)
_NO_TIME = "no time left"
_FAILED = "failed"

_log = structlog.get_logger()


def is_useless(alarm: AlarmRow, now: datetime) -> bool:
    """Say whether it is too late for an alarm to be of use."""
    return now > alarm.useless_after


def too_late(alarm: AlarmRow) -> Settled:
    """Settle an alarm that is of no use any more."""
    channels = alarm.outcome.get("channels", {})
    reached = any(how["result"] == ACCEPTED for how in channels.values())
    _log.warning("alarm too late", alarm_id=alarm.alarm_id, kind=alarm.kind, reached=reached)
    return Settled(alarm, "told" if reached else "missed", channels)


def tell(ringing: Ringing, senders: Senders, now: Callable[[], datetime]) -> Settled:
    """Tell an alarm that was shown on the stream to its person on every way."""
    alarm = ringing.alarm
    channels = {**ringing.channels, stream.CHANNEL: {"result": stream.SHOWN}}
    again: list[datetime] = []
    for way in _open_ways(ringing, senders):
        before = channels.get(way.name, {})
        waits_until = _not_before(before)
        if waits_until is not None and waits_until > now():
            again.append(waits_until)
            continue
        verdict, tries = _tried(ringing, way, int(before.get("tries", "0")), now)
        channels[way.name] = verdict.as_dict() | ({"tries": str(tries)} if tries else {})
        if verdict.not_before is not None:
            again.append(verdict.not_before)
    _log.info("alarm told", alarm_id=alarm.alarm_id, kind=alarm.kind, channels=channels)
    if not again:
        return Settled(alarm, "told", channels)
    return Settled(alarm, "claimed", channels, min(*again, alarm.useless_after + _JUST_AFTER))


def _tried(
    ringing: Ringing, way: Way, tries: int, now: Callable[[], datetime]
) -> tuple[Verdict, int]:
    """Try a way once, and give how that ended with the tries that count for its next pause."""
    alarm = ringing.alarm
    soon = Verdict(LATER, _NO_TIME, now() + pause(1, alarm.alarm_id))
    if not has_time(alarm, now(), way.longest):
        return soon, tries
    if way.lanes is not None and not way.lanes.acquire(blocking=False):
        return soon, tries
    try:
        verdict = _sent(alarm, way, now)
    finally:
        if way.lanes is not None:
            way.lanes.release()
    if verdict.result != LATER:
        return verdict, 0
    tries += 1
    if verdict.not_before is None:
        wait = pause(tries, alarm.alarm_id, way.pauses.first_s, way.pauses.longest_s)
        verdict = replace(verdict, not_before=now() + wait)
    return verdict, tries


def _sent(alarm: AlarmRow, way: Way, now: Callable[[], datetime]) -> Verdict:
    try:
        verdict = way.send(now())
        way.ended(verdict)
    except Exception as error:  # a fault of ours on one way holds no other
        _log.error("a way failed", alarm_id=alarm.alarm_id, way=way.name, exc_info=error)
        return Verdict(LATER, _FAILED)
    return verdict


def _open_ways(ringing: Ringing, senders: Senders) -> list[Way]:
    """Give the ways that are not done with, those never tried first."""
    before = {way.name: ringing.channels.get(way.name, {}) for way in senders.ways_to(ringing)}
    rest = [way for way in senders.ways_to(ringing) if before[way.name].get("result") not in FINAL]
    return sorted(rest, key=lambda way: before[way.name].get("detail", _NO_TIME) != _NO_TIME)


def _not_before(how: Mapping[str, str]) -> datetime | None:
    text = how.get("not_before")
    return None if text is None else datetime.fromisoformat(text)
