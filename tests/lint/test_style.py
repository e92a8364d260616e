"""The linters: what they are there to forbid is written down, and they must say so."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
RUFF = Path(sys.executable).with_name("ruff")
MYPY = Path(sys.executable).with_name("mypy")
BIOME = ROOT / "client" / "node_modules" / ".bin" / "biome"
NOW = '"""A module."""\n\nfrom datetime import UTC, datetime\n\nINSTANT = datetime.now({})\n'


def run(*command: str | Path, cwd: Path = ROOT, text: str = "") -> tuple[int, str]:
    done = subprocess.run(
        [str(word) for word in command],
        cwd=cwd,
        input=text,
        capture_output=True,
        text=True,
        check=False,
        timeout=100,
    )
    return done.returncode, done.stdout + done.stderr


def ruff(text: str, name: str = "server/tackwatch/work/planted.py") -> tuple[int, str]:
    return run(RUFF, "check", "--no-cache", "--stdin-filename", name, "-", text=text)


def test_the_time_of_day_is_asked_of_the_clock_port() -> None:
    status, text = ruff(NOW.format("UTC"))
    assert status == 1
    assert "TID251" in text
    assert "ask the clock port" in text


@pytest.mark.parametrize("call", ["datetime.utcnow()", "datetime.now()"])
def test_an_instant_without_a_zone_is_found(call: str) -> None:
    status, text = ruff(NOW.replace("datetime.now({})", call))
    assert status == 1
    assert "DTZ" in text


def test_code_that_asks_the_port_passes() -> None:
    text = NOW.replace("datetime.now({})", "datetime(2026, 3, 2, tzinfo=UTC)")
    assert ruff(text)[0] == 0


def test_only_the_system_clock_is_let_off() -> None:
    let_off = [
        str(path.relative_to(ROOT / "server" / "tackwatch"))
        for path in (ROOT / "server" / "tackwatch").rglob("*.py")
        if re.search(r"noqa.*(TID251|DTZ)", path.read_text())
    ]
    assert let_off == ["work/ports.py"]


def test_a_function_without_types_is_found(tmp_path: Path) -> None:
    place = tmp_path / "planted.py"
    command = (MYPY, "--config-file", ROOT / "pyproject.toml", "--cache-dir", tmp_path / "c", place)
    place.write_text("def weigh(base_g):\n    return base_g\n")
    status, text = run(*command, cwd=tmp_path)
    assert status == 1
    assert "no-untyped-def" in text
    place.write_text("def weigh(base_g: float) -> float:\n    return base_g\n")
    assert run(*command, cwd=tmp_path)[0] == 0


@pytest.mark.parametrize("room", ["clocks", "merge"])
@pytest.mark.parametrize(
    "module",
    [
        *("../store/db.ts", "../sync/round.ts", "../screens/now.tsx", "../parts/icon.tsx"),
        *("../ring/ring.ts", "../words/index.ts", "../sw/notice.ts"),
        *("preact", "preact/hooks", "@preact/signals", "idb"),
    ],
)
def test_the_client_s_pure_rooms_may_not_reach_out(tmp_path: Path, room: str, module: str) -> None:
    status, text = biome(tmp_path, room, module)
    assert status == 1
    assert "noRestrictedImports" in text


@pytest.mark.parametrize(("room", "module"), [("store", "idb"), ("clocks", "../merge/hlc.ts")])
def test_the_client_s_other_imports_pass(tmp_path: Path, room: str, module: str) -> None:
    assert biome(tmp_path, room, module)[0] == 0


def biome(folder: Path, room: str, module: str) -> tuple[int, str]:
    """Look at one planted file with the client's own rules."""
    shutil.copy(ROOT / "client" / "biome.json", folder)
    place = folder / "src" / room / "planted.ts"
    place.parent.mkdir(parents=True)
    place.write_text(f'import {{ one }} from "{module}";\n\nexport const two = one;\n')
    return run(BIOME, "lint", cwd=folder)
