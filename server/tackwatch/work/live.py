"""Telling open pages at once what moved: one watcher per web process, shared by all its streams.

Rules
-----
- A stream is told ``changed`` when its refit's counter is another than before, ``plans`` when one of its plans changed,
  ``alarm`` when its member was told an alarm, and ``quiet`` when nothing else was said for 15 seconds, so that a broken
  connection is noticed on both sides.
- The watcher looks once a second while anybody listens, in a few short reads; no stream holds a transaction open.
- ``told_at`` is written by another process, whose transaction may end later than the instant says: the watcher looks
  back half a minute and remembers what it has said.
- A stream ends when its device's key is withdrawn, when a device opens too many, or when the process stops.
"""

from __future__ import annotations

import queue
import threading
from collections import Counter
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import structlog

from tackwatch.store import live as reads
from tackwatch.store import plans
from tackwatch.store.db import db
from tackwatch.work.caller import Caller
from tackwatch.work.errors import TooManyError

QUIET_S = 15.0
LOOK_S = 1.0
_LOOK_BACK = timedelta(seconds=30)
_MOST_PER_DEVICE = 4
_BACKLOG = 200

_log = structlog.get_logger()


@dataclass(frozen=True, slots=True)
class Event:
    """One thing to say on a stream."""

    name: str
    data: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Told:
    """An alarm that was told, for one member."""

    refit_id: str
    member_id: str
    alarm_id: str
    told_at: datetime
    data: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Seen:
    """What one look at the database found."""

    counters: dict[str, int]
    withdrawn: set[str]
    told: list[Told]
    plans: dict[str, int] = field(default_factory=dict)


@dataclass(eq=False, slots=True)
class Stream:
    """One open page; ``events`` ends with ``None``."""

    caller: Caller
    events: queue.Queue[Event | None] = field(default_factory=lambda: queue.Queue(_BACKLOG))
    counter: int = -1
    plans: int = -1

    def say(self, event: Event | None) -> None:
        """Queue an event; a page that does not read is cut off and comes back by itself."""
        try:
            self.events.put_nowait(event)
        except queue.Full:
            self.events.get_nowait()
            self.events.put_nowait(None)


def look(refit_ids: Collection[str], device_ids: Collection[str], now: datetime) -> Seen:
    """Look at the database once; leaves no transaction open."""
    try:
        return Seen(
            reads.counters(refit_ids),
            reads.withdrawn(device_ids),
            [_told(alarm) for alarm in reads.told_since(refit_ids, now - _LOOK_BACK)],
            plans.revs(refit_ids),
        )
    finally:
        db.session.rollback()


def _told(alarm: Any) -> Told:
    data = {
        "alarm_id": alarm.alarm_id,
        "kind": alarm.kind,
        "due_at": alarm.due_at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "params": alarm.params,
        "source_id": alarm.source_id,
    }
    return Told(alarm.refit_id, alarm.member_id, alarm.alarm_id, alarm.told_at, data)


Look = Callable[[Collection[str], Collection[str]], Seen]


class Hub:
    """The streams of one web process and the thread that watches for them.

    Parameters
    ----------
    look
        Reads the database for some refits and devices.
    most
        How many streams may be open at once; further ones are asked to come back.
    """

    def __init__(self, look: Look, most: int) -> None:
        self._look = look
        self._most = most
        self._streams: list[Stream] = []
        self._said: dict[tuple[str, str, str], datetime] = {}
        self._changed = threading.Condition()
        self._running = False
        self._stopping: Callable[[], bool] = lambda: False

    def stop_when(self, stopping: Callable[[], bool]) -> None:
        """Say how the streams learn that the process is to end."""
        self._stopping = stopping

    def open(self, caller: Caller) -> Stream:
        """Begin a stream.

        Raises
        ------
        TooManyError
            When this process has no room for another.
        """
        stream = Stream(caller)
        seen = self._look([caller.refit_id], [caller.device_id])
        with self._changed:
            if len(self._streams) >= self._most:
                raise TooManyError("too-many-streams", "Too many pages listen just now.", 30)
            self._remember(seen.told)
            self._make_room(caller.device_id)
            self._streams.append(stream)
            self._tell(stream, seen, [])
            if not self._running:
                self._running = True
                threading.Thread(target=self._watch, name="live-watch", daemon=True).start()
        return stream

    def close(self, stream: Stream) -> None:
        """End a stream; ending it twice does no harm."""
        with self._changed:
            if stream in self._streams:
                self._streams.remove(stream)
            stream.say(None)
            self._changed.notify_all()

    def events(self, stream: Stream, quiet_s: float = QUIET_S) -> Iterator[Event]:
        """Give a stream's events as they come, until it ends."""
        try:
            while True:
                try:
                    event = stream.events.get(timeout=quiet_s)
                except queue.Empty:
                    event = Event("quiet", {})
                if event is None:
                    return
                yield event
        finally:
            self.close(stream)

    def stop(self) -> None:
        """End every stream."""
        with self._changed:
            streams, self._streams = self._streams, []
            for stream in streams:
                stream.say(None)
            self._changed.notify_all()

    def _watch(self) -> None:
        while True:
            with self._changed:
                self._changed.wait(LOOK_S)
                if not self._streams:
                    self._running = False
                    return
                refits = {stream.caller.refit_id for stream in self._streams}
                devices = {stream.caller.device_id for stream in self._streams}
            if self._stopping():
                self.stop()
                continue
            try:
                seen = self._look(refits, devices)
            except Exception:
                _log.exception("the watcher could not look")
                continue
            with self._changed:
                fresh = self._remember(seen.told)
                for stream in list(self._streams):
                    self._tell(stream, seen, fresh)

    def _tell(self, stream: Stream, seen: Seen, fresh: list[Told]) -> None:
        counter = seen.counters.get(stream.caller.refit_id, stream.counter)
        if counter != stream.counter:
            stream.counter = counter
            stream.say(Event("changed", {"seq": counter}))
        rev = seen.plans.get(stream.caller.refit_id, stream.plans)
        if rev != stream.plans:
            stream.plans = rev
            stream.say(Event("plans", {"rev": rev}))
        mine = (stream.caller.refit_id, stream.caller.member_id)
        for told in fresh:
            if (told.refit_id, told.member_id) == mine:
                stream.say(Event("alarm", told.data))
        if stream.caller.device_id in seen.withdrawn:
            self._streams.remove(stream)
            stream.say(None)

    def _remember(self, told: list[Told]) -> list[Told]:
        """Give what was not said before, and forget what is too old to be found again."""
        fresh = []
        for one in told:
            key = (one.refit_id, one.member_id, one.alarm_id)
            if self._said.get(key) != one.told_at:
                self._said[key] = one.told_at
                fresh.append(one)
        if self._said:
            oldest = max(self._said.values()) - 4 * _LOOK_BACK
            self._said = {key: at for key, at in self._said.items() if at >= oldest}
        return fresh

    def _make_room(self, device_id: str) -> None:
        """End the oldest streams of a device that has as many open as it may."""
        counts = Counter(stream.caller.device_id for stream in self._streams)
        over = counts[device_id] - _MOST_PER_DEVICE + 1
        for stream in [one for one in self._streams if one.caller.device_id == device_id]:
            if over <= 0:
                return
            self._streams.remove(stream)
            stream.say(None)
            over -= 1
