"""Judges the copies: each whose key works is the server's, and shows what it holds."""

from __future__ import annotations

from tests.simulation.books import must
from tests.simulation.quiet import Rest
from tests.simulation.truth import Truth, by_id

FORGOTTEN = ("zone", "job", "step", "link", "product")  # whoever begins is not sent what is gone


def check_drained(rest: Rest) -> None:
    waiting = [row["n"] for row in rest.disk["operations"] if row["status"] == "waiting"]
    must(not waiting, "never-sent", f"{rest.key.name}: {waiting} still wait; {rest.look['state']}")
    must(not rest.disk["meta"].get("aside"), "never-sent", "a fresh copy is still being loaded")


def check_copy(rest: Rest, truth: Truth) -> None:
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
        ("differences", by_id(rest.disk["differences"]), truth.differences),
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


def check_shown(rest: Rest) -> None:
    """What is shown is what is on the disk, as far as nothing waits on top of it."""
    if any(row["status"] == "waiting" for row in rest.disk["operations"]):
        return
    rows = {row["id"]: row for row in rest.disk["rows"]}
    shown = by_id(rest.disk["shown"]["items"]) | by_id(rest.disk["shown"]["records"])
    hidden = {id_ for id_, row in rows.items() if "fields" in row and row["fields"].get("gone")}
    hidden |= {id_ for id_, row in rows.items() if row["kind"] == "sum"}
    must(
        shown.keys() == rows.keys() - hidden,
        "screen-differs",
        f"{rest.key.name}: {shown.keys() ^ rows.keys()}",
    )
    for id_, row in shown.items():
        must(row == rows[id_], "screen-differs", f"{rest.key.name}: {row} is {rows[id_]}")
