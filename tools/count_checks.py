"""Prints how many checks of the trade's sums come from outside the project, and where they come from.

Counted are the values in fixtures/vectors/trade/outside.json that a test runs: by their `sum`, or by their id standing
in a test. Definitions and geometry, which need no witness, are told apart. Comparisons over random inputs
are not counted.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
PLACE = ROOT / "fixtures" / "vectors" / "trade" / "outside.json"
TESTS = ROOT / "tests" / "trade"
KINDS = {
    "published": "published: standards, handbooks, worked examples",
    "library": "reference libraries",
    "weather-record": "open weather records",
    "identity": "definitions and geometry",
    "from-memory": "from memory",
    "common-practice": "common practice, no source",
}


def kind_of(check: dict[str, Any]) -> str:
    """Name where a check comes from; a status that is not known stops the count."""
    kind = "identity" if check.get("kind") == "identity" else check["status"]
    if kind not in KINDS:
        raise ValueError(f"{check['id']}: there is no status {kind!r}")
    if not check["source"]:
        raise ValueError(f"{check['id']}: names no source")
    return str(kind)


def run_by_a_test(checks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Leave out the checks that are only written down."""
    tests = "".join(path.read_text("utf-8") for path in sorted(TESTS.glob("*.py")))
    return [one for one in checks if "sum" in one or f'"{one["id"]}"' in tests]


def counted(checks: list[dict[str, Any]]) -> Counter[str]:
    """Count the checks by where they come from, each id once."""
    by_id = {check["id"]: check for check in checks}
    if len(by_id) != len(checks):
        raise ValueError("two checks have one id")
    return Counter(kind_of(check) for check in checks)


def report(count: Counter[str]) -> str:
    """Give the lines that are printed."""
    total = count.total()
    lines = [f"{total} outside checks"]
    for kind, words in KINDS.items():
        lines.append(f"{count[kind]:5}  {100.0 * count[kind] / total:5.1f} %  {words}")
    return "\n".join(lines)


if __name__ == "__main__":
    written = json.loads(PLACE.read_text("utf-8"))
    run = run_by_a_test(written)
    print(report(counted(run)))
    print(f"{len(written) - len(run):5}  written down, run by no test: not counted")
