"""Breaks sync in each way of tests/simulation/mutants.py, in a copy of the tree, and sees a history fail.

Prints a table: the mutant, the first seed that found it, and what was violated. Ends with 1 where one was not found.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.simulation.mutants import MUTANTS, Mutant

ROOT = Path(__file__).parents[1]
MOST = 600  # histories that a mutant is given
COPIED = ("server", "tests", "tools", "fixtures")


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        description="Break sync on purpose, and see the simulation find it."
    )
    parser.add_argument(
        "--named", action="store_true", help="only those that every run of the tests tries"
    )
    parser.add_argument("--only", default="", help="those whose name holds this")
    given = parser.parse_args(words)
    wanted = [one for one in MUTANTS if given.only in one.name and (one.named or not given.named)]
    print(f"{'first seed':>10}  {'s':>4}  {'violated':24} mutant", flush=True)
    missed = [mutant for mutant in wanted if not _tried(mutant)]
    return 1 if missed else 0


def _tried(mutant: Mutant) -> bool:
    began = time.perf_counter()
    with tempfile.TemporaryDirectory(prefix="twmutant-") as folder:
        _copy(Path(folder))
        for change in mutant.changes:
            place = Path(folder) / change.file
            text = place.read_text()
            if text.count(change.old) != 1:
                raise SystemExit(
                    f"{mutant.name}: this must stand once in {change.file}:\n{change.old}"
                )
            place.write_text(text.replace(change.old, change.new))
        seed, violated = _played(Path(folder), mutant.on_postgres)
    print(
        f"{seed:>10}  {time.perf_counter() - began:4.0f}  {violated:24} {mutant.name}", flush=True
    )
    return bool(violated)


def _copy(folder: Path) -> None:
    """Copy what a history needs; what is installed is shared."""
    unwanted = shutil.ignore_patterns("__pycache__", "web", "node_modules", "browser")
    for name in COPIED:
        shutil.copytree(ROOT / name, folder / name, ignore=unwanted)
    (folder / "client").mkdir()
    for name in ("src", "tests"):
        shutil.copytree(ROOT / "client" / name, folder / "client" / name, ignore=unwanted)
    for name in ("package.json", "tsconfig.json"):
        shutil.copy(ROOT / "client" / name, folder / "client" / name)
    (folder / "client" / "node_modules").symlink_to((ROOT / "client" / "node_modules").resolve())


def _played(folder: Path, on_postgres: bool) -> tuple[str, str]:
    """Play histories there up to the first that fails; give its seed and what was violated."""
    command = [
        sys.executable, "-m", "tools.simulate", "--start", "0", "--n", str(MOST), "--stop",
        "--one-in", "1" if on_postgres else "0",
    ]  # fmt: skip
    environment = {
        **os.environ,
        "PYTHONHASHSEED": "0",
        "PYTHONPATH": f"{folder / 'server'}:{folder}",
    }
    ran = subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    found = re.search(r"violations +\d+\n +\d+  ([a-z-]+): seeds (\d+)", ran.stdout)
    if found:
        return found[2], found[1]
    if ran.returncode == 0:
        return "-", ""
    raise SystemExit(f"it broke down otherwise:\n{ran.stdout[-2000:]}{ran.stderr[-4000:]}")


if __name__ == "__main__":
    sys.exit(main())
