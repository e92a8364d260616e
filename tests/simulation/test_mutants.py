"""A history must fail where sync is broken: the five ways that are named first, each in a copy of the tree."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.simulation.mutants import MUTANTS

ROOT = Path(__file__).parents[2]
PATIENCE_S = 900  # of a machine that does much else


@pytest.mark.xdist_group("simulation")
@pytest.mark.timeout(PATIENCE_S)
def test_each_broken_sync_is_found_by_a_history():
    command = [sys.executable, "-m", "tools.simulate_mutants", "--named"]
    ran = subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, timeout=PATIENCE_S - 10, check=False,
        env={**os.environ, "PYTHONHASHSEED": "0"},
    )  # fmt: skip
    assert ran.returncode == 0, ran.stdout + ran.stderr
    found = [line.split(maxsplit=3) for line in ran.stdout.splitlines()[1:]]
    assert [line[3] for line in found] == [one.name for one in MUTANTS if one.named]
    assert all(line[0].isdecimal() for line in found), ran.stdout
