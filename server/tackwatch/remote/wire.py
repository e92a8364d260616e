"""Calls to the server over HTTP: gzip both ways, and what each failure means.

Rules
-----
- Only an answer of the protocol's own shape counts; a page of somebody else's, or half an answer, is no verdict.
- A redirection is followed when it is permanent, leads to the same path and keeps TLS: the server has moved. The new
  address is told to whoever asked, who keeps it, so the next call goes there at once.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Any
from urllib.parse import urlsplit

import requests

from tackwatch.remote.errors import (
    KeyRefusedError,
    LaterError,
    RemoteError,
    TooLargeError,
    VersionsError,
)

_CONNECT_S = 10
_ANSWER_S = 30
_SILENCE_S = 40  # the server says something every 15 s
_PACK_FROM = 1_000
_MOVED = (301, 308)

Event = tuple[str, Any]


class Server:
    """The server at an address.

    Parameters
    ----------
    address
        Scheme, host and port, and the path below which the server stands, if any.
    key
        The device's key; empty for the calls that need none.
    """

    def __init__(self, address: str, key: str = "") -> None:
        self.address = address.rstrip("/")
        self._headers = {"Authorization": f"Bearer {key}"} if key else {}
        self._session = requests.Session()
        self._session.trust_env = False  # no credentials of others out of a .netrc

    def close(self) -> None:
        """Close the connections."""
        self._session.close()

    def post(self, path: str, body: Any) -> dict[str, Any]:
        """Send JSON and give the JSON that comes back.

        Raises
        ------
        LaterError, KeyRefusedError, VersionsError, TooLargeError
            When there is no answer, or another than was asked for.
        ProblemError
            With the server's own words, for every other refusal of the whole call.
        """
        content = json.dumps(body, ensure_ascii=False).encode()
        headers = {**self._headers, "Content-Type": "application/json"}
        if len(content) > _PACK_FROM:
            content, headers["Content-Encoding"] = gzip.compress(content), "gzip"
        answer = self._send("POST", path, headers, content)
        if answer.ok:
            return _object(answer)
        raise _failure(answer)

    def listen(self, path: str) -> Iterator[Event]:
        """Give the events of the live stream until it ends.

        Raises
        ------
        LaterError, KeyRefusedError
            When it cannot be opened, or breaks.
        """
        headers = {**self._headers, "Accept": "text/event-stream"}
        answer = self._send("GET", path, headers, None, stream=True)
        with answer:
            if not answer.ok:
                raise _failure(answer)
            try:
                yield from read_events(_lines(answer))
            except requests.RequestException as error:
                raise LaterError("The live stream broke.") from error

    def _send(
        self,
        method: str,
        path: str,
        headers: dict[str, str],
        content: bytes | None,
        *,
        stream: bool = False,
    ) -> requests.Response:
        for _ in range(2):
            try:
                answer = self._session.request(
                    method, self.address + path, headers=headers, data=content, allow_redirects=False,
                    stream=stream, timeout=(_CONNECT_S, _SILENCE_S if stream else _ANSWER_S),
                )  # fmt: skip
            except (requests.RequestException, UnicodeError) as error:
                raise LaterError(f"The server at {self.address} cannot be reached.") from error
            moved = moved_to(answer, self.address, path)
            if moved is None:
                break
            self.address = moved
        return answer


class ProblemError(RemoteError):
    """The server refused the whole call, in its own words; ``status`` is the one of HTTP."""

    def __init__(self, status: int, problem: Mapping[str, Any]) -> None:
        super().__init__(str(problem.get("detail", "")), str(problem.get("field", "")))
        self.status = status


def _failure(answer: requests.Response) -> RemoteError:
    problem = _problem(answer)
    code = str(problem.get("type", "")).rpartition(":")[2]
    detail = str(problem.get("detail", "")) or f"The server answered {answer.status_code}."
    if answer.status_code == 401:
        return KeyRefusedError(detail)
    if answer.status_code == 409 and code.endswith(("-too-old", "-too-new")):
        return VersionsError(detail)
    if answer.status_code == 413:
        return TooLargeError(detail)
    if answer.status_code in (403, 404, 409, 410, 422) and problem:
        return ProblemError(answer.status_code, problem)
    return LaterError(detail, retry_after_s(answer.headers.get("Retry-After"), _date(answer)))


def retry_after_s(header: str | None, now: datetime | None) -> float:
    """Give the seconds that a server asks to wait.

    Source
    ------
    RFC 9110, 10.2.3: a number of seconds, or a date; ``now`` is the server's own date.
    """
    text = (header or "").strip()
    if text.isascii() and text.isdigit():
        return float(text)
    try:
        until = parsedate_to_datetime(text)
    except ValueError:
        return 0.0
    if now is None:
        return 0.0
    return max(0.0, (until.replace(tzinfo=until.tzinfo or UTC) - now).total_seconds())


def _date(answer: requests.Response) -> datetime | None:
    try:
        return parsedate_to_datetime(answer.headers.get("Date", ""))
    except ValueError:
        return None


def _problem(answer: requests.Response) -> dict[str, Any]:
    try:
        found = answer.json()
    except requests.RequestException:
        return {}
    return found if isinstance(found, dict) else {}


def _object(answer: requests.Response) -> dict[str, Any]:
    try:
        found = answer.json()
    except requests.RequestException:
        found = None
    if not isinstance(found, dict):
        raise LaterError("Something other than the server answered.")
    return found


def moved_to(answer: requests.Response, address: str, path: str) -> str | None:
    """Give the new address of a server that says it moved for good, ``None`` otherwise."""
    target = answer.headers.get("Location", "")
    if answer.status_code not in _MOVED or not target.endswith(path):
        return None
    found = target.removesuffix(path)
    old, new = urlsplit(address), urlsplit(found)
    keeps_tls = new.scheme == "https" or (new.scheme == old.scheme == "http")
    return found if keeps_tls and new.hostname and found != address else None


def _lines(answer: requests.Response) -> Iterator[str]:
    for line in answer.iter_lines(chunk_size=1):
        yield line.decode("utf-8", "replace")


def read_events(lines: Iterator[str]) -> Iterator[Event]:
    """Give the events of a stream of lines, with their data read as JSON.

    Source
    ------
    WHATWG HTML, 9.2.6 Interpreting an event stream.
    """
    name, data = "", []
    for line in lines:
        field, _, value = line.partition(":")
        value = value.removeprefix(" ")
        if field == "event":
            name = value
        elif field == "data":
            data.append(value)
        elif not line:
            if data:
                yield name or "message", _data("\n".join(data))
            name, data = "", []


def _data(text: str) -> Any:
    try:
        return json.loads(text)
    except ValueError:
        return None
