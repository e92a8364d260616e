"""Instants and slots.

Rules
-----
* A slot is a quarter of an hour of absolute time, so that a night with a changed clock has as many
  slots as it has quarters of an hour.
* Slot 0 is the first whole quarter at or after now: nothing is planned in the past.
* What opens is rounded up to a slot; the last start is the last slot before what closes, for at that instant a phone
  says that it is missed.
"""

from dataclasses import dataclass
from datetime import datetime
from math import ceil, floor
from typing import Final

from tackwatch.plan.model import Slot
from tackwatch.trade.instants import instant_of, seconds_of

SLOT_S: Final = 900
DAY_SLOTS: Final = 86_400 // SLOT_S
HOUR_SLOTS: Final = 3_600 // SLOT_S
TOUCH: Final = 1e-7


@dataclass(frozen=True, slots=True)
class SlotClock:
    """Turns instants into slots and back; `origin_s` is slot 0 in seconds since the epoch."""

    origin_s: float

    def up(self, at: datetime) -> Slot:
        """Give the first slot at or after an instant."""
        return self.up_s(seconds_of(at))

    def down(self, at: datetime) -> Slot:
        """Give the last slot at or before an instant."""
        return floor((seconds_of(at) - self.origin_s) / SLOT_S + TOUCH)

    def up_s(self, at_s: float) -> Slot:
        """Give the first slot at or after an instant in seconds."""
        return ceil((at_s - self.origin_s) / SLOT_S - TOUCH)

    def before(self, at: datetime) -> Slot:
        """Give the last slot before an instant: what closes then is closed at it."""
        return self.up(at) - 1

    def at(self, slot: Slot) -> datetime:
        """Give the instant at which a slot begins."""
        return instant_of(self.origin_s + slot * SLOT_S)


def clock_from(now_at: datetime) -> SlotClock:
    """Give the clock whose slot 0 is now, or the quarter of an hour that comes next."""
    return SlotClock(float(ceil(seconds_of(now_at, "now_at") / SLOT_S) * SLOT_S))


def slots_within(gap_s: float) -> Slot:
    """Give the slots after which a gap has not gone by yet; with no gap at all, at once."""
    return max(0, ceil(gap_s / SLOT_S - TOUCH) - 1)


def slots_of_hours(hours: float) -> int:
    """Give the slots that so many hours take, begun ones with."""
    return ceil(hours * HOUR_SLOTS - TOUCH)
