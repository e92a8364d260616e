"""One round trip of a phone: file what was done there, answer with what is new.

Rules
-----
- One transaction under the refit's lock: operations are applied in their order, each wholly or not at all; rows are
  numbered; what is new is read in the same snapshot.
- A known number is never applied again; before a gap the server stops and says how far it came, unless the device has
  nothing left to fill it with (``begins.py``).
- A refused operation is filed with its verdict and its text. Every verdict from the first operation that is sent up to
  the last that is acknowledged is given: a phone whose last answer was lost, and which now sends less, misses none.
- A device that is loading everything is sent back what it files meanwhile: it cannot know which page comes after it.
- The role is read for each operation, in the state that the operations before it left.
- Whoever loads everything, and can, is told of a prepared snapshot and given what came after it.
- When nothing can be new, nothing is locked and nothing is read. Whoever only takes what is new locks nothing.
- What needs no lock is done without: shapes of operations are checked before it is taken, and texts are put together
  after it was given back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import datetime
from json import dumps
from typing import Any

from tackwatch.merge.apply import Outcome, work_out
from tackwatch.merge.catalogue import SCHEMA
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.hlc import Stamp, clamped, parse, tick
from tackwatch.merge.operation import Operation
from tackwatch.merge.state import State, Tagged
from tackwatch.store import news, operations, refits, rows
from tackwatch.store.db import db, writing
from tackwatch.store.models import Device, Refit
from tackwatch.store.news import Page
from tackwatch.store.operations import Logged
from tackwatch.store.snapshots import Snapshot
from tackwatch.work.begins import last_before
from tackwatch.work.caller import Caller
from tackwatch.work.effects import after_filing
from tackwatch.work.errors import ConflictError, NotFoundError, NotSignedInError
from tackwatch.work.filing import milliseconds, next_stamp
from tackwatch.work.permissions import check_operation, check_owner_left
from tackwatch.work.ports import Ports
from tackwatch.work.snapshot import has_aged, make_ready, near
from tackwatch.work.sync_sent import Sent, read

PROTOCOL = 1
MAX_OPERATIONS = 2_000
PAGE_ROWS = 5_000


@dataclass(frozen=True, slots=True)
class SyncRequest:
    """What a device sends; see docs/sync.md."""

    protocol: int
    schema: int
    epoch: str | None
    device: str
    cursor: int
    operations: Sequence[Mapping[str, Any]] = ()
    snapshot: bool = False
    parts: bool = False
    loading: bool = False
    first_n: int | None = None


@dataclass(frozen=True, slots=True)
class SyncAnswer:
    """What a device is answered; see docs/sync.md. What is new is written out only in ``as_json``.

    ``aged`` is not told: with what was filed just now the refit's snapshot lies so far back that a new one is due.
    """

    epoch: str
    server_time: str
    clock: str
    acknowledged_n: int
    refused: tuple[dict[str, Any], ...]
    page: Page
    reset: bool
    snapshot: Snapshot | None
    aged: bool

    def as_json(self) -> str:
        """Give the answer as text."""
        head = {
            "epoch": self.epoch,
            "server_time": self.server_time,
            "clock": self.clock,
            "acknowledged_n": self.acknowledged_n,
            "refused": self.refused,
            "cursor": self.page.cursor,
            "more": self.page.more,
            "reset": self.reset,
        }
        if self.snapshot is not None:
            head["snapshot"] = {"version": self.snapshot.version, "pages": self.snapshot.pages}
        changes, differences = ",".join(self.page.changes()), ",".join(self.page.differences())
        rest = f',"changes":[{changes}],"differences":[{differences}]}}'
        return dumps(head, ensure_ascii=False, separators=(",", ":"))[:-1] + rest


def anything_new(caller: Caller, epoch: str, cursor: int) -> bool:
    """Say whether a device whose last cursor this is could be given anything."""
    refit = refits.get(caller.refit_id)
    return refit is None or (refit.epoch, refit.seq) != (epoch, cursor)


def sync(caller: Caller, request: SyncRequest, ports: Ports) -> SyncAnswer:
    """File a device's operations and give it what is new.

    Raises
    ------
    ConflictError
        When protocol or catalogue do not match.
    NotSignedInError
        When the key was withdrawn meanwhile.
    """
    _check_versions(caller, request)
    if not request.operations and not _loads_all(refits.get(caller.refit_id), request):
        with news.reading():
            refit, device = _who(caller, refits.get(caller.refit_id))
            if not _loads_all(refit, request):
                return _answer(refit, device, request, ports.clock.now(), filed=False)
    if request.snapshot and _loads_all(refits.get(caller.refit_id), request):
        make_ready(caller.refit_id, ports.clock.now())
    sent = [read(one) for one in request.operations]
    with writing():
        refit, device = _who(caller, refits.lock(caller.refit_id))
        now = ports.clock.now()
        before = refit.seq
        _file(refit, device, request, sent, now)
        return _answer(refit, device, request, now, filed=refit.seq > before)


def _who(caller: Caller, refit: Refit | None) -> tuple[Refit, Device]:
    """Give the refit and the device as they are now."""
    device = operations.device(caller.refit_id, caller.device_id)
    if refit is None:
        raise NotFoundError("unknown-refit", "There is no such refit.")
    if device is None or device.revoked_at is not None:
        raise NotSignedInError("key-withdrawn", "This device's key was withdrawn.")
    return refit, device


def _check_versions(caller: Caller, request: SyncRequest) -> None:
    if request.device != caller.device_id:
        raise ConflictError("other-device", "The key belongs to another device.", "device")
    for name, given, ours in (
        ("protocol", request.protocol, PROTOCOL),
        ("schema", request.schema, SCHEMA),
    ):
        if given > ours:
            raise ConflictError(f"{name}-too-new", "The server has to be updated first.", name)
        if given < 1 or (name == "protocol" and given < ours):
            raise ConflictError(f"{name}-too-old", "The app has to be updated first.", name)


class _AtHand:
    """The rows that the operations of a call name, as those before have left them.

    They are changed in place: a new state for each of a thousand operations would copy all rows a thousand times.
    """

    def __init__(self, found: State) -> None:
        self._items, self._records = dict(found.items), dict(found.records)
        self._differences = dict(found.differences)
        self.state = State(self._items, self._records, self._differences, found.taken_out)

    def take(self, outcome: Outcome) -> None:
        """Take what an operation made.

        Raises
        ------
        RefusedError
            When no owner would be left; nothing is taken then.
        """
        if any(item.kind == "member" for item in outcome.items.values()):
            check_owner_left(self.state, self.state.after(outcome.items.values()))
        self._items.update(outcome.items)
        self._records.update(outcome.records)
        self._differences.update(outcome.differences)


def _file(
    refit: Refit, device: Device, request: SyncRequest, sent: Sequence[Sent], now: datetime
) -> None:
    """Apply what is next in the device's numbering, and stop before a gap."""
    fresh = [one for one in sent if one.n > device.last_n]
    if not fresh:
        return
    members = rows.items(refit.id, ("member",))
    found, places = rows.load_to_file(refit.id, set().union(*(one.ids for one in fresh)))
    found = replace(found, taken_out=_taken_out(refit.id, fresh))
    at_hand = _AtHand(found.after(items=members))
    loading = request.loading or request.cursor < device.whole_until
    filing = rows.Filing(refit, None if loading else device.id, places)
    stamps = _Stamps(device, now)
    log: list[Logged] = []
    last_n = last_before(device.last_n, request.first_n, [one.n for one in fresh])
    for one in fresh:
        if one.n <= last_n:
            continue
        if one.n != last_n + 1:
            break
        log.append(_file_one(device, stamps.next(one), one, at_hand, filing))
        last_n = one.n
    device.last_n, device.last_stamp = last_n, stamps.last
    refit.last_stamp = max(refit.last_stamp, stamps.last)
    touched = filing.kinds()
    filing.write()
    operations.log(device, now, log)
    if touched:
        changes = [(found.items.get(one.id), one) for one in filing.items()]
        after_filing(refit, touched, changes, now)


