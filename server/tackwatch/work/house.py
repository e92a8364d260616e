"""What one running server carries: its settings, its view of the world, and what it keeps in memory."""

from __future__ import annotations

from dataclasses import dataclass

from tackwatch.settings import Settings
from tackwatch.work.live import Hub
from tackwatch.work.ports import Ports
from tackwatch.work.throttle import Throttle


@dataclass(frozen=True, slots=True)
class House:
    """One server; ``app.extensions["tackwatch"]``."""

    settings: Settings
    ports: Ports
    throttle: Throttle
    hub: Hub
