"""What one running server carries: its settings, its view of the world, what it keeps in memory, and its letters."""

from __future__ import annotations

from dataclasses import dataclass, field

from tackwatch.settings import Settings
from tackwatch.work.health_bell import Watch
from tackwatch.work.letters import Letters
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
    letters: Letters
    watch: Watch = field(default_factory=Watch)
