"""The locks and the list of dependencies: whole, pinned, and of no one machine."""

from __future__ import annotations

import ast
import json
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
RUN = [Requirement(text) for text in PROJECT["dependencies"]]
TEST = [Requirement(text) for extra in PROJECT["optional-dependencies"].values() for text in extra]


def lock(name: str) -> dict[str, str]:
    """Give the versions that a lock names, having looked at every line of it."""
    found: dict[str, str] = {}
    lines = iter((ROOT / "requirements" / name).read_text().splitlines())
    for line in lines:
        if line.startswith("    # via"):
            continue
        pinned = re.fullmatch(r"([a-z0-9._-]+)==(\S+) \\", line)
        assert pinned, line
        found[canonicalize_name(pinned[1])] = pinned[2]
        for hashed in lines:
            assert re.fullmatch(r"    --hash=sha256:[0-9a-f]{64}( \\)?", hashed), hashed
            if not hashed.endswith("\\"):
                break
    return found


@pytest.mark.parametrize("name", ["run.txt", "build.txt", "test.txt"])
def test_a_lock_pins_each_package_with_hashes_and_names_no_place(name: str) -> None:
    assert len(lock(name)) >= 5


def test_the_locks_hold_what_the_project_asks_for() -> None:
    for wanted, name in [(RUN, "run.txt"), (RUN + TEST, "test.txt")]:
        locked = lock(name)
        for one in wanted:
            assert one.specifier.contains(locked[canonicalize_name(one.name)]), one


def test_the_locks_agree_with_one_another() -> None:
    whole = lock("test.txt")
    assert lock("run.txt").items() <= whole.items()
    build = lock("build.txt")
    assert {name: whole[name] for name in build if name in whole}.items() <= build.items()


def test_the_client_s_lock_names_no_place_and_has_a_hash_for_each_package() -> None:
    packages = json.loads((ROOT / "client" / "package-lock.json").read_text())["packages"]
    others = {name: one for name, one in packages.items() if name}
    assert others
    assert [name for name, one in others.items() if "resolved" in one] == []
    assert [name for name, one in others.items() if "integrity" not in one] == []


@pytest.mark.parametrize(
    ("folder", "declared"),
    [("server/tackwatch", RUN), ("tests", RUN + TEST), ("tools", RUN + TEST)],
)
def test_what_is_imported_is_declared(folder: str, declared: list[Requirement]) -> None:
    own = {"tackwatch", "tests", "tools"}
    names = {canonicalize_name(one.name) for one in declared}
    makers = packages_distributions()
    missing = {
        module
        for path in (ROOT / folder).rglob("*.py")
        for module in imported(path) - own - set(sys.stdlib_module_names)
        if names.isdisjoint(canonicalize_name(maker) for maker in makers.get(module, [module]))
    }
    assert missing == set()


def imported(path: Path) -> set[str]:
    """Give the first part of every module that a file imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module.partition(".")[0])
    return found