def _taken_out(refit_id: str, fresh: Sequence[Sent]) -> AbstractSet[Tagged]:
    """Give what is known to have been taken out of sets since the first of these operations that puts anything in."""
    puts = [one.at for one in fresh if _puts_in(one)]
    return operations.taken_out_after(refit_id, min(puts)) if puts else frozenset()


def _puts_in(one: Sent) -> bool:
    return one.fault is None and any(action["do"] == "put_in" for action in one.actions)


def _file_one(
    device: Device, stamp: str, one: Sent, at_hand: _AtHand, filing: rows.Filing
) -> Logged:
    """Apply one operation to the rows at hand; give its entry in the log, with the verdict."""
    refusal = None
    try:
        if one.fault is not None:
            raise one.fault
        check_operation(device.member_id, one.actions, at_hand.state)
        outcome = work_out(at_hand.state, Operation(stamp, device.id, one.act, one.actions))
        at_hand.take(outcome)
        filing.add(outcome if stamp == one.at else outcome.all_altered())
    except RefusedError as error:
        refusal = error.as_problem()
    return Logged(one.n, one.kept_at, stamp, one.kept_act, one.kept_actions, refusal)


class _Stamps:
    """Gives the stamps under which a device's operations are filed: as sent where that is credible."""

    def __init__(self, device: Device, now: datetime) -> None:
        self.last = device.last_stamp
        self._device_id, self._now_ms = device.id, milliseconds(now)
        self._last: Stamp | None = parse(self.last) if self.last else None

    def next(self, one: Sent) -> str:
        """Give the stamp of the next operation."""
        sent = one.stamp
        if sent is None:
            stamp = tick(self._last, self._now_ms, self._device_id)
        else:
            if sent.device != self._device_id:
                sent = Stamp(sent.ms, sent.counter, self._device_id)
            stamp = clamped(sent, self._last, self._now_ms)
        self._last, self.last = stamp, one.at if stamp is one.stamp else str(stamp)
        return self.last


def _loads_all(refit: Refit | None, request: SyncRequest) -> bool:
    """Say whether a device begins to load everything: its first time, or its place is not known here."""
    return refit is not None and (request.cursor == 0 or _is_lost(refit, request))


def _is_lost(refit: Refit, request: SyncRequest) -> bool:
    return request.epoch not in (None, refit.epoch) or request.cursor > refit.seq


def _answer(
    refit: Refit, device: Device, request: SyncRequest, now: datetime, *, filed: bool
) -> SyncAnswer:
    cursor, snapshot = request.cursor, None
    if _loads_all(refit, request):
        snapshot = near(refit) if request.snapshot else None
        cursor = snapshot.seq if snapshot else 0
        device.whole_until = refit.seq
    db.session.flush()
    page = news.page(refit, cursor, device.id, device.whole_until, PAGE_ROWS, parts=request.parts)
    first_n = min((one["n"] for one in request.operations), default=device.last_n + 1)
    refused = operations.refusals(device.id, first_n, device.last_n)
    return SyncAnswer(
        epoch=refit.epoch,
        server_time=now.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        clock=str(next_stamp(refit, now)),
        acknowledged_n=device.last_n,
        refused=tuple({"n": n, "problem": problem} for n, problem in refused),
        page=page,
        reset=_is_lost(refit, request),
        snapshot=snapshot,
        aged=filed and has_aged(refit, now),
    )
