"""Reckoning a refit from its stored rows: for the answer to a reader, and for keeping its alarms."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from tackwatch.merge.hlc import device_of
from tackwatch.merge.state import Item, Record
from tackwatch.store import rows
from tackwatch.trade.warnings import iso_of
from tackwatch.work.keep_alarms import Kept, Wanted, keep
from tackwatch.work.reckoning import PersonalWarning, Reckoning, Source, reckon

ITEM_KINDS = ("refit", "member", "device", "zone", "job", "step", "link", "product")
RECORD_KINDS = ("application", "mix", "reading", "mark", "answer")
MOVES_CLOCKS = frozenset({*ITEM_KINDS, *RECORD_KINDS, "seen"}) - {"zone", "product"}
_RUN_CLOCKS = ("application", "mix")

LASTING = timedelta(days=7)  # how long a warning that never loses its use is worth ringing


def reckon_refit(refit_id: str, now: datetime) -> tuple[Reckoning, dict[str, Item]]:
    """Derive clocks, states and warnings of a refit; give them with its items by id."""
    items = rows.items(refit_id, ITEM_KINDS)
    records = rows.records(refit_id, RECORD_KINDS)
    return reckon(items, records, now), {item.id: item for item in items}


def keep_alarms(refit_id: str, now: datetime) -> Kept:
    """Bring a refit's alarms in line with its clocks, inside the caller's writing transaction."""
    records = rows.records(refit_id, RECORD_KINDS)
    if not any(record.kind in _RUN_CLOCKS for record in records):
        return Kept((), (), ())  # records stay for ever: there never was a clock, nor an alarm
    near = _items_near(refit_id, records)
    reckoning, items = reckon(near, records, now), {item.id: item for item in near}
    sources = {source.id: source for source in reckoning.sources}
    wanted = [_wanted(one, sources[one.warning.source_id], items) for one in reckoning.warnings]
    return keep(refit_id, wanted, _seen(refit_id, items), now)


def _items_near(refit_id: str, records: Iterable[Record]) -> list[Item]:
    """Give the items that an alarm can depend on: of the steps only those that have a clock or are linked."""
    around = rows.items(refit_id, ("refit", "member", "device", "zone", "link", "product"))
    links = [item.fields for item in around if item.kind == "link"]
    clocked = [record.body for record in records if record.kind in _RUN_CLOCKS]
    ids = {str(body["step_id"]) for body in clocked if body.get("step_id")}
    ids |= {str(link[end]) for link in links for end in ("step_id", "after_id")}
    steps = rows.items_named(refit_id, ids)
    jobs = rows.items_named(refit_id, {str(step.fields["job_id"]) for step in steps})
    return [*around, *steps, *jobs]


def refit_at(refit_id: str, now: datetime) -> dict[str, Any]:
    """Give what is derived of a refit at an instant, as JSON-ready objects."""
    reckoning, _ = reckon_refit(refit_id, now)
    return {
        "at": iso_of(now),
        "steps": [
            {"step_id": id_, **_plain(asdict(state))} for id_, state in reckoning.steps.items()
        ],
        "clocks": [_source_as_dict(source) for source in reckoning.sources],
        "warnings": [
            {"member_id": one.member_id, **_plain(asdict(one.warning))}
            for one in reckoning.warnings
        ],
    }


def _wanted(one: PersonalWarning, source: Source, items: Mapping[str, Item]) -> Wanted:
    warning = one.warning
    return Wanted(
        member_id=one.member_id,
        alarm_id=warning.id,
        kind=warning.kind,
        source_id=warning.source_id,
        due_at=warning.due_at,
        useless_after=warning.useless_after or warning.due_at + LASTING,
        params={**warning.params, **_names(source, items)},
    )


def _names(source: Source, items: Mapping[str, Item]) -> dict[str, str]:
    """Give the names that a sentence about a coat or pot needs."""
    step = items.get(source.step_id or "")
    job = items.get(step.fields["job_id"]) if step else None
    zone = items.get(source.zone_id or (job.fields.get("zone_id") or "" if job else ""))
    product = items.get(source.product_id)
    return {
        "step": str(step.fields.get("title") or "") if step else "",
        "step_id": source.step_id or "",
        "job": str(job.fields["title"]) if job else "",
        "zone": str(zone.fields["name"]) if zone else "",
        "product": str(product.fields["name"]) if product else "",
    }


def _seen(refit_id: str, items: Mapping[str, Item]) -> dict[tuple[str, str], datetime]:
    """Give when each member last saw each alarm."""
    seen: dict[tuple[str, str], datetime] = {}
    for record in rows.records(refit_id, ("seen",)):
        device = items.get(device_of(record.at))
        if device is None or record.void:
            continue
        key = (str(device.fields["member_id"]), str(record.body["alarm_id"]))
        at = datetime.fromisoformat(record.body["seen_at"])
        seen[key] = max(at, seen.get(key, at))
    return seen


def _source_as_dict(source: Source) -> dict[str, Any]:
    return {
        "source_id": source.id,
        "step_id": source.step_id,
        "product_id": source.product_id,
        "zone_id": source.zone_id,
        "authors": list(source.authors),
        "start_at": iso_of(source.start_at),
        "end_at": iso_of(source.end_at) if source.end_at else None,
        "is_pot": source.is_pot,
        "stages": [_plain(asdict(clock)) for clock in source.clocks],
    }


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return iso_of(value)
    if isinstance(value, Mapping):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    return value
