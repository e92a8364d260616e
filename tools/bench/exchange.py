"""The exchange beside its peer: on one machine, in one run, on the same rows; both phones store in memory.

Ours is ``tackwatch serve`` with all it does at work (sign-in, checks, merge, alarms; SQLite, fully synchronised) and
the client's own code on an IndexedDB in memory. The peer is a general replication engine, its server on LevelDB.
"""

from __future__ import annotations

import operator
import random
from collections.abc import Sequence

from tools.bench.machines import Cost
from tools.bench.rows import Row, rows
from tools.bench.sides import Edit, Ours, Peer, Side, both
from tools.bench.table import Table, best

COUNT = 10_000
ROUNDS = 3
PUSHES = 8
NEWCOMERS = 8
CREW = [f"crew{n}" for n in range(8)]
STORM = 500
EACH = 250
FIELDS = ("title", "text", "labour_h", "crew_size", "kind", "held", "held_text", "tack")


def measure() -> list[str]:
    """Measure, print, and give what missed its bar."""
    chance = random.Random(7)  # invented rows, the same in each run
    table = Table()
    with both() as (ours, peer):
        many = rows(COUNT, chance)
        phones = [f"{name}{n}" for name in ("plain", "tuned") for n in range(ROUNDS)] + [
            "far",
            "far_tuned",
        ]
        for side in (ours, peer):
            side.refit("many", many, phones)
        _first(table, ours, peer)
        _far(table, ours, peer)
        _news(table, ours, peer, many)
        _moved(table, ours, peer)
        _push(table, ours, peer, many)
        _deleted(table, ours, peer, chance)
        _storm(table, ours, peer, chance)
    return table.missed


def _first(table: Table, ours: Ours, peer: Peer) -> None:
    what = f"first sync of {COUNT:,} rows"
    mine: list[Cost] = []
    plain: list[Cost] = []
    tuned: list[Cost] = []
    for n in range(ROUNDS):
        mine += [ours.first(f"plain{n}", ours.near), ours.first(f"tuned{n}", ours.near)]
        plain.append(peer.first(f"plain{n}", peer.near))
        tuned.append(peer.first(f"tuned{n}", peer.near, tuned=True))
    table.faster(what, _took(mine), _took(plain), 4)
    table.faster(f"{what}, peer tuned (batch 1,000)", _took(mine), _took(tuned), 2.5)
    table.faster(f"{what}, the very first phone", mine[0].took_s, plain[0].took_s, 4)
    table.count(f"{what}: requests", mine[0].requests, plain[0].requests, 3)
    table.part(f"{what}: bytes", mine[0].bytes, plain[0].bytes, 0.3)
    table.part(f"{what}: bytes, peer tuned", mine[0].bytes, tuned[0].bytes, 0.3)


def _far(table: Table, ours: Ours, peer: Peer) -> None:
    what = "first sync, 100 ms there and back"
    took_s = _took([ours.first("far", ours.far), ours.first("far_tuned", ours.far)])
    table.faster(what, took_s, peer.first("far", peer.far).took_s, 30)
    tuned_s = peer.first("far_tuned", peer.far, tuned=True).took_s
    table.faster(f"{what}, peer tuned", took_s, tuned_s, 4.5)


def _news(table: Table, ours: Ours, peer: Peer, many: Sequence[Row]) -> None:
    here: list[tuple[Cost, Cost]] = []
    for side in (ours, peer):
        side.sync(["plain0"], side.near)
        side.sync(["plain1"], side.near)
        nothing = side.sync(["plain0"], side.near)
        side.edit("plain1", [_edit(row, "crew_size", 4) for row in many[5000:5010]])
        side.push("plain1", side.near)
        here.append((nothing, side.sync(["plain0"], side.near)))
    (nothing, ten), (peer_nothing, peer_ten) = here
    table.count("nothing changed: requests", nothing.requests, peer_nothing.requests, 1)
    table.count("nothing changed: bytes", nothing.bytes, peer_nothing.bytes, 500)
    table.count("ten rows changed: requests", ten.requests, peer_ten.requests, 1)
    table.count("ten rows changed: bytes", ten.bytes, peer_ten.bytes, 1500)


def _moved(table: Table, ours: Ours, peer: Peer) -> None:
    asked = [side.sync(["plain0"], side.moved).requests for side in (ours, peer)]
    table.count("the server at another address, nothing new: requests", asked[0], asked[1], 1)


