"""The bell itself, without its clockwork: one look takes what is due and sends it on its ways.

Rules
-----
- Open pages are shown an alarm before any push is begun.
- No transaction is open while something is delivered.
- All that is due is claimed first, then looked up, shown and sent, so that none waits for another's delivery.
- A delivery that fails for a reason of our own is logged; its lease ends and it is tried again.
- A bell that begins shows a sign of life, and takes over at once what holders without one had claimed: one that was
  killed and started again loses the time of its start, not that of a lease.
- A bell that stops takes nothing on, ends what it is sending, and gives the rest back, so that others may take it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TypeVar

from flask import Flask

from tackwatch.alarms.claim import AT_ONCE, IN_HAND, LEASE, claimant
from tackwatch.alarms.deliver import stream
from tackwatch.alarms.deliver.mail import Mailer
from tackwatch.alarms.deliver.push import PushSender, Waits
from tackwatch.alarms.deliver.smtp import MailWaits
from tackwatch.alarms.deliver.webhook import WebhookSender
from tackwatch.alarms.lanes import Lanes
from tackwatch.alarms.settler import Settler
from tackwatch.alarms.tell import Hands, Telling, is_useless, too_late
from tackwatch.alarms.ways import Senders, Way
from tackwatch.settings import Settings
from tackwatch.work import ring, vapid
from tackwatch.work.ports import Ports
from tackwatch.work.ring import AlarmRow, Ear, Ringing, Settled, Sign

A = TypeVar("A")
R = TypeVar("R")


class Bell:
    """Tells persons of their alarms.

    Parameters
    ----------
    app
        The application whose database is used.
    settings, ports
        The server's settings, and its clock and chance.
    lease
        How long a claim holds; longer than the longest wait for one phone.
    waits
        How long push services and webhooks may take.
    mail_waits
        How long the mail server may take.
    """

    def __init__(
        self,
        app: Flask,
        settings: Settings,
        ports: Ports,
        lease: timedelta = LEASE,
        waits: Waits | None = None,
        mail_waits: MailWaits | None = None,
    ) -> None:
        self._app = app
        self._now: Callable[[], datetime] = ports.clock.now
        self._claimant = claimant(ports, lease)
        self._stopping = threading.Event()
        self._room = _Room(IN_HAND)
        self._lanes = Lanes()
        self._settler = Settler(self._settle, self._now, self._settled)
        self._hands = Hands(self._now, self._settler.put, self._stopping.is_set)
        with app.app_context():
            key_pem = vapid.private_key_pem()
        waits = waits or Waits()
        self._senders = Senders(
            PushSender(settings, key_pem, waits),
            WebhookSender(settings, waits),
            Mailer(settings, mail_waits or MailWaits()),
        )
        self._sign: Sign | None = None
        self.after_delivery: Callable[[], None] = lambda: None

    @property
    def name(self) -> str:
        """The name under which it claims."""
        return self._claimant.name

    def begin(self) -> None:
        """Show a sign of life, and take over from those who show none any more."""
        with self._app.app_context():
            self._sign = ring.sign(self.name)
            ring.take_over(self._now())

    def look(self) -> None:
        """Take on and hand out what is due now."""
        more = True
        with self._app.app_context():
            while more and not self._stopping.is_set():
                claimed, more = self._claim()
                if claimed:
                    self._hand_out(claimed)

    def ear(self) -> Ear:
        """Listen for what is entered meanwhile."""
        with self._app.app_context():
            return ring.ear()

    def next_look_in(self) -> timedelta | None:
        """Give how long it is until something falls due; ``None`` when nothing is known to."""
        with self._app.app_context():
            at = ring.next_look_at()
        return None if at is None else at - self._now()

    def stop(self) -> None:
        """Take nothing on any more."""
        self._stopping.set()

    def finish(self) -> None:
        """Wait for what was begun."""
        self.stop()
        self._lanes.wait_until_empty()
        self._settler.finish()
        if self._sign is not None:
            self._sign.take_down()

    def _claim(self) -> tuple[list[AlarmRow], bool]:
        """Claim all that is due and finds room; say whether there may be more."""
        claimed: list[AlarmRow] = []
        room = self._room.wait()
        try:
            while room and not self._stopping.is_set():
                most = min(AT_ONCE, room)
                taken = self._claimant.take(self._now(), most, first=not claimed)
                claimed += taken
                if len(taken) < most:
                    return claimed, False
                room -= len(taken)
        finally:
            self._room.take(len(claimed))
        return claimed, True

    def _hand_out(self, claimed: Sequence[AlarmRow]) -> None:
        try:
            ringing = self._prepare(claimed)
        except BaseException:
            self._room.give(len(claimed))  # they are left to their lease
            raise
        for one in ringing:
            Telling(one, self._hands).begin(self._ways_to(one), self._lanes)

    def _prepare(self, claimed: Sequence[AlarmRow]) -> list[Ringing]:
        """Settle what is for nobody, and show the rest to the open pages."""
        now = self._now()
        late = [too_late(alarm) for alarm in claimed if is_useless(alarm, now)]
        ringing, nobody = ring.look_up(alarm for alarm in claimed if not is_useless(alarm, now))
        shown = stream.deliver(ringing, self._now())
        self._settler.put(*late, *nobody)
        self._room.give(len(ringing) - len(shown))
        return shown

    def _ways_to(self, ringing: Ringing) -> list[Way]:
        return [
            replace(way, send=self._inside(way.send), ended=self._inside(way.ended))
            for way in self._senders.ways_to(ringing)
        ]

    def _inside(self, do: Callable[[A], R]) -> Callable[[A], R]:
        """Let something be done inside the application, from any thread."""

        def inside(given: A) -> R:
            with self._app.app_context():
                return do(given)

        return inside

    def _settle(self, ended: Sequence[Settled]) -> None:
        with self._app.app_context():
            ring.settle(ended, self._now(), aloud=self._stopping.is_set())

    def _settled(self, count: int) -> None:
        self._room.give(count)
        if not self._stopping.is_set():
            self.after_delivery()


class _Room:
    """How many more deliveries may be begun."""

    def __init__(self, most: int) -> None:
        self._most = self._free = most
        self._changed = threading.Condition()

    def wait(self) -> int:
        """Wait until there is room, and say how much."""
        with self._changed:
            self._changed.wait_for(lambda: self._free > 0)
            return self._free

    def wait_until_all_free(self) -> None:
        """Wait until nothing is being delivered."""
        with self._changed:
            self._changed.wait_for(lambda: self._free == self._most)

    def take(self, count: int) -> None:
        with self._changed:
            self._free -= count

    def give(self, count: int) -> None:
        with self._changed:
            self._free += count
            self._changed.notify_all()
