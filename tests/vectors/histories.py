"""Random histories for the merge: several devices create, edit, delete, assign, record, correct and settle."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import Any

from tackwatch.merge.apply import Outcome, apply
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.hlc import Stamp
from tackwatch.merge.operation import Operation, check_shape
from tackwatch.merge.state import Difference, Item, Record, State

DEVICES = ("anna00000000", "ben000000000", "carl00000000")
ODD = (
    None,
    "",
    "x" * 200,
    0,
    -1,
    1.5,
    True,
    [],
    {},
    "2026-03-02T08:00:00Z",
    "nonsense",
    "a\u0000b",
    "\u00e9\U0001f6a4",
)


def plain(row: Item | Record | Difference) -> dict[str, Any]:
    """Give a row as phones read it."""
    if isinstance(row, Item):
        sets = {
            name: {m: list(tags) for m, tags in members.items()}
            for name, members in row.sets.items()
        }
        return {
            "kind": row.kind, "id": row.id, "at": row.at, "fields": dict(row.fields),
            "stamps": dict(row.stamps), "sets": sets,
        }  # fmt: skip
    if isinstance(row, Record):
        return {
            "kind": row.kind, "id": row.id, "at": row.at, "body": dict(row.body),
            "replaces": row.replaces, "void": row.void,
        }  # fmt: skip
    return {
        "id": row.id, "kind": row.kind, "item_id": row.item_id, "field": row.field,
        "kept": {"value": row.kept.value, "at": row.kept.at},
        "lost": {"value": row.lost.value, "at": row.lost.at}, "settled": row.settled,
    }  # fmt: skip


def plain_outcome(outcome: Outcome) -> dict[str, Any]:
    """Give what an operation changed, as the client's code gives it."""
    return {
        "changed": {
            "items": {id_: plain(row) for id_, row in outcome.items.items()},
            "records": {id_: plain(row) for id_, row in outcome.records.items()},
            "differences": {id_: plain(row) for id_, row in outcome.differences.items()},
        },
        "altered": sorted(outcome.altered),
        "refused": None,
    }


def cases(seed: int, length: int) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    """Give pairs of what is fed to a merge and what it must answer, along one random history."""
    chance = Random(seed)
    state = State()
    for n in range(1, length + 1):
        device = chance.choice(DEVICES)
        at = str(Stamp(1_772_000_000_000 + chance.randrange(60), chance.randrange(3), device))
        actions = [_action(chance, state, device) for _ in range(chance.choice((1, 1, 1, 2, 3)))]
        fed = {
            "state": {
                "items": [plain(row) for row in state.items.values()],
                "records": [plain(row) for row in state.records.values()],
                "differences": [plain(row) for row in state.differences.values()],
            },
            "operation": {"n": n, "at": at, "act": "test", "actions": actions},
            "device": device,
        }
        try:
            check_shape(actions)
            state, outcome = apply(state, Operation(at, device, "test", actions))
            yield fed, plain_outcome(outcome)
        except RefusedError as error:
            nothing: dict[str, Any] = {"items": {}, "records": {}, "differences": {}}
            yield fed, {"changed": nothing, "altered": [], "refused": error.as_problem()}


def _action(chance: Random, state: State, device: str) -> dict[str, Any]:
    do = chance.choice(
        (
            "create",
            "create",
            "set",
            "set",
            "set",
            "put_in",
            "take_out",
            "record",
            "record",
            "settle",
        )
    )
    action = _DOINGS[do](chance, state, device)
    if chance.random() < 0.04:
        action[chance.choice(sorted(action))] = chance.choice(ODD)
    if chance.random() < 0.02:
        action["colour"] = "red"
    return action


def _ids(state: State, kind: str) -> list[str]:
    return [row.id for row in state.items.values() if row.kind == kind] or ["nobody"]


