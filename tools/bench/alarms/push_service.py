"""A push service that takes a while to answer, in a process of its own; it keeps what came, to be opened afterwards.

It does no more for each message than reading it and waiting, so that on a machine of few cores it is not what is
measured.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

ANSWER_S = 0.1
_CREATED = b"HTTP/1.1 201 Created\r\nContent-Length: 0\r\n\r\n"


@dataclass(frozen=True, slots=True)
class Came:
    """A message that came: to which phone, and when it was taken; 0 when its sender had gone by then."""

    phone: str
    topic: str
    sealed: bytes
    taken_at: float


class _Talk(asyncio.Protocol):
    def __init__(self, came: list[list[Any]], answer_s: float) -> None:
        self._came, self._answer_s = came, answer_s
        self._read = b""

    def connection_made(self, transport: Any) -> None:
        self._transport = transport

    def data_received(self, data: bytes) -> None:
        self._read += data
        while (end := self._read.find(b"\r\n\r\n")) >= 0:
            lines = self._read[:end].decode("latin-1").split("\r\n")
            headers = {
                name.lower(): value.strip()
                for name, _, value in (line.partition(":") for line in lines[1:])
            }
            whole = end + 4 + int(headers.get("content-length", "0"))
            if len(self._read) < whole:
                return
            body, self._read = self._read[end + 4 : whole], self._read[whole:]
            one = [lines[0].split(" ")[1].rpartition("/")[2], headers["topic"], body, 0.0]
            self._came.append(one)
            asyncio.get_running_loop().call_later(self._answer_s, self._answer, one)

    def _answer(self, one: list[Any]) -> None:
        if not self._transport.is_closing():
            self._transport.write(_CREATED)
            one[3] = time.time()


class PushService:
    """The running service, seen from outside."""

    def __init__(self, port: int, line: Connection) -> None:
        self.origin = f"http://127.0.0.1:{port}"
        self._line = line

    def count(self) -> int:
        """Say how many messages came."""
        self._line.send("count")
        return int(self._line.recv())

    def take(self) -> list[Came]:
        """Give all that came since the last time."""
        self._line.send("take")
        return [Came(*one) for one in self._line.recv()]


@contextmanager
def push_service(answer_s: float = ANSWER_S) -> Iterator[PushService]:
    """Run a service on a free port."""
    here, there = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(
        target=_serve, args=(there, answer_s), daemon=True
    )
    process.start()
    try:
        yield PushService(int(here.recv()), here)
    finally:
        process.kill()
        process.join()


def _serve(line: Connection, answer_s: float) -> None:
    asyncio.run(_run(line, answer_s))


async def _run(line: Connection, answer_s: float) -> None:
    came: list[list[Any]] = []
    loop = asyncio.get_running_loop()
    server = await loop.create_server(lambda: _Talk(came, answer_s), "127.0.0.1", 0, backlog=4096)
    line.send(server.sockets[0].getsockname()[1])

    def asked() -> None:
        if line.recv() == "count":
            line.send(len(came))
        else:
            line.send(came[:])
            came.clear()

    loop.add_reader(line.fileno(), asked)
    await asyncio.Event().wait()
