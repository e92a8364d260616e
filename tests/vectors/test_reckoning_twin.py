"""The phone reckons as the server does: same rows, same sources, states and warnings.

Instants may differ by the rounding of a millisecond: the phone sums one product's coats along one line.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tackwatch.trade.warning_kinds import ALARM_KINDS
from tackwatch.work.reckoning import Reckoning, reckon
from tests.support.client_code import answers
from tests.vectors.refits import Refits

ROUNDING_MS = 2
INSTANT = re.compile(r"\d{4}-\d\d-\d\dT[\d:.]+Z")
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def plain(value: Any) -> Any:
    """Give an answer as the phone writes it: instants in milliseconds, lists for tuples."""
    if isinstance(value, datetime):
        return round((value - EPOCH) / timedelta(milliseconds=1))
    if isinstance(value, str) and INSTANT.fullmatch(value):
        return plain(datetime.fromisoformat(value))
    if isinstance(value, Mapping):
        return {key: plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    return value


def expected(reckoning: Reckoning) -> dict[str, Any]:
    warnings = [
        {
            "member_id": w.member_id,
            "step_id": w.step_id,
            "ring": asdict(w.ring),
            **asdict(w.warning),
        }
        for w in reckoning.warnings
    ]
    members = reckoning.rows.live("member").values()
    rings = {
        " ".join((member.id, kind, *about)): asdict(reckoning.rules.ring(member, kind, about))
        for member in members
        for kind in ALARM_KINDS
        for about in ((), ("s0",), ("s0", "s1"))
    }
    return {
        "rings": rings,
        "sources": [plain(asdict(source)) for source in reckoning.sources],
        "steps": {id_: plain(asdict(state)) for id_, state in reckoning.steps.items()},
        "warnings": plain(warnings),
    }


def sorted_out(answer: Mapping[str, Any]) -> dict[str, Any]:
    """Put the lists into an order of their own: neither side owes one."""
    return {
        "rings": answer["rings"],
        "sources": sorted(answer["sources"], key=lambda one: one["id"]),
        "steps": answer["steps"],
        "warnings": sorted(answer["warnings"], key=lambda one: (one["member_id"], one["id"])),
    }


def differences(one: Any, other: Any, path: str = "") -> list[str]:
    """Say where two plain answers differ, beyond the rounding of instants."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        pairs = [(one[key], other[key], f"{path}.{key}") for key in one]
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = [(a, b, f"{path}[{n}]") for n, (a, b) in enumerate(zip(one, other, strict=True))]
    else:
        instants = isinstance(one, int) and isinstance(other, int) and min(one, other) > 10**12
        near = instants and abs(one - other) <= ROUNDING_MS
        return [] if near or one == other else [f"{path}: {one!r} and {other!r}"]
    return [line for pair in pairs for line in differences(*pair)]


@pytest.fixture(scope="module")
def drawn():
    draw = Refits(20_260_328)
    return [draw.refit() for _ in range(150)]


def test_phone_and_server_reckon_alike(drawn):
    lines = [
        {
            "items": [asdict(item) for item in items],
            "records": [asdict(record) for record in records],
            "now": now.isoformat(),
        }
        for items, records, now in drawn
    ]
    found = answers("store/reckon/vectors_cli.ts", lines)
    assert len(found) == len(drawn)
    for (items, records, now), answer in zip(drawn, found, strict=True):
        ours = sorted_out(expected(reckon(items, records, now)))
        assert differences(sorted_out(plain(answer)), ours) == []


def test_the_refits_reach_every_state_and_warning(drawn):
    """A draw that never cures, waits or rings would prove little."""
    made = [expected(reckon(*one)) for one in drawn]
    states = Counter(step["state"] for one in made for step in one["steps"].values())
    codes = Counter(
        why["code"] for one in made for step in one["steps"].values() for why in step["why"]
    )
    kinds = Counter(warning["kind"] for one in made for warning in one["warnings"])
    wanted = ["waiting", "ready", "under_way", "curing", "held", "finished", "signed_off"]
    assert [state for state in wanted if states[state] < 5] == []
    wanted = ["before_curing", "min_gap", "before_not_finished", "window_missed", "window_closes"]
    assert [code for code in wanted if not codes[code]] == []
    wanted = ["pot_life_ending", "pot_life_over", "recoat_open", "recoat_closing", "recoat_missed"]
    wanted += ["sandable", "immerse_open", "immerse_closing", "gel", "step_due", "step_late"]
    wanted += ["launch_countdown", "reading_stale", "weather_edge"]
    assert [kind for kind in wanted if kinds[kind] < 3] == []
    assert sorted(wanted) == sorted(ALARM_KINDS)
    warnings = [warning for one in made for warning in one["warnings"]]
    assert sum("held_from" in warning["params"] for warning in warnings) > 10
    assert len({warning["ring"]["zone"] for warning in warnings}) == 4
    assert any(len(source["authors"]) > 1 for one in made for source in one["sources"])
