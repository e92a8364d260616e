"""What a zone is made of where nothing that was logged lies on it: its ground, and the zones that it is part of.

Rules
-----
- A zone without a ground of its own has that of the nearest zone around it that says one.
- What was laid on a zone lies on every part of it too; what was laid on a part says nothing about the whole.
- Nobody prepared a ground until a step did: it is met cured and untouched, waxed polyester with its wax on.
"""

from __future__ import annotations

from typing import cast

from tackwatch.trade.compatibility_table import GROUNDS, Ground
from tackwatch.trade.job_order import Surface
from tackwatch.work.reckoning.rows import RefitRows


def zones_around(refit: RefitRows, zone_id: str | None) -> list[str]:
    """Give a zone and those that it is part of, itself first; zones in a circle each once."""
    found: list[str] = []
    while zone_id is not None and zone_id not in found:
        found.append(zone_id)
        zone = refit.items["zone"].get(zone_id)
        zone_id = zone.fields.get("parent_id") if zone else None
    return found


def ground_of(refit: RefitRows, zone_id: str | None) -> Surface | None:
    """Give the ground of a zone as nobody prepared it yet; None where no zone around says one."""
    zones = (refit.items["zone"].get(one) for one in zones_around(refit, zone_id))
    said = (zone.fields.get("ground") for zone in zones if zone is not None)
    ground = next((one for one in said if one in GROUNDS), None)
    return None if ground is None else untouched(cast("Ground", ground))


def untouched(ground: Ground) -> Surface:
    """Give a ground that nobody prepared."""
    return Surface(ground, "waxed" if ground == "polyester_waxed" else "glossy")
