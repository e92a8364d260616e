"""Where compiled code is kept: what was named, beside the program, in the data folder, or for this process alone."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from tackwatch.work.planning import compiled_code
from tackwatch.work.planning.compiled_code import (
    NAME,
    all_compiled,
    keep_compiled,
    note_all_compiled,
)


@pytest.fixture(autouse=True)
def _unnamed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let nobody have named a folder, and let what is named here be forgotten."""
    monkeypatch.setenv(NAME, "")


@pytest.fixture
def closed(tmp_path: Path) -> Path:
    """A place below which no folder can be made, also by root: it is a file."""
    place = tmp_path / "closed"
    place.write_text("")
    return place


@pytest.fixture
def beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder beside the program."""
    monkeypatch.setattr(compiled_code, "_BESIDE", (tmp_path / "engine", tmp_path / "forecast"))
    return tmp_path / "engine"


def test_it_is_kept_beside_the_program_where_that_may_be_written(
    beside: Path, tmp_path: Path
) -> None:
    assert keep_compiled(tmp_path / "data") == beside
    assert NAME not in os.environ
    assert not (tmp_path / "data").exists()


def test_it_is_kept_with_the_data_where_the_program_may_not_be_written(
    beside: Path, closed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compiled_code, "_BESIDE", (beside, closed / "forecast"))
    assert keep_compiled(tmp_path / "data") == tmp_path / "data"
    assert os.environ[NAME] == str(tmp_path / "data")
    assert keep_compiled(tmp_path / "other") == tmp_path / "data"  # named by now


def test_what_somebody_named_comes_first_unless_it_may_not_be_written(
    beside: Path, closed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(NAME, str(tmp_path / "named"))
    assert keep_compiled(tmp_path / "data") == tmp_path / "named"
    monkeypatch.setenv(NAME, str(closed / "named"))
    assert keep_compiled(tmp_path / "data") == beside
    assert NAME not in os.environ


def test_where_nothing_may_be_written_it_is_kept_out_of_sight_for_this_process(
    closed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(compiled_code, "_BESIDE", (closed / "engine",))
    folder = keep_compiled(closed / "data")
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert os.environ[NAME] == str(folder)


@pytest.mark.parametrize("what", ["source", "place", "version", "processor"])
def test_all_is_compiled_until_anything_changes_that_it_hangs_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    plan = tmp_path / "plan"
    for one in (plan, tmp_path / "elsewhere"):
        (one / "forecast").mkdir(parents=True)
        (one / "forecast" / "kernel.py").write_text("a = 1")
    monkeypatch.setattr(compiled_code, "_PLAN", plan)
    assert not all_compiled(tmp_path)
    note_all_compiled(tmp_path)
    (plan / "model.py").write_text("a = 1")  # which is not compiled
    assert all_compiled(tmp_path)
    if what == "source":
        (plan / "forecast" / "kernel.py").write_text("a = 2")
    elif what == "place":
        monkeypatch.setattr(compiled_code, "_PLAN", tmp_path / "elsewhere")
    elif what == "version":
        monkeypatch.setattr(compiled_code, "version", lambda name: f"{name} 99")
    else:
        monkeypatch.setattr(compiled_code, "_processor", lambda: "another")
    assert not all_compiled(tmp_path)
