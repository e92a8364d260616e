"""What a measurement runs on: phones in Node, a server, and a socket between them that counts and can delay."""

from __future__ import annotations

import json
import os
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import requests
from tests.support.server import free_port

HERE = Path(__file__).parent
CLIENT = HERE.parents[1] / "client"


@dataclass(frozen=True, slots=True)
class Cost:
    """What a step took: seconds on the phone, and what went over the socket."""

    took_s: float
    requests: int
    up_b: int
    down_b: int
    failures: int
    said: dict[str, Any]

    @property
    def bytes(self) -> int:
        """Bytes both ways, heads and bodies."""
        return self.up_b + self.down_b


class Phones:
    """A process with phones that take orders."""

    def __init__(self, program: Path) -> None:
        self._process = subprocess.Popen(
            ["node", "--max-old-space-size=4096", str(program)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def order(self, do: str, /, **order: Any) -> dict[str, Any]:
        """Give an order and wait until it is done."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps({"do": do, **order}) + "\n")
        self._process.stdin.flush()
        said = json.loads(self._process.stdout.readline())
        if "error" in said:
            raise RuntimeError(said["error"])
        return dict(said)

    def stop(self) -> None:
        """Let the process end."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.wait(60)


class Line:
    """A socket between phones and a server that counts, and holds each piece back for ``way_ms``."""

    def __init__(self, to_port: int, way_ms: int = 0) -> None:
        self.port, self._questions = free_port(), free_port()
        words = [self.port, to_port, way_ms, self._questions]
        self._process = start(HERE / "proxy.mjs", *map(str, words))
        self.address = f"http://127.0.0.1:{self.port}"

    def count(self) -> dict[str, int]:
        """Give what went over it since the last time it was asked."""
        return dict(requests.get(f"http://127.0.0.1:{self._questions}", timeout=10).json())

    def stop(self) -> None:
        """Cut it."""
        self._process.terminate()
        self._process.wait(60)


def start(program: Path, *words: str) -> subprocess.Popen[str]:
    """Start a program in Node and wait until it says that it is up."""
    process = subprocess.Popen(["node", str(program), *words], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    if "up" not in process.stdout.readline():
        raise RuntimeError(f"{program.name} did not start")
    return process


def measured(line: Line, phones: Phones, do: str, /, **order: Any) -> Cost:
    """Give an order over a line and say what it cost."""
    line.count()
    said = phones.order(do, url=line.address, **order)
    return Cost(said["took_s"], **line.count(), said=said)


@contextmanager
def peer_server() -> Iterator[int]:
    """Run the peer's server on an empty folder; give its port."""
    with tempfile.TemporaryDirectory() as folder:
        port = free_port()
        process = start(HERE / "peer" / "server.mjs", str(port), folder)
        try:
            yield port
        finally:
            process.terminate()
            process.wait(60)


def peer_phones() -> Phones:
    """Start the peer's phones."""
    return Phones(HERE / "peer" / "phone.mjs")


def our_phones(folder: Path) -> Phones:
    """Bundle the client's own code for Node and start phones with it."""
    out = folder / "ours.mjs"
    command = [
        str(CLIENT / "node_modules/.bin/esbuild"), str(HERE / "ours.mjs"), "--bundle", "--platform=node",
        "--format=esm", "--log-level=error", f"--outfile={out}",
    ]  # fmt: skip
    around = {**os.environ, "NODE_PATH": str(CLIENT / "node_modules")}
    subprocess.run(command, check=True, timeout=60, env=around)
    return Phones(out)
