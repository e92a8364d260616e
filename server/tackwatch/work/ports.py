"""What the work needs from the world: the wall clock, ids and chance. Tests hand in their own."""

from __future__ import annotations

import secrets
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Protocol

_DEVICE_LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"


class Clock(Protocol):
    """Tells the time."""

    def now(self) -> datetime:
        """Give the present instant, aware, in UTC."""
        ...


class Chance(Protocol):
    """Makes names and secrets that nobody can guess."""

    def new_id(self) -> str:
        """Give a fresh id for an item or record."""
        ...

    def device_id(self) -> str:
        """Give a fresh id for a device: twelve letters and digits."""
        ...

    def secret(self) -> str:
        """Give 256 random bits as URL-safe text."""
        ...

    def recovery_code(self) -> str:
        """Give a code that a person can write down: 100 random bits in groups of four."""
        ...


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """Give the present instant."""
        return datetime.now(UTC)  # noqa: TID251 - the one place that may ask


class SystemChance:
    """The machine's own source of randomness."""

    def new_id(self) -> str:
        """Give a random UUID."""
        return str(uuid.uuid4())

    def device_id(self) -> str:
        """Give 60 random bits as twelve letters."""
        return "".join(secrets.choice(_DEVICE_LETTERS) for _ in range(12))

    def secret(self) -> str:
        """Give 256 random bits as URL-safe text."""
        return secrets.token_urlsafe(32)

    def recovery_code(self) -> str:
        """Give five groups of four letters and digits."""
        letters = "".join(secrets.choice(_DEVICE_LETTERS) for _ in range(20))
        return "-".join(letters[at : at + 4] for at in range(0, 20, 4))


@dataclass(frozen=True, slots=True)
class Ports:
    """The world as the work sees it."""

    clock: Clock
    chance: Chance


def system_ports() -> Ports:
    """Give the real world."""
    return Ports(SystemClock(), SystemChance())
