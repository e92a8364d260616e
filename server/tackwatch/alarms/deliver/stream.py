"""Open pages: an alarm is told to them by its ``told_at``, which their streams watch for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from tackwatch.work import ring
from tackwatch.work.ring import Ringing

CHANNEL = "stream"
SHOWN = "shown"


def deliver(ringing: Sequence[Ringing], now: datetime) -> list[Ringing]:
    """Show alarms to open pages; give those whose claim still holds."""
    return ring.show(ringing, now)
