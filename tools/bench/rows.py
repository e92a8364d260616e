"""Invented rows of a refit, the same for ours and for the peer: zones, jobs in them, and steps of those with notes."""

from __future__ import annotations

import random
import uuid
from typing import Any

from tackwatch.merge.catalogue import STEP_KINDS

Row = dict[str, Any]

_DOES = (
    "Sand the keel strip between the stations",
    "Roll the second coat on the topsides",
    "Wet out the patch at the chainplate",
    "Fair the hull with the long board",
    "Mask the boot stripe",
    "Bed the stanchion bases anew",
    "Grind the old laminate back to bright",
)
_SIDES = ("port", "starboard", "bow", "stern", "midship")


def rows(count: int, chance: random.Random) -> list[Row]:
    """Make rows of which each names only earlier ones."""
    zones = [
        _row(chance, "zone", n, name=f"Zone {n}", area_m2=chance.randrange(400) / 10)
        for n in range(count // 200)
    ]
    jobs = [
        _row(
            chance,
            "job",
            n,
            title=_title(chance, n),
            text=_note(chance),
            zone_id=chance.choice(zones)["id"],
        )
        for n in range(count // 10)
    ]
    steps = [
        _row(
            chance, "step", n,
            title=_title(chance, n), text=_note(chance), kind=chance.choice(STEP_KINDS),
            job_id=chance.choice(jobs)["id"], labour_h=chance.randrange(96) / 4,
            crew_size=chance.randrange(1, 4),
        )
        for n in range(count - len(zones) - len(jobs))
    ]  # fmt: skip
    return [*zones, *jobs, *steps]


def _row(chance: random.Random, of: str, rank: int, **fields: Any) -> Row:
    id_ = str(uuid.UUID(int=chance.getrandbits(128), version=4))
    return {"kind": of, "id": id_, "fields": {**fields, "rank": rank}}


def _title(chance: random.Random, number: int) -> str:
    return f"{chance.choice(_DOES)}, {chance.choice(_SIDES)} #{number}"


def _note(chance: random.Random) -> str:
    first, second = chance.choice(_DOES), chance.choice(_DOES)
    return f"{first}, then {second.lower()}; station {chance.randrange(40)}, batch {chance.randrange(36**5):x}"
