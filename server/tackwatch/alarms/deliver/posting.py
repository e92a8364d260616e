"""Posting to hosts that others named: kept connections, nothing followed, nothing read, every wait with an end.

Rules
-----
- Connections to a host are kept and used again. One that the host has closed meanwhile is noticed when it is used; then
  the request is sent once more on a new one: what is posted here is harmless twice.
- Redirects are not followed, cookies are not kept, no password is added from a file, and the answer's body is not read:
  a connection whose answer has one is closed.
- A proxy and certificates that the environment names are used, as read at the first request to a host.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from time import monotonic
from typing import cast
from urllib.parse import urlsplit

import requests
from requests.adapters import HTTPAdapter
from requests.utils import select_proxy
from urllib3 import HTTPConnectionPool, Timeout
from urllib3.exceptions import (
    ConnectTimeoutError,
    HTTPError,
    NewConnectionError,
    PoolError,
    ProtocolError,
    ProxyError,
    ReadTimeoutError,
    SSLError,
)

from tackwatch.work.push_hosts import origin

KEPT_HOSTS = 64
KEPT_CONNECTIONS = 128
_OURS = {"User-Agent": "tackwatch", "Accept-Encoding": "identity"}


class NotPostedError(OSError):
    """Nobody answered; ``why`` in a word. ``again``: another time it may be otherwise."""

    def __init__(self, why: str, *, again: bool) -> None:
        super().__init__(why)
        self.why, self.again = why, again


@dataclass(frozen=True, slots=True)
class Waits:
    """How long a push service or webhook may take."""

    connect_s: float = 3.05
    answer_s: float = 5.0

    @property
    def one_s(self) -> float:
        """Give the longest that one request can take."""
        return self.connect_s + self.answer_s


@dataclass(frozen=True, slots=True)
class Answer:
    """What a host answered."""

    status: int
    retry_after: str | None


@dataclass(frozen=True, slots=True)
class _Host:
    """The kept connections to a host; ``whole`` where a proxy wants to be given whole addresses."""

    pool: HTTPConnectionPool
    whole: bool


class Poster:
    """Posts, from many threads at once."""

    def __init__(self) -> None:
        self._hosts: OrderedDict[str, _Host] = OrderedDict()
        self._lock = threading.Lock()

    def post(self, url: str, body: bytes, headers: Mapping[str, str], waits: Waits) -> Answer:
        """Post once.

        Raises
        ------
        NotPostedError
            When there is no answer.
        """
        try:
            return self._post_surely(url, body, {**_OURS, **headers}, waits)
        except (HTTPError, OSError, ValueError) as error:
            raise _not_posted(error) from error

    def _post_surely(self, url: str, body: bytes, headers: dict[str, str], waits: Waits) -> Answer:
        host, began_s = self._host(url), monotonic()
        try:
            return _post(host, url, body, headers, waits)
        except ProtocolError:  # the connection was closed
            left_s = waits.answer_s - (monotonic() - began_s)
            if left_s < waits.answer_s / 2:
                raise
            # a kept connection took no time to make, so both together take no longer than one
            return _post(host, url, body, headers, replace(waits, answer_s=left_s))

    def _host(self, url: str) -> _Host:
        name = origin(url)
        with self._lock:
            host = self._hosts.pop(name, None) or _new_host(url)
            self._hosts[name] = host
            if len(self._hosts) > KEPT_HOSTS:
                self._hosts.popitem(last=False)
        return host


def _post(host: _Host, url: str, body: bytes, headers: dict[str, str], waits: Waits) -> Answer:
    parts = urlsplit(url)
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    answer = host.pool.urlopen(
        "POST",
        url if host.whole else path,
        body=body,
        headers=headers,
        timeout=Timeout(connect=waits.connect_s, read=waits.answer_s),
        retries=False,
        redirect=False,
        assert_same_host=False,
        preload_content=False,
        decode_content=False,
    )
    if answer.length_remaining == 0:
        answer.release_conn()
    else:
        answer.close()
    return Answer(answer.status, answer.headers.get("Retry-After"))


def _new_host(url: str) -> _Host:
    """Make the connections to a host, with the proxy and the certificates that the environment names."""
    around = requests.Session().merge_environment_settings(url, {}, None, None, None)
    proxies, verify = around["proxies"], around["verify"]
    adapter = HTTPAdapter(pool_connections=1, pool_maxsize=KEPT_CONNECTIONS)
    prepared = requests.Request("POST", url).prepare()
    pool = adapter.get_connection_with_tls_context(prepared, verify, proxies)
    adapter.cert_verify(pool, url, verify, None)  # type: ignore[no-untyped-call]
    proxied = select_proxy(url, proxies) is not None
    return _Host(cast(HTTPConnectionPool, pool), whole=proxied and pool.scheme == "http")


def _not_posted(error: Exception) -> NotPostedError:
    if isinstance(error, NewConnectionError):
        return NotPostedError("ConnectionError", again=True)
    if isinstance(error, ConnectTimeoutError):
        return NotPostedError("ConnectTimeout", again=True)
    if isinstance(error, ReadTimeoutError):
        return NotPostedError("ReadTimeout", again=True)
    if isinstance(error, SSLError | ProxyError):
        return NotPostedError(type(error).__name__, again=True)
    if isinstance(error, ProtocolError | PoolError | OSError) and not isinstance(error, ValueError):
        return NotPostedError("ConnectionError", again=True)
    return NotPostedError(type(error).__name__, again=False)
