"""Judges a history after it came to rest, from what was done and seen; no merge is asked.

What must hold
--------------
- Every copy whose key works equals the server, and shows what it holds.
- Every entry has one fate: filed once on the server, taken or refused with its text, and the phone says the same.
- Every record that was taken exists once, as it was entered; no row is there that nobody entered.
- Every value that was taken stands, was seen by whoever replaced it, or is kept as a difference.
- What was deleted unseen is kept with a question; who was put on a step is on it until who saw that took them off.
- Numbers are unique; the alarms are those that the clocks ask for; the other refit is as it was.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from tests.simulation.books import Entry, must
from tests.simulation.deeds import AGREED
from tests.simulation.history import History
from tests.simulation.quiet import Rest
from tests.support.wires import call

FORGOTTEN = (
    "zone",
    "job",
    "step",
    "link",
    "product",
)  # a whole copy comes without those that were deleted
_MISSING = object()


@dataclass
class Truth:
    """What stands in the server's tables."""

    items: dict[str, dict[str, Any]]
    records: dict[str, dict[str, Any]]
    differences: dict[str, dict[str, Any]]
    log: list[dict[str, Any]]
    taken: list[tuple[Entry, dict[str, Any]]] = field(default_factory=list)


def judge(history: History, rests: list[Rest]) -> None:
    """Check everything; raises the first violation found."""
    truth = _truth(history)
    for rest in rests:
        if rest.alive:
            _check_drained(rest)
            _check_copy(rest, truth)
        _check_shown(rest)
    _check_fates(history, rests, truth)
    _check_records(history, truth)
    _check_values(truth)
    if not history.books.restores:
        _check_questions(truth)
    _check_deletions(truth)
    _check_crews(truth)
    _check_numbers(history)
    _check_photos(history, rests)
    _check_alarms(history, rests)
    _check_history_api(history, rests, truth)
    _check_other_refit(history)


def _truth(history: History) -> Truth:
    house, refit = history.house, history.house.keys[0].refit_id
    items = house.rows(
        "SELECT kind, id, at, fields, stamps, sets FROM item WHERE refit_id = :refit", refit=refit
    )
    records = house.rows(
        "SELECT kind, id, at, body, replaces, void FROM record WHERE refit_id = :refit", refit=refit
    )
    differences = house.rows(
        "SELECT id, kind, item_id, field, kept, lost, settled FROM difference WHERE refit_id = :refit",
        refit=refit,
    )
    log = house.rows(
        "SELECT device_id, n, sent, at, actions, refusal FROM operation WHERE refit_id = :refit ORDER BY device_id, n",
        refit=refit,
    )
    for row in records:
        row["void"] = bool(row["void"])
    mine = {key.device_id for key in history.keys}
    truth = Truth(
        _by_id(items), _by_id(records), _by_id(differences),
        [row for row in log if row["device_id"] in mine],
    )  # fmt: skip
    for row in truth.log:
        entry = history.books.entries.get((row["device_id"], row["sent"]))
        must(entry is not None, "operation-from-nowhere", f"{row}")
        if row["refusal"] is None:
            truth.taken.append((entry, row))
    return truth


