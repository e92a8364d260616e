"""Reckoning a refit from its stored rows: for the answer to a reader, and for keeping its alarms."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from tackwatch.merge.state import Item, Record
from tackwatch.store import alarms, rows
from tackwatch.trade.warnings import iso_of
from tackwatch.work.before_launch import standing_before_launch
from tackwatch.work.keep_alarms import Kept, Wanted, keep
from tackwatch.work.reckoning import PersonalWarning, Reckoning, Source, reckon
from tackwatch.work.reckoning.hand_on import HandOn
from tackwatch.work.reckoning.naming import Naming
from tackwatch.work.reckoning.standing_marks import MARK_KINDS, Handled, Key, StandingMarks

ITEM_KINDS = ("refit", "member", "device", "zone", "job", "step", "link", "product", "ring_rule")
RECORD_KINDS = ("application", "mix", "reading", "mark", "answer")
MOVES_CLOCKS = frozenset({*ITEM_KINDS, *RECORD_KINDS, *MARK_KINDS}) - {"zone", "product"}
_RUN_CLOCKS = ("application", "mix")
_OF_PERSONS = ("refit", "member", "device", "ring_rule")
_OF_WORK = ("zone", "link", "product")
_LINK_ENDS = ("step_id", "after_id")

Change = tuple[Item | None, Item]  # an item as it was, if it was there, and as it is

LASTING = timedelta(days=7)  # how long a warning that never loses its use is worth ringing


def reckon_refit(refit_id: str, now: datetime) -> tuple[Reckoning, dict[str, Item]]:
    """Derive clocks, states and warnings of a refit; give them with its items by id."""
    items = rows.items(refit_id, ITEM_KINDS)
    records = rows.records(refit_id, RECORD_KINDS)
    return reckon(items, records, now), {item.id: item for item in items}


def keep_alarms_after(
    refit_id: str, touched: AbstractSet[str], changes: Collection[Change], now: datetime
) -> None:
    """Keep a refit's alarms unless nothing that they rest on was touched.

    Parameters
    ----------
    touched
        The kinds of the rows that were filed.
    changes
        The items among them.
    """
    if not touched <= {"step"} or _concern_alarms(refit_id, changes):
        keep_alarms(refit_id, now)


def _concern_alarms(refit_id: str, steps: Collection[Change]) -> bool:
    """Say whether an alarm could rest on one of these steps.

    That is one of those that ``_items_near`` gives, now or before; and what is open before the launch is counted by
    which steps there are and to which jobs they belong.
    """
    if any(_counts_otherwise(before, after) for before, after in steps):
        return True
    ids = {after.id for _, after in steps}
    clocked = (one.body.get("step_id") for one in rows.records(refit_id, _RUN_CLOCKS))
    if not ids.isdisjoint(clocked):
        return True
    links = rows.items(refit_id, ("link",))
    return any(link.fields[end] in ids for link in links for end in _LINK_ENDS)


def _counts_otherwise(before: Item | None, after: Item) -> bool:
    """Say whether a step came, went, went to another job, or has or had a time."""
    if before is None or before.gone != after.gone:
        return True
    if before.fields["job_id"] != after.fields["job_id"]:
        return True
    return any(step.fields.get("planned_start_at") for step in (before, after))


def keep_alarms(refit_id: str, now: datetime) -> Kept:
    """Bring a refit's alarms in line with its clocks, inside the caller's writing transaction."""
    records = rows.records(refit_id, RECORD_KINDS)
    near = _items_near(refit_id, records)
    reckoning, items = reckon(near, records, now), {item.id: item for item in near}
    marks = StandingMarks(rows.records(refit_id, MARK_KINDS), items)
    put_off = [marks.put_off(one) for one in reckoning.warnings]
    ended = {_key(one): by for one in put_off if (by := marks.ended_by(one)) is not None}
    open_ = [one for one in put_off if _key(one) not in ended]
    told = alarms.told_at(refit_id)
    handed = HandOn(reckoning.rows, reckoning.rules, told, marks.seen, now).all(open_)
    naming = Naming(items, {source.id: source for source in reckoning.sources})
    standing = standing_before_launch(refit_id, items, records, now)
    wanted = [_wanted(one, naming, standing) for one in open_]
    wanted += [_wanted(one.warning, naming, standing, naming.handed(one)) for one in handed]
    still = {one.warning.id for one in open_}
    why = _why_ended(marks, ended, naming, [key for key in told if key[1] in still])
    return keep(refit_id, wanted, _seen(marks, ended), now, why)


def _key(one: PersonalWarning) -> Key:
    return one.member_id, one.warning.id


def _seen(marks: StandingMarks, ended: Mapping[Key, Handled]) -> dict[Key, datetime]:
    """Give when each person saw each alarm: who dealt with it has."""
    seen = dict(marks.seen)
    for (_, alarm_id), by in ended.items():
        key = (by.member_id, alarm_id)
        seen[key] = max(by.at, seen.get(key, by.at))
    return seen


def _why_ended(
    marks: StandingMarks,
    ended: Mapping[Key, Handled],
    naming: Naming,
    told: Iterable[Key],
) -> dict[Key, dict[str, Any]]:
    """Give what those who were told, and need not do anything any more, are to be told."""
    done = {alarm_id: by for (_, alarm_id), by in ended.items()}
    seen_by = {alarm_id: member_id for member_id, alarm_id in marks.seen}
    why: dict[Key, dict[str, Any]] = {}
    for member_id, alarm_id in {*told, *ended}:
        if alarm_id in done:
            by = naming.member(done[alarm_id].member_id)
            why[member_id, alarm_id] = {"withdrawn": "done", "by": by}
        elif alarm_id in seen_by:
            by = naming.member(seen_by[alarm_id])
            why[member_id, alarm_id] = {"withdrawn": "seen", "by": by}
    return why


def _items_near(refit_id: str, records: Iterable[Record]) -> list[Item]:
    """Give the items that an alarm can depend on: of the steps only those that have a clock, a time, or a link."""
    persons = rows.items(refit_id, _OF_PERSONS)
    planned = rows.items_with(refit_id, "step", "planned_start_at")
    clocked = [record.body for record in records if record.kind in _RUN_CLOCKS]
    if not planned and not clocked:
        return persons
    around = rows.items(refit_id, _OF_WORK)
    links = [item.fields for item in around if item.kind == "link"]
    ids = {str(body["step_id"]) for body in clocked if body.get("step_id")}
    ids |= {str(link[end]) for link in links for end in _LINK_ENDS}
    ids |= {step.id for step in planned}
    steps = rows.items_named(refit_id, ids)
    jobs = rows.items_named(refit_id, {str(step.fields["job_id"]) for step in steps})
    return [*persons, *around, *steps, *jobs]


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


def _wanted(
    one: PersonalWarning,
    naming: Naming,
    standing: Mapping[str, Any],
    more: Mapping[str, Any] | None = None,
) -> Wanted:
    warning, ring = one.warning, one.ring
    by = {name: getattr(ring, name) for name in ("by_push", "by_mail", "by_webhook")}
    counted = standing if warning.kind == "launch_countdown" else {}
    return Wanted(
        member_id=one.member_id,
        alarm_id=warning.id,
        kind=warning.kind,
        source_id=warning.source_id,
        due_at=warning.due_at,
        useless_after=warning.useless_after or warning.due_at + LASTING,
        params={**warning.params, **naming.of(one), **by, **counted, **(more or {})},
    )


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
