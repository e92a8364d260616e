"""The bell itself, without its clockwork: one look takes what is due and hands it to the deliverers.

Rules
-----
- Open pages are shown an alarm before any push is begun; a slow push service delays nobody else's alarm.
- No transaction is open while something is delivered.
- A delivery that fails for a reason of our own is logged; its lease ends and it is tried again.
- A bell that stops takes nothing on, finishes what it has begun, and leaves the rest to its lease.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import datetime, timedelta

import structlog
from flask import Flask

from tackwatch.alarms.claim import LEASE, MOST, claimant
from tackwatch.alarms.deliver import stream
from tackwatch.alarms.deliver.mail import Mailer
from tackwatch.alarms.deliver.push import PushSender, Waits
from tackwatch.alarms.deliver.smtp import MailWaits
from tackwatch.alarms.deliver.webhook import WebhookSender
from tackwatch.alarms.tell import is_useless, tell, too_late
from tackwatch.alarms.ways import Senders
from tackwatch.settings import Settings
from tackwatch.work import ring, vapid
from tackwatch.work.ports import Ports
from tackwatch.work.ring import Ringing, Settled

DELIVERERS = 8

_log = structlog.get_logger()


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
        self._room = _Room(MOST)
        self._pool = ThreadPoolExecutor(DELIVERERS, thread_name_prefix="deliver")
        with app.app_context():
            key_pem = vapid.private_key_pem()
        waits = waits or Waits()
        self._senders = Senders(
            PushSender(settings, key_pem, waits),
            WebhookSender(settings, waits),
            Mailer(settings, mail_waits or MailWaits()),
        )
        self.after_delivery: Callable[[], None] = lambda: None

    def look(self) -> None:
        """Take on and hand out what is due now."""
        with self._app.app_context():
            while not self._stopping.is_set():
                due_at = ring.next_look_at()
                if due_at is None or due_at > self._now():
                    return
                most = self._room.wait()
                claimed = self._claimant.take(self._now(), most)
                if not claimed:
                    return
                late = [alarm for alarm in claimed if is_useless(alarm, self._now())]
                ring.settle([too_late(alarm) for alarm in late])
                ringing, nobody = ring.look_up(alarm for alarm in claimed if alarm not in late)
                ring.settle(nobody)
                self._hand_out(stream.deliver(ringing, self._now()))

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
        self._pool.shutdown(wait=True)

    def _hand_out(self, ringing: Sequence[Ringing]) -> None:
        by_page_alone = [one for one in ringing if one.by_page_alone]
        ring.settle([tell(one, self._senders, self._now) for one in by_page_alone])
        for one in ringing:
            if not one.by_page_alone:
                self._room.take()
                self._pool.submit(self._deliver, one).add_done_callback(self._delivered)

    def _deliver(self, ringing: Ringing) -> Settled | None:
        if self._stopping.is_set():
            return None
        with self._app.app_context():
            ended = tell(ringing, self._senders, self._now)
            ring.settle([ended])
            return ended

    def _delivered(self, future: Future[Settled | None]) -> None:
        self._room.give()
        error = future.exception()
        if error is not None:
            _log.error("delivery failed", exc_info=error)
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

    def take(self) -> None:
        with self._changed:
            self._free -= 1

    def give(self) -> None:
        with self._changed:
            self._free += 1
            self._changed.notify_all()