def _create(chance: Random, state: State, device: str) -> dict[str, Any]:
    kind = chance.choice(("job", "step", "zone", "member", "link", "skill", "away"))
    fields: dict[str, Any] = {
        "job": {"title": chance.choice("ABC")},
        "step": {
            "job_id": chance.choice(_ids(state, "job")),
            "kind": chance.choice(("coat", "sand")),
        },
        "zone": {
            "name": chance.choice("ABC"),
            "parent_id": chance.choice([None, *_ids(state, "zone")]),
        },
        "member": {"name": "M", "role": "hand"},
        "link": {
            "step_id": chance.choice(_ids(state, "step")),
            "after_id": chance.choice(_ids(state, "step")),
        },
        "skill": {"name": chance.choice("ABC")},
        "away": {
            "member_id": chance.choice([None, *_ids(state, "member")]),
            "from_on": f"2026-03-0{chance.randrange(1, 8)}",
            "to_on": f"2026-03-0{chance.randrange(4, 10)}",
        },
    }[kind]
    action: dict[str, Any] = {
        "do": "create",
        "kind": kind,
        "id": f"{kind}-{chance.randrange(12)}",
        "fields": fields,
    }
    if kind == "step" and chance.random() < 0.5:
        action["sets"] = {"assignees": [chance.choice(_ids(state, "member"))]}
    return action


def _set(chance: Random, state: State, device: str) -> dict[str, Any]:
    item = chance.choice(list(state.items.values()) or [Item("job", "job-0", "", {})])
    names = {
        "job": ("title", "text", "afloat_ok", "gone"),
        "step": ("title", "labour_h", "rank", "gone"),
        "away": ("from_on", "to_on", "text", "gone"),
        "member": ("name", "work_days", "day_starts", "gone"),
    }
    name = chance.choice(names.get(item.kind, ("name", "gone")))
    values: dict[str, tuple[Any, ...]] = {
        "gone": (True, True, False), "afloat_ok": (True, False), "labour_h": (1, 2.5, None), "rank": (1, 2),
        "from_on": ("2026-03-01", "2026-03-08"), "to_on": ("2026-03-05", "2026-03-00"),
        "work_days": ("", "15", "7654321"), "day_starts": ("07:00", None, "7"),
    }  # fmt: skip
    value = (
        chance.choice(ODD)
        if chance.random() < 0.1
        else chance.choice(values.get(name, ("A", "B", "C")))
    )
    action: dict[str, Any] = {
        "do": "set",
        "kind": item.kind,
        "id": item.id,
        "fields": {name: value},
    }
    if name == "gone" and chance.random() < 0.6:
        tags = {
            set_: " ".join(sorted(tag for ts in members.values() for tag in ts))
            for set_, members in item.sets.items()
        }
        action["seen"] = {**item.stamps, **tags}
    elif chance.random() < 0.7:
        action["seen"] = {name: chance.choice((item.stamp(name), item.at or "0"))}
    return action


def _put_in(chance: Random, state: State, device: str) -> dict[str, Any]:
    kind, set_, of = chance.choice(
        (
            *(("step", "assignees", "member"),) * 3,
            ("step", "skills", "skill"),
            ("member", "skills", "skill"),
        )
    )
    return {
        "do": "put_in", "kind": kind, "id": chance.choice(_ids(state, kind)), "set": set_,
        "member": chance.choice(_ids(state, of)),
    }  # fmt: skip


def _take_out(chance: Random, state: State, device: str) -> dict[str, Any]:
    action = {**_put_in(chance, state, device), "do": "take_out"}
    item = state.items.get(action["id"])
    held = item.sets.get(action["set"], {}) if item else {}
    tags = [tag for member_tags in held.values() for tag in member_tags]
    return {**action, "tags": chance.sample(tags, chance.randrange(len(tags) + 1))}


def _record(chance: Random, state: State, device: str) -> dict[str, Any]:
    kind = chance.choice(("reading", "note", "mark"))
    body: dict[str, Any] = {
        "reading": {"taken_at": "2026-03-02T08:00:00Z", "air_c": chance.randrange(30)},
        "note": {"text": chance.choice("ABC"), "job_id": chance.choice(_ids(state, "job"))},
        "mark": {
            "step_id": chance.choice(_ids(state, "step")), "mark": "started", "marked_at": "2026-03-02T08:00:00Z",
        },
    }[kind]  # fmt: skip
    replaces = chance.choice([None, None, *state.records])
    void = chance.random() < 0.2
    return {
        "do": "record", "kind": kind, "id": f"r-{chance.randrange(60)}", "body": body, "replaces": replaces,
        "void": void,
    }  # fmt: skip


def _settle(chance: Random, state: State, device: str) -> dict[str, Any]:
    known = list(state.differences) or ["none"]
    return {
        "do": "settle",
        "differences": chance.sample(known, min(len(known), chance.randrange(3))),
    }


_DOINGS = {
    "create": _create, "set": _set, "put_in": _put_in, "take_out": _take_out, "record": _record, "settle": _settle,
}  # fmt: skip
