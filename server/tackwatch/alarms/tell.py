"""Telling one person on every way that is not done with yet, each in its own lane.

Rules
-----
- A way is done with when it accepted, was dropped, or refused; the same alarm is not sent on it again.
- While a way is not done with, the alarm is tried again, until it is of no use. Then it is *told* if any way
  accepted it, else *missed*.
- Each way has its own pauses, which grow with its own tries. One that fails, for whatever reason, holds no other.
- What finds no room in its lane, or no time before the lease ends, is given back and counts as no try.
- A person with no way but the open pages is told by them alone.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial

import structlog

from tackwatch.alarms.claim import has_time
from tackwatch.alarms.deliver import stream
from tackwatch.alarms.deliver.verdicts import ACCEPTED, FINAL, LATER, Verdict, pause
from tackwatch.alarms.lanes import Lanes
from tackwatch.alarms.ways import Way
from tackwatch.work.ring import AlarmRow, Ringing, Settled

_JUST_AFTER = timedelta(milliseconds=1)
_NO_TIME = "no time left"
_STOPPED = "stopped"
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


@dataclass(frozen=True, slots=True)
class Hands:
    """What telling needs from its bell.

    ``ended`` is given each alarm once all its ways have ended; ``stopping`` says that nothing more is to be begun.
    """

    now: Callable[[], datetime]
    ended: Callable[[Settled], None]
    stopping: Callable[[], bool]


class Telling:
    """An alarm that was shown on the stream, on its other ways to its person."""

    def __init__(self, ringing: Ringing, hands: Hands) -> None:
        self._alarm, self._hands = ringing.alarm, hands
        self._channels = {**ringing.channels, stream.CHANNEL: {"result": stream.SHOWN}}
        self._again: list[datetime] = []
        self._lock = threading.Lock()
        self._left = 1  # the beginning itself

    def begin(self, ways: list[Way], lanes: Lanes) -> None:
        """Send it on its ways; returns before it is sent."""
        for way in ways:
            before = self._channels.get(way.name, {})
            waits_until = _not_before(before)
            if before.get("result") in FINAL:
                continue
            if waits_until is not None and waits_until > self._hands.now():
                self._again.append(waits_until)
                continue
            with self._lock:
                self._left += 1
            tries = int(before.get("tries", "0"))
            if not lanes.put(way.lane, way.width, partial(self._try, way, tries)):
                self._ended(way, self._soon(_NO_TIME), tries)
        self._one_less()

    def _try(self, way: Way, tries: int) -> None:
        now = self._hands.now
        if self._hands.stopping():
            self._ended(way, Verdict(LATER, _STOPPED, now()), tries)
            return
        if not has_time(self._alarm, now(), way.longest):
            self._ended(way, self._soon(_NO_TIME), tries)
            return
        verdict = self._sent(way)
        tries = tries + 1 if verdict.result == LATER else 0
        if tries and verdict.not_before is None:
            wait = pause(tries, self._alarm.alarm_id, way.pauses.first_s, way.pauses.longest_s)
            verdict = replace(verdict, not_before=now() + wait)
        self._ended(way, verdict, tries)

    def _sent(self, way: Way) -> Verdict:
        try:
            verdict = way.send(self._hands.now())
            way.ended(verdict)
        except Exception as error:  # a fault of ours on one way holds no other
            _log.error("a way failed", alarm_id=self._alarm.alarm_id, way=way.name, exc_info=error)
            return Verdict(LATER, _FAILED)
        return verdict

    def _soon(self, why: str) -> Verdict:
        return Verdict(LATER, why, self._hands.now() + pause(1, self._alarm.alarm_id))

    def _ended(self, way: Way, verdict: Verdict, tries: int) -> None:
        how = verdict.as_dict() | ({"tries": str(tries)} if tries else {})
        with self._lock:
            self._channels[way.name] = how
            if verdict.not_before is not None:
                self._again.append(verdict.not_before)
        self._one_less()

    def _one_less(self) -> None:
        with self._lock:
            self._left -= 1
            if self._left:
                return
        alarm, channels, again = self._alarm, self._channels, self._again
        _log.info("alarm told", alarm_id=alarm.alarm_id, kind=alarm.kind, channels=channels)
        until = min(*again, alarm.useless_after + _JUST_AFTER) if again else None
        self._hands.ended(Settled(alarm, "claimed" if again else "told", channels, until))


def _not_before(how: Mapping[str, str]) -> datetime | None:
    text = how.get("not_before")
    return None if text is None else datetime.fromisoformat(text)