def _by_id(rows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {row["id"]: row for row in rows}


# --- copies ----------------------------------------------------------------------------------------------------------


def _check_drained(rest: Rest) -> None:
    waiting = [row["n"] for row in rest.disk["operations"] if row["status"] == "waiting"]
    must(not waiting, "never-sent", f"{rest.key.name}: {waiting} still wait; {rest.look['state']}")
    must(not rest.disk["meta"].get("aside"), "never-sent", "a fresh copy is still being loaded")


def _check_copy(rest: Rest, truth: Truth) -> None:
    """The copy on the disk is the server's."""
    who = f"{rest.key.name} ({rest.key.device_id})"
    items = {row["id"]: row for row in rest.disk["rows"] if "fields" in row}
    records = {row["id"]: row for row in rest.disk["rows"] if "body" in row}
    for id_, row in truth.items.items():
        forgotten = row["fields"].get("gone") and row["kind"] in FORGOTTEN and id_ not in items
        must(
            forgotten or items.get(id_) == row, "copies-differ", f"{who}: {items.get(id_)} is {row}"
        )
    for name, mine, theirs in (
        ("items", items, truth.items), ("records", records, truth.records),
        ("differences", _by_id(rest.disk["differences"]), truth.differences),
    ):  # fmt: skip
        more = mine.keys() - theirs.keys()
        must(not more, "copies-differ", f"{who} has {name} that the server has not: {more}")
        for id_ in theirs.keys() - (items.keys() if name == "items" else ()):
            if name != "items":
                must(
                    mine.get(id_) == theirs[id_],
                    "copies-differ",
                    f"{who}: {mine.get(id_)} is {theirs[id_]}",
                )


def _check_shown(rest: Rest) -> None:
    """What is shown is what is on the disk, as far as nothing waits on top of it."""
    if any(row["status"] == "waiting" for row in rest.disk["operations"]):
        return
    rows = {row["id"]: row for row in rest.disk["rows"]}
    shown = _by_id(rest.disk["shown"]["items"]) | _by_id(rest.disk["shown"]["records"])
    hidden = {id_ for id_, row in rows.items() if "fields" in row and row["fields"].get("gone")}
    hidden |= {id_ for id_, row in rows.items() if row["kind"] == "sum"}
    must(
        shown.keys() == rows.keys() - hidden,
        "screen-differs",
        f"{rest.key.name}: {shown.keys() ^ rows.keys()}",
    )
    for id_, row in shown.items():
        must(row == rows[id_], "screen-differs", f"{rest.key.name}: {row} is {rows[id_]}")


# --- entries ---------------------------------------------------------------------------------------------------------


def _check_fates(history: History, rests: list[Rest], truth: Truth) -> None:
    filed = Counter((row["device_id"], row["sent"]) for row in truth.log)
    twice = [key for key, count in filed.items() if count > 1]
    must(not twice, "applied-twice", f"{twice}")
    logged = {(row["device_id"], row["sent"]): row for row in truth.log}
    for rest in rests:
        rows = {(rest.key.device_id, row["at"]): row for row in rest.disk["operations"]}
        for entry in history.books.entries.values():
            if entry.device == rest.key.device_id:
                _check_fate(history, rest, entry, rows.get(entry.key), logged.get(entry.key))


def _check_fate(
    history: History,
    rest: Rest,
    entry: Entry,
    row: dict[str, Any] | None,
    filed: dict[str, Any] | None,
) -> None:
    what = f"{rest.key.name}'s {entry.act} {entry.key}"
    must(row is not None and row["actions"] == entry.actions, "entry-vanished", f"{what}: {row}")
    assert row is not None
    status = row.get("status", "waiting")
    if filed is None:
        excused = not rest.alive and (status == "waiting" or history.books.restores)
        must(excused, "lost-on-server", f"{what} is {status} here and not there")
        return
    if not rest.alive and (status == "waiting" or history.books.restores):
        return  # its last answer was lost with its key
    refused = filed["refusal"] is not None
    must(
        status == ("refused" if refused else "acknowledged"),
        "verdict-differs",
        f"{what}: {status}, {filed}",
    )
    if refused:
        must(
            row["problem"] == filed["refusal"],
            "verdict-differs",
            f"{what}: {row['problem']} {filed['refusal']}",
        )
    must(_same_text(filed["actions"], entry.actions), "text-differs", f"{what}: {filed['actions']}")


def _same_text(filed: Any, sent: Any) -> bool:
    """Compare, where a character that no database can keep is shown by a stand-in."""
    if isinstance(sent, str):
        return bool(filed == sent.replace("\x00", "\u2400"))
    if isinstance(sent, dict):
        return filed.keys() == sent.keys() and all(_same_text(filed[k], v) for k, v in sent.items())
    if isinstance(sent, list):
        return len(filed) == len(sent) and all(map(_same_text, filed, sent))
    return bool(filed == sent)


def _check_records(history: History, truth: Truth) -> None:
    entered: dict[str, tuple[Entry, dict[str, Any]]] = {}
    for entry, _ in truth.taken:
        for action in entry.actions:
            if action["do"] == "record":
                must(action["id"] not in entered, "applied-twice", f"record {action['id']}")
                entered[action["id"]] = (entry, action)
    for id_, (entry, action) in entered.items():
        row = truth.records.get(id_)
        must(row is not None, "record-lost", f"{entry.act} {action}")
        assert row is not None
        same = all(row[name] == action[name] for name in ("kind", "body", "replaces", "void"))
        must(same and row["at"][17:] == entry.device, "record-changed", f"{row} was {action}")
    here = {key.device_id for key in history.keys}
    more = [
        id_ for id_, row in truth.records.items() if row["at"][17:] in here and id_ not in entered
    ]
    must(not more, "row-from-nowhere", f"{more}")


# --- values ----------------------------------------------------------------------------------------------------------


def _writes(entry: Entry) -> list[tuple[str, str, Any]]:
    """Give what an entry wrote into fields: item, field, value."""
    return [
        (action["id"], name, value)
        for action in entry.actions
        if action["do"] in ("create", "set")
        for name, value in action["fields"].items()
        if name != "gone"
    ]


def _check_values(truth: Truth) -> None:
    """Each value stands, or was on the screen of whoever wrote over it, or is kept in a difference."""
    seen: dict[tuple[str, str], list[Any]] = {}
    for entry, _ in truth.taken:
        within: dict[tuple[str, str], Any] = {}
        for item_id, name, value in _writes(entry):
            before = within.get((item_id, name), entry.saw_value(item_id, name))
            seen.setdefault((item_id, name), []).append(before)
            within[(item_id, name)] = value
    kept: dict[tuple[str, str], list[Any]] = {}
    settled = {one for entry, _ in truth.taken for one in _settles(entry)}
    for row in truth.differences.values():
        kept.setdefault((row["item_id"], row["field"]), []).append(row["lost"]["value"])
        asked = row["settled"] is None or row["id"] in settled
        must(asked, "question-closed-by-nobody", f"{row}")
    for entry, _ in truth.taken:
        for item_id, name, value in _writes(entry):
            item = truth.items.get(item_id)
            must(item is not None, "item-lost", f"{entry.act}: {item_id}")
            assert item is not None
            key = (item_id, name)
            stands = item["fields"].get(name, _MISSING) == value
            found = stands or value in seen.get(key, ()) or value in kept.get(key, ())
            must(
                found,
                "value-lost",
                f"{entry.act} {entry.key}: {key} = {value!r}; now {item['fields'].get(name)!r}",
            )


def _check_questions(truth: Truth) -> None:
    """Nobody is asked about a value that they had on the screen when they wrote over it."""
    knowing = {
        (item_id, name, str(value), str(entry.saw_value(item_id, name)))
        for entry, _ in truth.taken
        for item_id, name, value in _writes(entry)
        if value != AGREED and not isinstance(value, bool)
    }
    for row in truth.differences.values():
        kept, lost = row["kept"]["value"], row["lost"]["value"]
        asked = (row["item_id"], row["field"], str(kept), str(lost))
        must(lost == AGREED or asked not in knowing, "asked-for-nothing", f"{row}")


def _settles(entry: Entry) -> list[str]:
    return [
        one for action in entry.actions if action["do"] == "settle" for one in action["differences"]
    ]


def _check_deletions(truth: Truth) -> None:
    """A deletion took effect, or is a question; what is gone was deleted by somebody who had seen all of it."""
    asked = {row["item_id"] for row in truth.differences.values() if row["field"] == "gone"}
    deleted: dict[str, list[Entry]] = {}
    returned: set[str] = set()
    for entry, _ in truth.taken:
        for action in entry.actions:
            if action["do"] == "set" and "gone" in action["fields"]:
                if action["fields"]["gone"]:
                    deleted.setdefault(action["id"], []).append(entry)
                else:
                    returned.add(action["id"])
    for id_, entries in deleted.items():
        gone = truth.items[id_]["fields"].get("gone")
        must(
            gone or id_ in asked | returned,
            "deletion-lost",
            f"{entries[0].act} {entries[0].key}: {id_}",
        )
    for id_, row in truth.items.items():
        if row["fields"].get("gone"):
            must(id_ in deleted, "row-from-nowhere", f"{row['kind']} {id_} was deleted by nobody")
            _check_seen_whole(truth, id_, deleted[id_])


def _check_seen_whole(truth: Truth, id_: str, by: list[Entry]) -> None:
    later = [
        (entry, name, value)
        for entry, _ in truth.taken
        for item_id, name, value in _writes(entry)
        if item_id == id_ and not _creates(entry, id_)
    ]
    lost = {
        (row["field"], str(row["lost"]["value"]))
        for row in truth.differences.values()
        if row["item_id"] == id_
    }
    for entry, name, value in later:
        if any(entry.device == one.device for one in by) or (name, str(value)) in lost:
            continue
        must(
            any(_knew(one, later, name, value, set()) for one in by),
            "deleted-unseen",
            f"{entry.act} {entry.key} wrote {name} = {value!r} into {id_}, deleted by {[one.key for one in by]}",
        )


def _creates(entry: Entry, id_: str) -> bool:
    return any(action["do"] == "create" and action["id"] == id_ for action in entry.actions)


def _knew(
    by: Entry, writes: list[tuple[Entry, str, Any]], name: str, value: Any, past: set[str]
) -> bool:
    """Say whether who deleted saw a value, or one that was knowingly written over it."""
    item_ids = {action["id"] for action in by.actions if action.get("fields", {}).get("gone")}
    if any(by.saw_value(item_id, name) == value for item_id in item_ids):
        return True
    past.add(str(value))
    return any(
        _knew(by, writes, name, newer, past)
        for entry, other, newer in writes
        if other == name
        and str(newer) not in past
        and any(entry.saw_value(id_, name) == value for id_ in item_ids)
    )


def _check_crews(truth: Truth) -> None:
    """Who was put on a step is on it, until somebody who saw that took them off."""
    put: dict[tuple[str, str], dict[str, tuple[str, Entry]]] = {}
    off: dict[tuple[str, str], set[str]] = {}
    for entry, row in truth.taken:
        for action in entry.actions:
            if action["do"] == "put_in":
                put.setdefault((action["id"], action["member"]), {})[row["at"]] = (entry.at, entry)
            if action["do"] == "create":
                for member in (action.get("sets") or {}).get("assignees", ()):
                    put.setdefault((action["id"], member), {})[row["at"]] = (entry.at, entry)
            if action["do"] == "take_out":
                off.setdefault((action["id"], action["member"]), set()).update(action["tags"])
    for (id_, member), tags in put.items():
        stands = truth.items[id_]["sets"].get("assignees", {}).get(member, ())
        for filed, (sent, entry) in tags.items():
            taken_off = {filed, sent} & off.get((id_, member), set())
            what = f"{entry.act} {entry.key}: {member} on {id_}"
            must(filed in stands or taken_off, "assignment-lost", what)
            must(filed not in stands or not taken_off, "taking-off-lost", what)


# --- the server ------------------------------------------------------------------------------------------------------


def _check_numbers(history: History) -> None:
    refit = history.house.keys[0].refit_id
    numbers = [
        row["seq"]
        for table in ("item", "record", "difference")
        for row in history.house.rows(
            f"SELECT seq FROM {table} WHERE refit_id = :refit", refit=refit
        )
    ]
    must(len(set(numbers)) == len(numbers), "number-used-twice", f"{sorted(numbers)}")


def _check_photos(history: History, rests: list[Rest]) -> None:
    there = {row["sha256"] for row in history.house.rows("SELECT sha256 FROM photo_file")}
    for rest in rests:
        for blob in rest.disk["blobs"]:
            problem = blob.get("problem") or {}
            if not rest.alive or problem.get("type", "").endswith(":not-allowed"):
                continue  # a viewer's: said so, and kept
            must(blob["status"] == "sent", "picture-not-sent", f"{rest.key.name}: {blob}")
            excused = history.books.restores
            must(blob["sha256"] in there or excused, "picture-lost", f"{rest.key.name}: {blob}")


def _check_alarms(history: History, rests: list[Rest]) -> None:
    """The alarms that wait are those that the clocks ask for, on the server and on each phone."""
    if history.touched_at is None:
        return
    refit = history.house.keys[0].refit_id
    wanted: dict[tuple[str, str], int] = {}
    for one in history.house.reckoned()["warnings"]:
        key, due_ms = (one["member_id"], one["id"]), _ms(one["due_at"])
        wanted[key] = min(due_ms, wanted.get(key, due_ms))
    rows = history.house.rows("SELECT * FROM alarm WHERE refit_id = :refit", refit=refit)
    stored = {(row["member_id"], row["alarm_id"]): row for row in rows}
    must(len(stored) == len(rows), "alarm-doubled", f"{rows}")
    for key, due_ms in wanted.items():
        must(key in stored, "alarm-lacking", f"{key}")
        near = abs(stored[key]["due_at"] - due_ms) <= 1
        must(near, "alarm-at-wrong-time", f"{key}: {stored[key]['due_at']} is {due_ms}")
        must(stored[key]["state"] != "withdrawn", "alarm-lacking", f"{stored[key]}")
    for key, row in stored.items():
        must(key in wanted or row["state"] not in ("due", "claimed"), "alarm-for-nothing", f"{row}")
    now_ms = history.house.clock.ms
    for rest in rests:
        if rest.alive and rest.look["device"]:
            _check_phone_rings(history, rest, wanted, now_ms)


def _check_phone_rings(
    history: History, rest: Rest, wanted: dict[tuple[str, str], int], now_ms: int
) -> None:
    rung: dict[tuple[str, str], int] = {}
    for one in rest.disk["warnings"]:
        key, due_ms = (one["member_id"], one["id"]), round(one["due_at"])
        rung[key] = min(due_ms, rung.get(key, due_ms))
    must(
        rung.keys() == wanted.keys(),
        "phone-rings-otherwise",
        f"{rest.key.name}: {rung.keys() ^ wanted.keys()}",
    )
    for key, due_ms in rung.items():
        must(abs(due_ms - wanted[key]) <= 1, "phone-rings-otherwise", f"{rest.key.name}: {key}")


def _ms(text: str) -> int:
    from datetime import datetime

    return round(datetime.fromisoformat(text).timestamp() * 1000)


def _check_history_api(history: History, rests: list[Rest], truth: Truth) -> None:
    """Whatever was ever sent about an item can be read, refused or not."""
    reader = next((rest.key for rest in rests if rest.alive), None)
    named = sorted(
        {
            (action["kind"], action["id"])
            for row in truth.log
            for action in row["actions"]
            if action.get("kind") in ("job", "step", "zone") and action.get("id") in truth.items
        }
    )
    if reader is None or not named:
        return
    kind, id_ = history.chance.choice(named)
    path = f"/api/refits/{reader.refit_id}/history/{kind}/{id_}"
    told = call(history.house.wire, "GET", path, key=reader.key).json["operations"]
    known = {(one["device_id"], one["n"]) for one in told}
    for row in truth.log:
        if any(action.get("id") == id_ and action.get("kind") == kind for action in row["actions"]):
            must((row["device_id"], row["n"]) in known, "history-lacks", f"{kind} {id_}: {row}")


def _check_other_refit(history: History) -> None:
    other = history.house.other
    assert other is not None
    rows = history.house.rows(
        "SELECT id, at FROM item WHERE refit_id = :refit", refit=other.refit_id
    )
    must(len(rows) == 3, "other-refit-touched", f"{rows}")
    logged = history.house.rows(
        "SELECT n FROM operation WHERE refit_id = :refit", refit=other.refit_id
    )
    must(not logged, "other-refit-touched", f"{logged}")
