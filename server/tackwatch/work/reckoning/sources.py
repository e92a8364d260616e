"""Sources of clocks: the coats and pots of a refit, with the clocks that run from them.

Rules
-----
- An application is named by the first record of its tree, so that logging its end moves an alarm and doubles none.
- Where people corrected one record without seeing each other, all their versions count, careful side first.
- Two applications that a person called one coat are one source, named by the earlier of the two.
- A profile that cannot be read runs no clock; the record stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from tackwatch.merge.standing import Standing
from tackwatch.merge.state import Item, Record
from tackwatch.trade.cure import clocks_of_group, coat_clock, pot_clock
from tackwatch.trade.errors import TradeError
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.surface import RULE_3K
from tackwatch.trade.temperature import track_of
from tackwatch.trade.types import Clock, Coat, DailyCurve, Pot, Profile, Reading, Track
from tackwatch.work.reckoning.rows import RefitRows, at_of


@dataclass(frozen=True, slots=True)
class Source:
    """A coat or a pot whose clock runs: its id, its step, who logged it, its clocks.

    ``dew_margin_k`` is how far a wet coat must stay above the dew point; None for a pot.
    """

    id: str
    step_id: str | None
    product_id: str
    zone_id: str | None
    authors: tuple[str, ...]
    start_at: datetime
    end_at: datetime | None
    clocks: tuple[Clock, ...]
    open: bool
    is_pot: bool
    dew_margin_k: float | None = None


def curve_of(refit: Item, now: datetime) -> DailyCurve:
    """Give the refit's daily curve of temperature, at its own time of day."""
    fields = refit.fields
    offset = now.astimezone(ZoneInfo(fields["time_zone"])).utcoffset()
    return DailyCurve(
        min_c=fields.get("curve_min_c", 10),
        max_c=fields.get("curve_max_c", 20),
        hour_of_max=fields.get("curve_hour_of_max", 15),
        utc_offset_s=offset.total_seconds() if offset else 0.0,
    )


def sources_of(refit: RefitRows, now: datetime) -> tuple[Source, ...]:
    """Give every coat and pot with its clocks."""
    coats, pots = refit.standing("application"), refit.standing("mix")
    starts = [at_of(leaf.body["start_at"]) for one in coats for leaf in one.leaves]
    starts += [at_of(one.record.body["stirred_at"]) for one in pots]
    owner = next(iter(refit.items["refit"].values()), None)
    if not starts or owner is None:
        return ()
    track = track_of(readings_of(refit), curve_of(owner, now), min(starts))
    found = [_coat_source(refit, group, track, now) for group in _coats(refit, coats)]
    found += [_pot_source(refit, one, track, now) for one in pots]
    return tuple(source for source in found if source is not None)


def readings_of(refit: RefitRows) -> list[Reading]:
    """Give every reading that stands."""
    return [
        Reading(
            at=at_of(one.record.body["taken_at"]),
            air_c=one.record.body.get("air_c"),
            surface_c=one.record.body.get("surface_c"),
            rh_pct=one.record.body.get("rh_pct"),
        )
        for one in refit.standing("reading")
    ]


def _coats(refit: RefitRows, coats: Sequence[Standing]) -> list[list[Standing]]:
    """Group applications that a person called one coat; each group begins with the earliest."""
    group_of = {one.root.id: [one] for one in coats}
    root_of = {id_: root for id_, root in refit.coat_roots.items() if root in group_of}
    for answer in refit.standing("answer"):
        body = answer.record.body
        first, second = (root_of.get(body["first_id"]), root_of.get(body["second_id"]))
        if body["answer"] != "one_coat" or first is None or second is None:
            continue
        if group_of[first] is not group_of[second]:
            joined = group_of[first] + group_of[second]
            for one in joined:
                group_of[one.root.id] = joined
    unique = {id(group): group for group in group_of.values()}
    return [sorted(group, key=lambda one: one.root.at) for group in unique.values()]


def _coat_source(
    refit: RefitRows, group: Sequence[Standing], track: Track, now: datetime
) -> Source | None:
    first = group[0]
    leaves = [leaf for one in group for leaf in one.leaves]
    try:
        coats = [_coat(leaf) for leaf in leaves]
        each = [coat_clock(coat, track, now) for coat in coats]
    except TradeError:  # a profile that this version cannot read runs no clock
        return None
    clocks = clocks_of_group(first.root.id, each)
    ends = [at_of(leaf.body["end_at"]) for leaf in leaves if leaf.body.get("end_at")]
    return Source(
        id=first.root.id,
        step_id=first.record.body["step_id"],
        product_id=first.record.body["product_id"],
        zone_id=first.record.body.get("zone_id"),
        authors=tuple(dict.fromkeys(refit.author(one.root) for one in group)),
        start_at=min(at_of(leaf.body["start_at"]) for leaf in leaves),
        end_at=max(ends, default=None),
        clocks=clocks,
        open=any(not one.record.body.get("end_at") for one in group),
        is_pot=False,
        dew_margin_k=max(margin_of(coat.profile) for coat in coats),
    )


def margin_of(profile: Profile) -> float:
    """Give how far a product's surface must stay above the dew point, in kelvin."""
    own_k = profile.limits.dew_margin_min_c
    return RULE_3K if own_k is None else own_k


def _coat(record: Record) -> Coat:
    body = record.body
    end = body.get("end_at")
    return Coat(
        record.id,
        parse_profile(body["profile"]),
        at_of(body["start_at"]),
        at_of(end) if end else None,
    )


def _pot_source(refit: RefitRows, one: Standing, track: Track, now: datetime) -> Source | None:
    body = one.record.body
    grams = (body.get("base_g") or 0) + (body.get("hardener_g") or 0)
    try:
        pot = Pot(
            id=one.root.id,
            profile=parse_profile(body["profile"]),
            stirred_at=at_of(body["stirred_at"]),
            temp_c=body.get("temp_c"),
            mass_kg=grams / 1000 or None,
        )
        clocks = pot_clock(pot, track, now)
    except TradeError:
        return None
    return Source(
        id=one.root.id,
        step_id=body.get("step_id"),
        product_id=body["product_id"],
        zone_id=None,
        authors=(refit.author(one.root),),
        start_at=pot.stirred_at,
        end_at=None,
        clocks=clocks,
        open=False,
        is_pot=True,
    )
