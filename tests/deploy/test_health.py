"""The script that asks a running server how it is, as units and containers run it."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

from tests.support.server import Server, free_port

SCRIPT = Path(__file__).parents[2] / "deploy" / "health.sh"


def ask(address: str) -> tuple[int, str, str]:
    done = subprocess.run([str(SCRIPT), address], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


def test_it_fails_while_nobody_rings_and_is_content_once_somebody_does(tmp_path: Path) -> None:
    with Server(tmp_path, "", "--workers", "1", "--no-alarms") as server:
        status, said, wrong = ask(server.address)
        assert (status, said) == (1, "")
        assert wrong.startswith("nobody-rings: 0 alarm processes, 0 due")
        command = [sys.executable, "-m", "tackwatch.cli", "alarms"]
        bell = subprocess.Popen(
            command, env=server._environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        try:
            end = time.monotonic() + 60
            while ask(server.address)[0] != 0:
                assert time.monotonic() < end, ask(server.address)
                time.sleep(0.5)
            assert ask(server.address)[1] == "ok: 1 alarm processes, 0 due, 0 overdue\n"
        finally:
            bell.terminate()
            bell.wait(20)
        assert ask(server.address)[0] == 1, "it said that it ended"


def test_it_is_content_with_serve_alone(tmp_path: Path) -> None:
    with Server(tmp_path, "", "--workers", "1") as server:
        end = time.monotonic() + 60
        while ask(server.address)[0] != 0:
            assert time.monotonic() < end, ask(server.address)
            time.sleep(0.5)


def test_it_fails_where_nothing_answers() -> None:
    status, _, wrong = ask(f"http://127.0.0.1:{free_port()}")
    assert status == 1
    assert wrong.startswith("no health from http://127.0.0.1:")
