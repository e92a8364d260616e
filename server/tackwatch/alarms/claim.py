"""How much a bell takes on at a time, and for how long.

Rules
-----
- A lease is longer than what its holder may need: a phone is not begun when its longest wait would pass the end of
  the lease.
- A holder's name is its own for each start of a process: a process that comes up again does not take the claims of the
  dead one for its own.
"""

from __future__ import annotations

import os
import socket
from dataclasses import dataclass
from datetime import datetime, timedelta

from tackwatch.work import ring
from tackwatch.work.ports import Ports
from tackwatch.work.ring import AlarmRow

LEASE = timedelta(seconds=45)
AT_ONCE = 500  # of one statement: several bells share what falls due together
IN_HAND = 2000  # twice what may wait for one push service: one that is dead leaves room for others


@dataclass(frozen=True, slots=True)
class Claimant:
    """A bell as the holder of claims."""

    name: str
    lease: timedelta = LEASE

    def take(self, now: datetime, most: int, *, first: bool) -> list[AlarmRow]:
        """Claim up to ``most`` due alarms; ``first``: of this look."""
        return ring.claim(self.name, now, self.lease, most, sweep=first)


def claimant(ports: Ports, lease: timedelta = LEASE) -> Claimant:
    """Name a new holder."""
    host = socket.gethostname()[:30]
    return Claimant(f"{host}.{os.getpid()}.{ports.chance.device_id()}", lease)


def has_time(alarm: AlarmRow, now: datetime, longest: timedelta) -> bool:
    """Say whether something that takes so long can be begun and ended before the lease ends."""
    return alarm.lease_until is not None and now + longest < alarm.lease_until
