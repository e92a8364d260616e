"""Keep the alarms of a refit in step with its clocks.

Rules
-----
- One row for each refit, person and alarm id. An alarm that moved is moved, never doubled.
- No longer wanted and not yet told: withdrawn. Wanted again: due again.
- No longer wanted, but told, not seen, and still of use: called off. The row is due at once with ``withdrawn`` among
  its params, which says why; the bell tells the phones as it tells an alarm, and they take their notification away.
- Told, and then moved by more than a minute, to an instant that is still to come: due again.
- Seen covers what was due at most a minute after it was seen: the server does not ring that. A pot or a window that
  moved later than that has not been seen by anybody, and is due like one that was told.
- What somebody dealt with is done for everybody whom it was for.
- Of no use any more when it is first wanted, or moved there: missed. One that came to be of no use while it waited is
  left to ``work.missed``, which tells its person so; that notice is no warning, and ends when it is seen.
- An alarm that a process is just delivering stays with it, unless it was withdrawn, seen, or moved as above.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from tackwatch.store import alarms as rows
from tackwatch.store.alarms import AlarmRow
from tackwatch.work.notices import NOTICES
from tackwatch.work.reckoning.standing_marks import SAME, Key

CALLED_OFF_USEFUL = timedelta(hours=12)
GONE: Mapping[str, Any] = {"withdrawn": "gone"}


@dataclass(frozen=True, slots=True)
class Wanted:
    """A warning that one person shall be given."""

    member_id: str
    alarm_id: str
    kind: str
    source_id: str
    due_at: datetime
    useless_after: datetime
    params: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Moved:
    """An alarm whose instant changed."""

    member_id: str
    alarm_id: str
    from_at: datetime
    to_at: datetime


@dataclass(frozen=True, slots=True)
class Kept:
    """What a round of keeping changed."""

    moved: tuple[Moved, ...]
    made: tuple[Key, ...]
    withdrawn: tuple[Key, ...]


def keep(
    refit_id: str,
    wanted: Iterable[Wanted],
    seen: Mapping[Key, datetime],
    now: datetime,
    ended: Mapping[Key, Mapping[str, Any]] | None = None,
) -> Kept:
    """Bring the stored alarms in line with what is wanted, inside the caller's writing transaction.

    Parameters
    ----------
    refit_id
        The refit, whose lock the caller holds.
    wanted
        All warnings that its clocks ask for now. Of two for one person and id the earlier counts.
    seen
        When each person last marked an alarm as seen.
    now
        The present instant.
    ended
        Why some are not wanted any more, as params of calling them off; of the others nothing is left to be told.
    """
    asked, ended = _by_key(wanted), ended or {}
    stored = {(row.member_id, row.alarm_id): row for row in rows.of_refit(refit_id)}
    made = [key for key in asked if key not in stored]
    rows.add([_new(refit_id, asked[key], seen.get(key), now) for key in made])
    changed = [
        (key, row, _changed(row, asked.get(key), seen.get(key), now, ended.get(key, GONE)))
        for key, row in stored.items()
    ]
    rows.change([new for _, row, new in changed if _differs(row, new)])
    return Kept(
        moved=tuple(
            Moved(*key, row.due_at, new["due_at"])
            for key, row, new in changed
            if key in asked and row.due_at != new["due_at"]
        ),
        made=tuple(made),
        withdrawn=tuple(key for key, row, new in changed if _is_off(new) and not _is_off_row(row)),
    )


def _by_key(wanted: Iterable[Wanted]) -> dict[Key, Wanted]:
    asked: dict[Key, Wanted] = {}
    for one in wanted:
        key = (one.member_id, one.alarm_id)
        if key not in asked or one.due_at < asked[key].due_at:
            asked[key] = one
    return asked


def _new(refit_id: str, wanted: Wanted, seen_at: datetime | None, now: datetime) -> dict[str, Any]:
    return {
        "refit_id": refit_id,
        "member_id": wanted.member_id,
        "alarm_id": wanted.alarm_id,
        **_from_clock(wanted),
        "state": _state(None, wanted, seen_at, now),
        "seen_at": seen_at,
        "attempts": 0,
        "outcome": {},
    }


def _is_off(new: Mapping[str, Any]) -> bool:
    return new["state"] in ("withdrawn", "done") or "withdrawn" in new["params"]


def _is_off_row(row: AlarmRow) -> bool:
    return row.state in ("withdrawn", "done") or "withdrawn" in row.params


def _changed(
    row: AlarmRow,
    wanted: Wanted | None,
    seen_at: datetime | None,
    now: datetime,
    why: Mapping[str, Any],
) -> dict[str, Any]:
    new: dict[str, Any] = {
        "id": row.id,
        "kind": row.kind,
        "source_id": row.source_id,
        "due_at": row.due_at,
        "useless_after": row.useless_after,
        "params": row.params,
        "seen_at": _latest(row.seen_at, seen_at),
        "state": row.state,
        "claimed_by": row.claimed_by,
        "lease_until": row.lease_until,
        "attempts": row.attempts,
        "outcome": row.outcome,
    }
    if wanted is None:
        return new | _unwanted(row, new["seen_at"], now, why)
    new |= _from_clock(wanted)
    new["state"] = _state(row, wanted, new["seen_at"], now)
    if new["state"] == "due" != row.state:
        new |= {"claimed_by": None, "lease_until": None, "attempts": 0}
        new["outcome"] = {name: at for name, at in row.outcome.items() if name == "told_for"}
    return new


def _state(row: AlarmRow | None, wanted: Wanted, seen_at: datetime | None, now: datetime) -> str:
    """Say in which state a wanted alarm is from now on."""
    due_at = _whole_ms(wanted.due_at)
    if row is not None and "withdrawn" in row.params:
        row = None  # it was called off: what was told before counts no more
    told_for = None if row is None else told_for_at(row)
    if seen_at is not None and due_at <= seen_at + SAME:
        return "seen"
    if told_for is not None and due_at <= told_for + SAME:
        return "told"
    rung_before = row is not None and (told_for is not None or seen_at is not None)
    if (
        row is not None
        and rung_before
        and row.state not in (*rows.OPEN, "missed")
        and due_at <= now
    ):
        return "seen" if told_for is None else "told"
    if now > wanted.useless_after:
        waits = row is not None and row.state in rows.OPEN and now > row.useless_after
        return row.state if row is not None and waits else "missed"
    if (
        row is not None
        and row.state == "claimed"
        and not (due_at > row.due_at + SAME and due_at > now)
    ):
        return "claimed"
    return "due"


def _unwanted(
    row: AlarmRow, seen_at: datetime | None, now: datetime, why: Mapping[str, Any]
) -> dict[str, Any]:
    """Give what changes of an alarm that is not wanted any more."""
    off = "done" if why["withdrawn"] == "done" else "withdrawn"
    if row.kind in NOTICES:
        covered = seen_at is not None and row.due_at <= seen_at + SAME
        return {"state": "seen", "claimed_by": None, "lease_until": None} if covered else {}
    if "withdrawn" in row.params:
        return {}
    told = row.state == "told" or (row.state == "withdrawn" and told_for_at(row) is not None)
    if told and seen_at is not None and row.due_at <= seen_at + SAME:
        return {"state": "seen"}
    if told and now <= row.useless_after:
        return call_off(row, why, now)
    return {"state": off} if row.state in rows.OPEN else {}


def call_off(row: AlarmRow, why: Mapping[str, Any], now: datetime) -> dict[str, Any]:
    """Give the values of an alarm that was told and is to be taken back from the phones."""
    was_told = {} if row.told_at is None else {"was_told_at": row.told_at.isoformat()}
    return {
        "state": "due",
        "due_at": _whole_ms(now),
        "useless_after": _whole_ms(max(row.useless_after, now + CALLED_OFF_USEFUL)),
        "params": {**row.params, **why, **was_told},
        "claimed_by": None,
        "lease_until": None,
        "attempts": 0,
        "outcome": {},
    }


def told_for_at(row: AlarmRow) -> datetime | None:
    """Give the due instant for which a person was last told, if anybody was."""
    text = row.outcome.get("told_for")
    return None if text is None else datetime.fromisoformat(text)


def _from_clock(wanted: Wanted) -> dict[str, Any]:
    return {
        "kind": wanted.kind,
        "source_id": wanted.source_id,
        "due_at": _whole_ms(wanted.due_at),
        "useless_after": _whole_ms(wanted.useless_after),
        "params": dict(wanted.params),
    }


def _differs(row: AlarmRow, new: dict[str, Any]) -> bool:
    return any(getattr(row, name) != value for name, value in new.items())


def _latest(*instants: datetime | None) -> datetime | None:
    return max((_whole_ms(at) for at in instants if at is not None), default=None)


def _whole_ms(at: datetime) -> datetime:
    """Round as the database does, so that an unchanged instant compares as unchanged."""
    return datetime.fromtimestamp(round(at.timestamp() * 1000) / 1000, UTC)
