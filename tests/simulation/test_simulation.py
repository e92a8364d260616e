"""Histories from seeds lose nothing: a fixed set, a fresh one, and the same seed twice."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FIXED = 26  # the last of them on PostgreSQL
FRESH = 25
PATIENCE_S = 600  # of a machine that does much else

pytestmark = [pytest.mark.xdist_group("simulation"), pytest.mark.timeout(PATIENCE_S)]


def simulate(*words: str) -> subprocess.CompletedProcess[str]:
    """Run the command; the order of Python's sets is fixed in it, which it cannot be here."""
    command = [sys.executable, "-m", "tools.simulate", *words]
    return subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, timeout=PATIENCE_S - 10, check=False,
        env={**os.environ, "PYTHONHASHSEED": "0"},
    )  # fmt: skip


def test_the_histories_of_a_fixed_set_of_seeds_lose_nothing():
    ran = simulate("--start", "0", "--n", str(FIXED))
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "on PostgreSQL" in ran.stdout


def test_the_histories_of_fresh_seeds_lose_nothing():
    ran = simulate("--n", str(FRESH), "--one-in", "0")
    assert ran.returncode == 0, ran.stdout + ran.stderr


@pytest.mark.parametrize("seed", ["3", "25"])
def test_one_seed_is_the_same_history_twice(seed: str):
    """Every word between scheduler, phones and server is in the print; 25 is played on PostgreSQL."""
    first, second = simulate("--seed", seed), simulate("--seed", seed)
    assert "print" in first.stdout, first.stderr
    assert first.stdout == second.stdout
