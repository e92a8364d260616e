"""Judges the server: its numbers, pictures, alarms, the history that it tells, and the refit next door."""

from __future__ import annotations

from datetime import datetime

from tests.simulation.books import must
from tests.simulation.history import History
from tests.simulation.quiet import Rest
from tests.simulation.truth import Truth
from tests.support.wires import call


def check_numbers(history: History) -> None:
    refit = history.house.keys[0].refit_id
    numbers = [
        row["seq"]
        for table in ("item", "record", "difference")
        for row in history.house.rows(
            f"SELECT seq FROM {table} WHERE refit_id = :refit", refit=refit
        )
    ]
    must(len(set(numbers)) == len(numbers), "number-used-twice", f"{sorted(numbers)}")


def check_photos(history: History, rests: list[Rest]) -> None:
    there = {row["sha256"] for row in history.house.rows("SELECT sha256 FROM photo_file")}
    for rest in rests:
        for blob in rest.disk["blobs"]:
            problem = blob.get("problem") or {}
            if not rest.alive or problem.get("type", "").endswith(":not-allowed"):
                continue  # a viewer's: said so, and kept
            must(blob["status"] == "sent", "picture-not-sent", f"{rest.key.name}: {blob}")
            excused = history.books.restores
            must(blob["sha256"] in there or excused, "picture-lost", f"{rest.key.name}: {blob}")


def check_alarms(history: History, rests: list[Rest]) -> None:
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
        if {"handed_from", "withdrawn"} & set(row["params"]):
            continue  # of what somebody does not see in time, or of what holds no longer
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
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def check_history_api(history: History, rests: list[Rest], truth: Truth) -> None:
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


def check_other_refit(history: History) -> None:
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
