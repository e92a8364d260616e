"""The two sides that are measured, asked in the same words: ours, and a general replication engine as its peer."""

from __future__ import annotations

import os
import subprocess
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any, Protocol

from tests.support.phone import Phone
from tests.support.server import Server
from tests.support.wires import HttpWire, call
from tools.bench.machines import HERE, Cost, Line, measured, our_phones, peer_phones, peer_server
from tools.bench.rows import Row

WAY_MS = 50
Edit = dict[str, Any]


class Side(Protocol):
    """One side with its server, its phones, and three ways between them."""

    near: Line
    moved: Line
    far: Line

    def refit(
        self, name: str, rows: Sequence[Row], phones: Sequence[str], gone: Sequence[Row] = ()
    ) -> None:
        """Make a refit with these rows, of which ``gone`` are deleted again, and phones that hold nothing yet."""

    def first(self, phone: str, line: Line, *, tuned: bool = False) -> Cost:
        """Let a phone that holds nothing load everything."""

    def sync(self, phones: Sequence[str], line: Line) -> Cost:
        """Let phones exchange, all at once."""

    def push(self, phone: str, line: Line) -> Cost:
        """Let a phone hand over what it did."""

    def edit(self, phone: str, edits: Sequence[Edit]) -> None:
        """Let a phone edit rows one by one, offline."""

    def look(self, phone: str, edits: Sequence[Edit]) -> tuple[int, int]:
        """Say how many of these values a phone shows, and how many can be found there at all."""


class _Lines:
    def __init__(self, port: int) -> None:
        self.near, self.moved, self.far = Line(port), Line(port), Line(port, WAY_MS)

    def stop(self) -> None:
        for line in (self.near, self.moved, self.far):
            line.stop()


class Peer(_Lines):
    """The peer; a refit is a database of its own, and a phone's name says in which it is."""

    def __init__(self, port: int) -> None:
        super().__init__(port)
        self._phones = peer_phones()
        self._base: dict[str, str] = {}

    def refit(
        self, name: str, rows: Sequence[Row], phones: Sequence[str], gone: Sequence[Row] = ()
    ) -> None:
        """See ``Side``."""
        self._base |= dict.fromkeys(phones, name)
        there = {"url": self.near.address, "base": name}
        self._phones.order("seed", rows=list(rows), **there)
        self._phones.order("drop", ids=[row["id"] for row in gone], **there)

    def first(self, phone: str, line: Line, *, tuned: bool = False) -> Cost:
        """See ``Side``."""
        batch = 1000 if tuned else 0
        return measured(
            line, self._phones, "pull", phone=phone, base=self._base[phone], batch=batch
        )

    def sync(self, phones: Sequence[str], line: Line) -> Cost:
        """See ``Side``."""
        base = self._base[phones[0]]
        batch = 1000 if len(phones) > 1 or line is self.moved else 0
        return measured(line, self._phones, "sync", phones=list(phones), base=base, batch=batch)

    def push(self, phone: str, line: Line) -> Cost:
        """See ``Side``."""
        return measured(line, self._phones, "push", phone=phone, base=self._base[phone])

    def edit(self, phone: str, edits: Sequence[Edit]) -> None:
        """See ``Side``."""
        self._phones.order("edit", phone=phone, edits=list(edits))

    def look(self, phone: str, edits: Sequence[Edit]) -> tuple[int, int]:
        """See ``Side``."""
        said = self._phones.order("look", phone=phone, edits=_single(edits))
        return said["seen"], said["found"]

    def stop(self) -> None:
        """Stop phones and lines."""
        self._phones.stop()
        super().stop()


class Ours(_Lines):
    """Ours: the real server as a process, and the client's own code in Node."""

    def __init__(self, server: Server, folder: Path) -> None:
        super().__init__(server.port)
        self._address = server.address
        self._phones = our_phones(folder)
        self._accounts: dict[str, dict[str, str]] = {}

    def refit(
        self, name: str, rows: Sequence[Row], phones: Sequence[str], gone: Sequence[Row] = ()
    ) -> None:
        """See ``Side``."""
        owner = Phone.found(HttpWire(self._address), lambda: time.time_ns() // 1_000_000, name=name)
        for row in rows:
            owner.act(
                "seed",
                {
                    "do": "create",
                    "kind": row["kind"],
                    "id": row["id"],
                    "fields": row["fields"],
                    "sets": {},
                },
            )
        for row in gone:
            owner.act(
                "seed",
                {
                    "do": "set",
                    "kind": row["kind"],
                    "id": row["id"],
                    "fields": {"gone": True},
                    "seen": {},
                },
            )
        self._hand_in(owner)
        for phone in phones:
            body = {"token": owner.invite("owner", phone), "device_name": phone}
            made = call(owner.wire, "POST", "/api/invites/claim", body=body).json
            self._accounts[phone] = {name: made[name] for name in ("device_id", "key", "refit_id")}

    def _hand_in(self, owner: Phone) -> None:
        while owner.outbox:
            answer = owner.exchange()
            said = answer.json
            if answer.status != 200 or said["refused"]:
                raise RuntimeError(answer.content.decode()[:500])
            owner.outbox = [one for one in owner.outbox if one["n"] > said["acknowledged_n"]]
            owner.epoch, owner.cursor = said["epoch"], said["cursor"]

    def first(self, phone: str, line: Line, *, tuned: bool = False) -> Cost:
        """See ``Side``; there is nothing to tune."""
        return measured(line, self._phones, "pull", phone=phone, accounts=self._accounts)

    def sync(self, phones: Sequence[str], line: Line) -> Cost:
        """See ``Side``."""
        return measured(line, self._phones, "sync", phones=list(phones), accounts=self._accounts)

    def push(self, phone: str, line: Line) -> Cost:
        """See ``Side``."""
        return self.sync([phone], line)

    def edit(self, phone: str, edits: Sequence[Edit]) -> None:
        """See ``Side``."""
        self._phones.order("edit", phone=phone, edits=list(edits), accounts=self._accounts)

    def look(self, phone: str, edits: Sequence[Edit]) -> tuple[int, int]:
        """See ``Side``."""
        said = self._phones.order(
            "look", phone=phone, edits=_single(edits), accounts=self._accounts
        )
        return said["seen"], said["found"]

    def stop(self) -> None:
        """Stop phones and lines."""
        self._phones.stop()
        super().stop()


def _single(edits: Sequence[Edit]) -> list[dict[str, Any]]:
    return [
        {"kind": one["kind"], "id": one["id"], "field": field, "value": value}
        for one in edits
        for field, value in one["fields"].items()
    ]


@contextmanager
def both() -> Iterator[tuple[Ours, Peer]]:
    """Start both sides, each on an empty folder."""
    _install_peer()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        server = stack.enter_context(Server(folder, f"sqlite:///{folder / 'tackwatch.sqlite3'}"))
        ours, peer = Ours(server, folder), Peer(stack.enter_context(peer_server()))
        stack.callback(ours.stop)
        stack.callback(peer.stop)
        yield ours, peer


def _install_peer() -> None:
    """Install the peer where it was not yet."""
    if not (HERE / "peer" / "node_modules").exists():
        command = ["npm", "ci", "--silent", "--no-audit", "--no-fund"]
        subprocess.run(command, check=True, cwd=HERE / "peer", env=os.environ)
