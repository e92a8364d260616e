"""The world as tests see it: a clock that stands until it is moved, and real chance."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from tackwatch.work.ports import Ports, SystemChance

BEGAN_AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)  # a Monday morning, invented


class StandingClock:
    """A clock that stands until it is moved."""

    def __init__(self, at: datetime = BEGAN_AT) -> None:
        self.at = at

    def now(self) -> datetime:
        return self.at

    def forward(self, **much: float) -> None:
        """Move on by a ``timedelta`` of these parts."""
        self.at += timedelta(**much)

    @property
    def ms(self) -> int:
        return round(self.at.timestamp() * 1000)


def ports_with(clock: StandingClock) -> Ports:
    return Ports(clock, SystemChance())
