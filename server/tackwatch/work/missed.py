"""What could not be told while it was of use: listed for its person in one notice.

Rules
-----
- A person has one notice: an alarm row of its own kind, ``<member>.missed_alarms``. What is missed before they have
  seen it is added to it, and it is told once more; after that it begins anew.
- It is made in the transaction in which the missed alarms end: a kill loses none and makes none twice.
- All of a refit that is of no use is taken in one such transaction, under the refit's lock, before anything is claimed.
  Of several processes that come up at once one does it, and the others find nothing.
- What was called off, what somebody was told on any channel, and notices themselves are not listed.
- It goes the ways that what was missed would have gone. It waits for the end of quiet hours only if all of that could.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

import structlog

from tackwatch.merge.state import Item
from tackwatch.store import missed as store
from tackwatch.store import refits, rows
from tackwatch.store.alarms import AlarmRow
from tackwatch.store.db import db, writing
from tackwatch.trade.warning_kinds import MANNERS
from tackwatch.trade.warnings import iso_of
from tackwatch.work import health_tally
from tackwatch.work.notices import MISSED_ALARMS, NOTICES
from tackwatch.work.reckoning.quiet import held_until
from tackwatch.work.reckoning.ring_rules import RingRules
from tackwatch.work.reckoning.rows import RefitRows

KIND = MISSED_ALARMS
USEFUL_FOR = timedelta(days=7)
MOST_LISTED = 50
_NAMES = ("product", "zone", "step", "job", "handed_name")
_WAYS = {"by_push": True, "by_mail": False, "by_webhook": False}
_UNSEEN = ("due", "claimed", "told", "missed")

_log = structlog.get_logger()


def sweep(now: datetime) -> int:
    """End all that is of no use any more and was not told; give how many alarms were missed."""
    refit_ids = store.refits_with_useless(now)
    db.session.rollback()
    return sum(_sweep_refit(refit_id, now) for refit_id in refit_ids)


def lock_for(alarms: Iterable[AlarmRow]) -> None:
    """Take the locks that noting these as missed needs: before any of their rows is touched."""
    for refit_id in sorted({alarm.refit_id for alarm in alarms}):
        refits.lock(refit_id)


def note(alarms: Sequence[AlarmRow], now: datetime) -> None:
    """Add alarms that just ended as missed to their persons' notices, in the transaction in which they end."""
    by_refit: dict[str, list[AlarmRow]] = defaultdict(list)
    for alarm in alarms:
        if _is_listed(alarm):
            by_refit[alarm.refit_id].append(alarm)
    for refit_id, missed in sorted(by_refit.items()):
        _note_in(refit_id, missed, now)


def still_unseen(params: Mapping[str, Any], seen: Iterable[tuple[str, str]]) -> dict[str, Any]:
    """Give a notice's params without what its person has seen since, by alarm id and due instant."""
    known = set(seen)
    entries = list(params.get("missed", ()))
    left = [one for one in entries if (one["alarm_id"], one["due_at"]) not in known]
    return {
        **params,
        "missed": left,
        "missed_n": params.get("missed_n", 0) - len(entries) + len(left),
    }


def _sweep_refit(refit_id: str, now: datetime) -> int:
    with writing():
        refits.lock(refit_id)
        found = store.useless(refit_id, now)
        states = [(row, _end_of(row)) for row in found]
        store.end(states)
        missed = [row for row, state in states if state == "missed"]
        note(missed, now)
        health_tally.count(
            [(row, end, row.outcome.get("channels", {})) for row, end in states], now
        )
    if missed:
        _log.warning("alarms were missed", refit_id=refit_id, count=len(missed))
    return len(missed)


def _end_of(row: AlarmRow) -> str:
    """Say in which state an alarm ends that is of no use any more."""
    why = row.params.get("withdrawn")
    if why is not None:
        return "done" if why == "done" else "withdrawn"
    channels = row.outcome.get("channels", {}).values()
    return "told" if any(how["result"] == "accepted" for how in channels) else "missed"


def _is_listed(alarm: AlarmRow) -> bool:
    return alarm.kind not in NOTICES and "withdrawn" not in alarm.params


def _note_in(refit_id: str, missed: Sequence[AlarmRow], now: datetime) -> None:
    items = rows.items(refit_id, ("refit", "member", "ring_rule"))
    rules = RingRules(RefitRows(items, ()))
    members = {item.id: item for item in items if item.kind == "member" and not item.gone}
    by_member: dict[str, list[AlarmRow]] = defaultdict(list)
    for alarm in missed:
        if alarm.member_id in members:
            by_member[alarm.member_id].append(alarm)
    for member_id, mine in sorted(by_member.items()):
        _put(refit_id, member_id, mine, _rings_at(mine, members[member_id], rules, now))


def _put(refit_id: str, member_id: str, missed: Sequence[AlarmRow], due_at: datetime) -> None:
    alarm_id = f"{member_id}.{KIND}"
    before = store.notice_of(refit_id, member_id, alarm_id)
    known = before.params if before is not None and before.state in _UNSEEN else {}
    entries = [*known.get("missed", ()), *map(_entry, missed)]
    ways = {way: known.get(way, False) or _goes(missed, way) for way in _WAYS}
    urgent = bool(known.get("urgent")) or not all(map(_can_wait, missed))
    params = {
        "missed": sorted(entries, key=lambda one: str(one["due_at"]))[-MOST_LISTED:],
        "missed_n": known.get("missed_n", 0) + len(missed),
        "urgent": urgent,
        **ways,
    }
    values = {
        "refit_id": refit_id,
        "member_id": member_id,
        "alarm_id": alarm_id,
        "kind": KIND,
        "source_id": member_id,
        "due_at": due_at,
        "useless_after": due_at + USEFUL_FOR,
        "params": params,
    }
    store.put_notice(before, values)


def _entry(alarm: AlarmRow) -> dict[str, str]:
    named = {name: str(alarm.params[name]) for name in _NAMES if alarm.params.get(name)}
    what = {"alarm_id": alarm.alarm_id, "kind": alarm.kind, "due_at": iso_of(alarm.due_at)}
    return {**what, **named}


def _goes(missed: Sequence[AlarmRow], way: str) -> bool:
    return any(alarm.params.get(way, _WAYS[way]) for alarm in missed)


def _can_wait(alarm: AlarmRow) -> bool:
    manner = MANNERS.get(alarm.kind)  # type: ignore[call-overload]
    return manner is None or manner.waits


def _rings_at(
    missed: Sequence[AlarmRow], member: Item, rules: RingRules, now: datetime
) -> datetime:
    if not all(map(_can_wait, missed)):
        return now
    kinds = [alarm.kind for alarm in missed if alarm.kind in MANNERS]
    if not kinds:
        return now
    ring = rules.ring(member, kinds[0])  # type: ignore[arg-type]
    return held_until(now, ring.quiet_from, ring.quiet_to, ring.zone)
