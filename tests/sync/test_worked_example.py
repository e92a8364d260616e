"""The page docs/sync.md is enough to write a client: its worked example is true, and so are the names in its table."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tackwatch.merge.hlc import parse
from tests.sync.worked_example import ELIDED, PAGE, calls, replay

ROOT = Path(__file__).parents[2]
TEXT = PAGE.read_text()


def test_the_worked_example_is_what_a_server_answers() -> None:
    wanted = calls(TEXT)
    assert len(wanted) >= 9, "the page has its worked example"
    for call, answer in zip(wanted, replay(wanted), strict=True):
        assert answer.status == call.status, (call.path, answer.content)
        given = answer.json if answer.content else None
        assert _with_gaps(given, call.answer) == call.answer, (
            f"{call.path}: python -m tests.sync.worked_example writes the page's answers anew"
        )


def _with_gaps(given: Any, shown: Any) -> Any:
    """Leave out what the page leaves out."""
    if shown == ELIDED:
        return ELIDED
    if isinstance(given, dict) and isinstance(shown, dict):
        return {name: _with_gaps(value, shown.get(name)) for name, value in given.items()}
    return given


def test_the_stamps_of_the_worked_example_are_real_ones() -> None:
    stamps = re.findall(r"\b[0-9a-f]{16}-[0-9a-z]{12}\b", TEXT)
    assert len(stamps) > 10
    for stamp in stamps:
        assert parse(stamp)


def table() -> list[list[str]]:
    """Give the rows of the table of hazards: hazard, what happens, what a person sees, tests."""
    section = TEXT.partition("What can go wrong, and what a person sees\n")[2].partition("\n## ")[0]
    rows = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows[2:]]


def named() -> Iterator[tuple[str, str]]:
    for row in table():
        assert len(row) == 4, row
        assert all(row), row
        found = re.findall(r"`([^`:]+)::([^`]+)`", row[3])
        assert found, row
        yield from found


def test_the_table_names_every_hazard_and_what_a_person_sees() -> None:
    assert len(table()) >= 20


@pytest.mark.parametrize(("place", "name"), list(named()))
def test_each_test_that_the_table_names_exists(place: str, name: str) -> None:
    text = (ROOT / place).read_text()
    if place.endswith(".py"):
        known = [one.name for one in ast.walk(ast.parse(text)) if isinstance(one, ast.FunctionDef)]
        assert name.startswith("test_")
    else:
        known = re.findall(r'\btest\(\s*"([^"]+)"', text)
    assert name in known
