"""Ways from a phone to a server: Flask's test client, or HTTP to an address."""

from __future__ import annotations

import gzip
import json
from dataclasses import dataclass
from typing import Any, Protocol

import requests
from flask.testing import FlaskClient


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    content: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.content)


class Wire(Protocol):
    """A way to a server."""

    def send(
        self, method: str, path: str, headers: dict[str, str], content: bytes | None
    ) -> Answer:
        """Send a request and give the answer."""
        ...


class ClientWire:
    """Through Flask's test client."""

    def __init__(self, client: FlaskClient) -> None:
        self._client = client

    def send(
        self, method: str, path: str, headers: dict[str, str], content: bytes | None
    ) -> Answer:
        with self._client.open(path, method=method, headers=headers, data=content) as answer:
            return Answer(answer.status_code, _lower(answer.headers), answer.get_data())


class HttpWire:
    """To a server that listens at an address, such as ``http://127.0.0.1:8000``."""

    def __init__(self, address: str) -> None:
        self._address = address
        self._session = requests.Session()

    def send(
        self, method: str, path: str, headers: dict[str, str], content: bytes | None
    ) -> Answer:
        answer = self._session.request(
            method, self._address + path, headers=headers, data=content, timeout=30
        )
        return Answer(answer.status_code, _lower(answer.headers), answer.content)

    def close(self) -> None:
        self._session.close()


def call(
    wire: Wire,
    method: str,
    path: str,
    *,
    key: str | None = None,
    body: Any = None,
    content: bytes | None = None,
    headers: dict[str, str] | None = None,
    packed: bool = False,
) -> Answer:
    """Send a request; ``body`` as JSON, packed if asked for, or ``content`` as it is."""
    sent = dict(headers or {})
    if key is not None:
        sent["Authorization"] = f"Bearer {key}"
    if body is not None:
        content = json.dumps(body).encode()
        sent.setdefault("Content-Type", "application/json")
    if packed and content is not None:
        content = gzip.compress(content)
        sent["Content-Encoding"] = "gzip"
    return wire.send(method, path, sent, content)


def _lower(headers: Any) -> dict[str, str]:
    return {str(name).lower(): str(value) for name, value in headers.items()}
