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
from http.cookiejar import DefaultCookiePolicy
from time import monotonic

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import ProtocolError

from tackwatch.work.push_hosts import origin

KEPT_HOSTS = 64
KEPT_CONNECTIONS = 64


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


class Poster:
    """Posts, from many threads at once."""

    def __init__(self) -> None:
        self._sessions: OrderedDict[str, requests.Session] = OrderedDict()
        self._lock = threading.Lock()

    def post(self, url: str, body: bytes, headers: Mapping[str, str], waits: Waits) -> Answer:
        """Post once; raises what ``requests`` raises."""
        session, began_s = self._session(url), monotonic()
        try:
            return _post(session, url, body, headers, waits)
        except requests.ConnectionError as error:
            left_s = waits.answer_s - (monotonic() - began_s)
            closed = bool(error.args) and isinstance(error.args[0], ProtocolError)
            if not closed or left_s < waits.answer_s / 2:
                raise
            # a kept connection took no time to make, so both together take no longer than one
            return _post(session, url, body, headers, replace(waits, answer_s=left_s))

    def _session(self, url: str) -> requests.Session:
        host = origin(url)
        with self._lock:
            session = self._sessions.pop(host, None) or _new_session(url)
            self._sessions[host] = session
            if len(self._sessions) > KEPT_HOSTS:
                self._sessions.popitem(last=False)
        return session


def _post(
    session: requests.Session, url: str, body: bytes, headers: Mapping[str, str], waits: Waits
) -> Answer:
    answer = session.post(
        url,
        data=body,
        headers=headers,
        timeout=(waits.connect_s, waits.answer_s),
        allow_redirects=False,
        stream=True,
    )
    if answer.headers.get("Content-Length") == "0" or answer.status_code == 204:
        answer.raw.release_conn()
    else:
        answer.close()
    return Answer(answer.status_code, answer.headers.get("Retry-After"))


def _new_session(url: str) -> requests.Session:
    session = requests.Session()
    around = session.merge_environment_settings(url, {}, None, None, None)
    session.trust_env = False  # it would be read for each request, and bring passwords along
    session.proxies, session.verify = around["proxies"], around["verify"]
    session.cookies.set_policy(DefaultCookiePolicy(allowed_domains=[]))
    adapter = HTTPAdapter(pool_connections=1, pool_maxsize=KEPT_CONNECTIONS)
    for scheme in ("https://", "http://"):
        session.mount(scheme, adapter)
    return session
