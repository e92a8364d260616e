"""Beginning a refit: its own fields, its owner, the owner's first device, and the bundled products."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tackwatch.store import people, refits
from tackwatch.store.db import writing
from tackwatch.work import devices, profiles
from tackwatch.work.errors import InvalidError
from tackwatch.work.filing import file_as_server
from tackwatch.work.ports import Chance, Ports
from tackwatch.work.recovery import code_hash

REFIT_FIELDS = (
    "name", "time_zone", "launch_at", "day_starts", "day_ends", "work_days", "curve_min_c", "curve_max_c",
    "curve_hour_of_max",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class RefitAsked:
    """What an owner says about a new refit; ``None`` takes the catalogue's default."""

    name: str
    time_zone: str
    launch_at: str
    owner_name: str
    language: str
    day_starts: str | None = None
    day_ends: str | None = None
    work_days: str | None = None
    curve_min_c: float | None = None
    curve_max_c: float | None = None
    curve_hour_of_max: float | None = None
    device_name: str = ""
    with_products: bool = True


@dataclass(frozen=True, slots=True)
class RefitMade:
    """What the owner's phone keeps; ``key`` and ``recovery_code`` are shown once."""

    refit_id: str
    member_id: str
    device_id: str
    key: str
    recovery_code: str


def create_refit(asked: RefitAsked, ports: Ports) -> RefitMade:
    """Begin a refit.

    Raises
    ------
    InvalidError
        When the time zone is not known or the temperatures are the wrong way round.
    """
    _check(asked)
    chance, now = ports.chance, ports.clock.now()
    refit_id, member_id, code = chance.new_id(), chance.new_id(), chance.recovery_code()
    with writing():
        people.add_refit(refit_id, chance.new_id(), code_hash(code), now)
        refit = refits.lock(refit_id)
        if refit is None:
            raise LookupError(f"the new refit {refit_id} is not there")
        device = devices.add(refit_id, member_id, asked.device_name, chance, now)
        actions = [
            _item("refit", refit_id, _refit_fields(asked)),
            _item("member", member_id, _owner_fields(asked)),
            devices.item(device, asked.device_name),
            *(_products(asked.language, chance) if asked.with_products else []),
        ]
        file_as_server(refit, "create_refit", actions, now)
    return RefitMade(refit_id, member_id, device.device_id, device.key, code)


def _check(asked: RefitAsked) -> None:
    try:
        ZoneInfo(asked.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InvalidError(
            "unknown-time-zone", "This is not a time zone, such as Europe/Lisbon.", "time_zone"
        ) from None
    low, high = asked.curve_min_c, asked.curve_max_c
    if low is not None and high is not None and low > high:
        raise InvalidError(
            "value-not-valid", "The day's highest temperature is below its lowest.", "curve_max_c"
        )


def _refit_fields(asked: RefitAsked) -> dict[str, Any]:
    given = {name: getattr(asked, name) for name in REFIT_FIELDS}
    return {name: value for name, value in given.items() if value is not None}


def _owner_fields(asked: RefitAsked) -> dict[str, Any]:
    return {"name": asked.owner_name, "role": "owner", "language": asked.language}


def _products(language: str, chance: Chance) -> list[dict[str, Any]]:
    """Give an item for each bundled profile, named in the owner's language where there is such a name."""
    spoken = language.partition("-")[0].casefold()
    return [
        _item(
            "product",
            chance.new_id(),
            {"name": profile["name"].get(spoken, profile["name"]["en"]), "profile": profile},
        )
        for profile in profiles.bundled()
    ]


def _item(kind: str, id_: str, fields: dict[str, Any]) -> dict[str, Any]:
    return {"do": "create", "kind": kind, "id": id_, "fields": fields, "sets": {}}
