"""The import contract: each of its rules is broken in a copy of the package, and the lint must see it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LINT = Path(sys.executable).with_name("lint-imports")

FLOORS = "each floor imports only what stands below it"
PURE = "Arithmetic is pure"
DOORS = "Doors and bells speak to the work"
AWAY = "A device away"
CIRCLES = "No circles"


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A copy of the package and of the contract."""
    shutil.copytree(
        ROOT / "server" / "tackwatch",
        tmp_path / "server" / "tackwatch",
        ignore=shutil.ignore_patterns("__pycache__", "web"),
    )
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def lint(house: Path) -> tuple[int, str]:
    done = subprocess.run(
        [str(LINT), "--no-cache"],
        cwd=house,
        env={**os.environ, "PYTHONPATH": str(house / "server")},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    return done.returncode, done.stdout + done.stderr


def broken(text: str) -> list[str]:
    """Give the names of the contracts that are said to be broken."""
    return [line.removesuffix(" BROKEN") for line in text.splitlines() if line.endswith(" BROKEN")]


def plant(house: Path, module: str, line: str) -> None:
    place = house / "server" / "tackwatch" / module
    place.parent.mkdir(exist_ok=True)
    before = place.read_text() if place.exists() else ""
    place.write_text(f"{before}\n{line}\n")


def test_the_house_as_it_stands_keeps_the_contract(house: Path) -> None:
    status, text = lint(house)
    assert (status, broken(text)) == (0, []), text


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("store/rows.py", "import tackwatch.work.sync", FLOORS),
        ("merge/apply.py", "import tackwatch.plan", FLOORS),
        ("alarms/bell.py", "import tackwatch.api", FLOORS),
        ("settings.py", "import tackwatch.trade.units", FLOORS),
        ("attic/__init__.py", "", FLOORS),
        ("trade/cure.py", "import time", PURE),
        ("merge/hlc.py", "import uuid", PURE),
        ("plan/__init__.py", "import random", PURE),
        ("trade/air.py", "import sqlalchemy", PURE),
        ("api/sync.py", "import tackwatch.store.rows", DOORS),
        ("alarms/tell.py", "import sqlalchemy", DOORS),
        ("remote/copy.py", "import tackwatch.work.ports", AWAY),
        ("remote/wire.py", "import tackwatch.settings", AWAY),
        ("remote/file.py", "import sqlalchemy", AWAY),
        ("work/sync.py", "import tackwatch.remote.rows", FLOORS),
    ],
)
def test_a_planted_import_is_found(house: Path, module: str, line: str, contract: str) -> None:
    plant(house, module, line)
    status, text = lint(house)
    assert status == 1, text
    assert [name for name in broken(text) if contract in name], text


def test_a_planted_circle_between_packages_is_found(house: Path) -> None:
    plant(house, "trade/air.py", "import tackwatch.merge.hlc")
    plant(house, "merge/hlc.py", "import tackwatch.trade.air")
    status, text = lint(house)
    assert status == 1, text
    assert [name for name in broken(text) if CIRCLES in name], text
