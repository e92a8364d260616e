"""The worked example of docs/sync.md: real calls, replayed against a server whose world is fixed.

``python -m tests.sync.worked_example`` writes the answers anew from the requests that stand in the page.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import tempfile
import uuid
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store.db import db
from tackwatch.work.ports import Ports
from tests.support.wires import Answer, ClientWire
from tests.support.world import StandingClock

PAGE = Path(__file__).parents[2] / "docs" / "sync.md"
_CALL = re.compile(r"```http\n((?:GET|POST) .*?)\n```\n\n```http\n(\d\d\d .*?)\n```", re.DOTALL)
_BETWEEN = timedelta(minutes=1)
ELIDED = "…"


class CountingChance:
    """Names and secrets that are the same in every run."""

    def __init__(self) -> None:
        self._count = 0

    def _next(self) -> bytes:
        self._count += 1
        return hashlib.sha256(str(self._count).encode()).digest()

    def new_id(self) -> str:
        return str(uuid.UUID(bytes=self._next()[:16], version=4))

    def device_id(self) -> str:
        return base64.b32hexencode(self._next())[:12].decode().lower()

    def secret(self) -> str:
        return base64.urlsafe_b64encode(self._next()).decode().rstrip("=")

    def recovery_code(self) -> str:
        text = self.device_id() + self.device_id()
        return "-".join(text[at : at + 4] for at in range(0, 20, 4))


@dataclass(frozen=True)
class Call:
    """One request of the page, and the answer that stands below it."""

    method: str
    path: str
    headers: dict[str, str]
    body: str
    status: int
    answer: Any


def calls(page: str) -> list[Call]:
    """Read the calls of the page, in their order."""
    found = []
    for request, answer in _CALL.findall(page):
        head, _, body = request.partition("\n\n")
        first, *lines = head.split("\n")
        method, path = first.split(" ")
        headers = dict(line.split(": ", 1) for line in lines)
        status, _, content = answer.partition("\n\n")
        given = json.loads(content) if content else None
        found.append(Call(method, path, headers, body, int(status.split(" ")[0]), given))
    return found


def replay(wanted: list[Call]) -> list[Answer]:
    """Make the calls one after another, a minute apart, on a fresh server."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(
            data_dir=Path(folder),
            database_url=f"sqlite:///{folder}/t.sqlite3",
            public_url="https://boat.example",
        )
        clock = StandingClock()
        app = create_app(settings, Ports(clock, CountingChance()))
        wire, answers = ClientWire(app.test_client()), []
        for call in wanted:
            content = json.dumps(json.loads(call.body)).encode() if call.body else None
            answers.append(wire.send(call.method, call.path, call.headers, content))
            clock.forward(seconds=_BETWEEN.total_seconds())
        with app.app_context():
            db.session.remove()
            db.engine.dispose()
        return answers


def write(page: str) -> str:
    """Give the page with the answers as the server gives them now."""
    answers = iter(replay(calls(page)))

    def filled(match: re.Match[str]) -> str:
        answer = next(answers)
        status = f"{answer.status} {_reason(answer.status)}"
        text = f"{status}\n\n{_shown(answer.json)}" if answer.content else status
        return f"```http\n{match[1]}\n```\n\n```http\n{text}\n```"

    return _CALL.sub(filled, page)


def _reason(status: int) -> str:
    return {200: "OK", 201: "Created", 204: "No Content"}.get(status, "")


def _shown(answer: dict[str, Any]) -> str:
    """Give an answer a member a line, lists an entry a line; the picture of a link is left out."""
    if "qr_svg" in answer:
        answer["qr_svg"] = ELIDED
    parts = []
    for name, value in answer.items():
        if isinstance(value, list) and value:
            rows = ",\n  ".join(json.dumps(one, ensure_ascii=False) for one in value)
            parts.append(f'"{name}": [\n  {rows}]')
        else:
            parts.append(f'"{name}": {json.dumps(value, ensure_ascii=False)}')
    return "{" + ",\n ".join(parts) + "}"


if __name__ == "__main__":
    PAGE.write_text(write(PAGE.read_text()))