def _push(table: Table, ours: Ours, peer: Peer, many: Sequence[Row]) -> None:
    mine: list[Cost] = []
    theirs: list[Cost] = []
    for n in range(PUSHES):
        start = 2000 + 1000 * n
        edits = [_edit(row, "crew_size", 5) for row in many[start : start + 1000]]
        for side, costs in ((ours, mine), (peer, theirs)):
            side.edit("plain0", edits)
            costs.append(side.push("plain0", side.near))
    table.faster("push of 1,000 offline edits", _took(mine), _took(theirs), 1.3)
    table.count("push of 1,000 offline edits: requests", mine[-1].requests, theirs[-1].requests, 1)
    table.part("push of 1,000 offline edits: bytes", mine[-1].bytes, theirs[-1].bytes, 0.06)


def _deleted(table: Table, ours: Ours, peer: Peer, chance: random.Random) -> None:
    live = rows(1_000, chance)
    gone = rows(9_000, chance)
    phones = [f"after{n}" for n in range(NEWCOMERS)]
    never = [f"never{n}" for n in range(NEWCOMERS)]
    costs: list[tuple[list[Cost], list[Cost]]] = []
    for side in (ours, peer):
        side.refit("deleted", [*live, *gone], phones, gone)
        side.refit("never", live, never)
        both_ways = [
            (side.first(a, side.near), side.first(b, side.near))
            for a, b in zip(phones, never, strict=True)
        ]
        costs.append(([one for one, _ in both_ways[1:]], [one for _, one in both_ways[1:]]))
    (after, plain), (peer_after, peer_plain) = costs
    what = "fresh phone, 1,000 rows and 9,000 deleted, to one without those"
    table.count(
        f"{what}: percent of bytes",
        _percent(after[0].bytes, plain[0].bytes),
        _percent(peer_after[0].bytes, peer_plain[0].bytes),
        110,
    )
    table.count(
        f"{what}: percent of time",
        _percent(_took(after), _took(plain)),
        _percent(_took(peer_after), _took(peer_plain)),
        110,
    )


def _storm(table: Table, ours: Ours, peer: Peer, chance: random.Random) -> None:
    made = rows(2 * STORM + 400, chance)
    steps = [row for row in made if row["kind"] == "step"]
    apart = [
        [_edit(row, FIELDS[n], _value(FIELDS[n], n)) for row in chance.sample(steps[:STORM], EACH)]
        for n in range(8)
    ]
    same = [
        [_edit(row, "text", f"by {n}") for row in chance.sample(steps[STORM : 2 * STORM], EACH)]
        for n in range(8)
    ]
    for side in (ours, peer):
        side.refit("storm", made, CREW)
        side.sync(CREW, side.near)
        side.sync(CREW, side.near)
    results = [_together(side, apart) for side in (ours, peer)]
    (cost, seen, _), (peer_cost, peer_seen, _) = results
    what = "8 phones, 250 edits each, all at once, until all agree"
    table.faster(what, _sum_s(cost), _sum_s(peer_cost), 2.5)
    table.count(
        f"{what}: requests",
        sum(one.requests for one in cost),
        sum(one.requests for one in peer_cost),
        16,
    )
    table.count(
        f"{what}: answers 5xx",
        sum(one.failures for one in cost),
        sum(one.failures for one in peer_cost),
        0,
    )
    table.count(
        "edits of different fields that are seen afterwards", seen, peer_seen, 8 * EACH, operator.eq
    )
    results = [_together(side, same) for side in (ours, peer)]
    (_, _, found), (_, _, peer_found) = results
    table.count(
        "values of one field that can be found afterwards", found, peer_found, 8 * EACH, operator.eq
    )


def _together(side: Side, edits: Sequence[Sequence[Edit]]) -> tuple[list[Cost], int, int]:
    """Let all edit, then exchange until they agree; give the cost, and what the last of them sees and finds."""
    for phone, own in zip(CREW, edits, strict=True):
        side.edit(phone, own)
    cost = [side.sync(CREW, side.near), side.sync(CREW, side.near)]
    looks = [[side.look(phone, own) for own in edits] for phone in CREW]
    seen = [sum(one for one, _ in look) for look in looks]
    found = [sum(one for _, one in look) for look in looks]
    return cost, min(seen), min(found)


def _edit(row: Row, field: str, value: object) -> Edit:
    return {"kind": row["kind"], "id": row["id"], "fields": {field: value}}


def _value(field: str, number: int) -> object:
    special = {"labour_h": 77.5, "crew_size": 9, "kind": "survey", "held": "parts", "tack": True}
    return special.get(field, f"by {number}")


def _took(costs: Sequence[Cost]) -> float:
    return best([one.took_s for one in costs])


def _sum_s(costs: Sequence[Cost]) -> float:
    return sum(one.took_s for one in costs)


def _percent(one: float, other: float) -> int:
    return round(100 * one / other)
