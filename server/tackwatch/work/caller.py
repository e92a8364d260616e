"""Who is asking: a device with its key, the member who holds it, and that member's role now."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caller:
    """A signed-in device."""

    refit_id: str
    device_id: str
    member_id: str
    role: str
