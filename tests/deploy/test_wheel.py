"""The wheel: built from the checkout, put into a fresh environment without Node, and served."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import requests

from tests.support.server import free_port

pytestmark = pytest.mark.xdist_group("wheel")  # one environment for all of these

ROOT = Path(__file__).parents[2]
WEB = ROOT / "server" / "tackwatch" / "web"
REFIT = {
    "name": "Wanderer",
    "time_zone": "Europe/Lisbon",
    "launch_at": "2027-04-01T08:00:00Z",
    "owner_name": "Olga",
    "language": "en",
}


def pip(python: Path, *words: str) -> None:
    command = [str(python), "-m", "pip", "--quiet", "--disable-pip-version-check", *words]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout."""
    assert (WEB / "index.html").is_file(), "build the client first: make client"
    out = tmp_path_factory.mktemp("wheel")
    how = ("--no-deps", "--no-build-isolation", "--wheel-dir", str(out))
    pip(Path(sys.executable), "wheel", *how, str(ROOT))
    (made,) = out.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def bin_dir(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The programs of a fresh environment into which the lock and the wheel were installed."""
    home = tmp_path_factory.mktemp("fresh") / "venv"
    subprocess.run([sys.executable, "-m", "venv", str(home)], check=True)
    python = home / "bin" / "python"
    pip(python, "install", "--require-hashes", "--requirement", "requirements/run.txt")
    pip(python, "install", "--no-deps", str(wheel))
    pip(python, "check")
    return home / "bin"


@contextmanager
def running(
    bin_dir: Path, folder: Path, *words: str, under: tuple[str, ...] = (), **environment: str
) -> Iterator[tuple[subprocess.Popen[bytes], Path]]:
    """Run a command of the fresh environment in an empty folder, with nothing else in its PATH."""
    log = folder / f"{words[0]}.log"
    data_dir = str(folder / "data")
    with log.open("wb") as out:
        process = subprocess.Popen(
            [*under, str(bin_dir / "tackwatch"), *words],
            cwd=folder,
            env={"PATH": str(bin_dir), "TACKWATCH_DATA_DIR": data_dir, **environment},
            stdout=out,
            stderr=out,
        )
    try:
        yield process, log
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(30)


def until(what: str, true: Callable[[], bool], within_s: float = 30) -> None:
    deadline = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < deadline, what
        time.sleep(0.1)


def status_of(address: str) -> str:
    return str(requests.get(f"{address}/api/health", timeout=10).json()["status"])


def test_the_wheel_carries_client_profiles_demo_and_migrations(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as packed:
        names = set(packed.namelist())
    built = {f"tackwatch/web/{path.relative_to(WEB)}" for path in WEB.rglob("*") if path.is_file()}
    profiles = {
        f"tackwatch/fixtures/profiles/{path.name}"
        for path in (ROOT / "fixtures/profiles").iterdir()
    }
    versions = ROOT / "server/tackwatch/store/migrations/versions"
    assert len(built) > 10
    assert len(profiles) > 5
    assert built | profiles <= names
    assert "tackwatch/fixtures/demo/refit.json" in names
    assert {
        f"tackwatch/store/migrations/versions/{path.name}" for path in versions.glob("0*.py")
    } <= names
    assert {f"tackwatch/alarms/phrases/{one}.json" for one in ("en", "es")} <= names
    assert not [name for name in names if "node_modules" in name or name.startswith("tests/")]


def test_it_serves_app_and_alarms_where_there_is_no_node(bin_dir: Path, tmp_path: Path) -> None:
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    with running(bin_dir, tmp_path, "serve", "--port", str(port), "--workers", "1") as (
        server,
        log,
    ):
        until("the server did not start", lambda: server.poll() is not None or answers(address))
        until("nobody rings the alarms", lambda: status_of(address) == "ok")
        page = requests.get(address, timeout=10)
        assert page.status_code == 200
        assert page.content == (WEB / "index.html").read_bytes()
        made = requests.post(
            f"{address}/api/refits", json={**REFIT, "with_products": True}, timeout=10
        )
        assert made.status_code == 201, made.text
        assert len(requests.get(f"{address}/api/profiles", timeout=10).json()["profiles"]) > 5
        until("no alarm process", lambda: "alarm process started" in log.read_text())
    assert server.returncode == 0


def test_the_alarm_process_runs_by_itself(bin_dir: Path, tmp_path: Path) -> None:
    with running(bin_dir, tmp_path, "alarms") as (process, log):
        until("no alarm process", lambda: "alarm process started" in log.read_text())
        assert process.poll() is None
    assert process.returncode == 0


@pytest.fixture
def closed(bin_dir: Path) -> Iterator[Path]:
    """The package of the fresh environment, with nothing compiled in it, where nobody may write."""
    (package,) = bin_dir.parent.glob("lib/*/site-packages/tackwatch")
    for kept in package.rglob("__pycache__"):
        shutil.rmtree(kept)
    folders = [package, *(one for one in package.rglob("*") if one.is_dir())]
    for one in folders:
        one.chmod(0o555)
    yield package
    for one in folders:
        one.chmod(0o755)


# Root writes wherever it likes, unless that is taken from it.
SETPRIV = shutil.which("setpriv") or "setpriv"
KEPT_OUT = (SETPRIV, "--bounding-set", "-dac_override,-dac_read_search") if os.getuid() == 0 else ()


def compiled_in(folder: Path) -> dict[Path, int]:
    """Give the files of compiled code in a folder, with when they were written."""
    return {one: one.stat().st_mtime_ns for one in folder.rglob("*.nb?")}


@pytest.mark.timeout(400)
def test_the_search_is_compiled_once_before_anybody_asks_also_where_the_package_may_not_be_written(
    bin_dir: Path, closed: Path, tmp_path: Path
) -> None:
    kept = tmp_path / "data" / "compiled"
    mark, files = kept / "all-compiled", []
    for _ in range(2):
        with running(bin_dir, tmp_path, "plans", under=KEPT_OUT) as (process, log):
            until("it is not compiled", mark.is_file, 300)
            assert "compiling the search" in log.read_text()
            assert process.poll() is None
        assert process.returncode == 0
        files.append(compiled_in(kept))
        mark.unlink()  # so that it looks at all of it once more
    assert len(files[0]) > 3
    assert files[0] == files[1]  # nothing was compiled again
    assert list(closed.rglob("__pycache__")) == []


def test_the_demo_prints_a_way_in_for_each_of_its_people(bin_dir: Path, tmp_path: Path) -> None:
    environment = {"PATH": str(bin_dir), "TACKWATCH_DATA_DIR": str(tmp_path / "data")}
    links = [
        subprocess.run(
            [str(bin_dir / "tackwatch"), "demo"],
            cwd=tmp_path, env=environment, capture_output=True, text=True, check=True, timeout=60,
        ).stdout.splitlines()
        for _ in range(2)
    ]  # fmt: skip
    for lines in links:
        said = "\n".join(lines)
        assert all(f"({who})" in said for who in ("owner", "painter", "hand", "partner"))
        assert said.count("/#/join/") == 4
    assert set(links[0]).isdisjoint(links[1])


def answers(address: str) -> bool:
    try:
        return requests.get(f"{address}/api/health", timeout=5).ok
    except requests.ConnectionError:
        return False
