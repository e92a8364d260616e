"""How often one address may try at a door that opens with a secret.

Rules
-----
- At most so many tries within any minute for one door and address; further tries are answered with the seconds to wait.
- The tries are counted in each web process by itself and forgotten when it ends. That is enough: what is guessed at has
  100 or 256 random bits, so no number of tries succeeds; the limit only keeps a guesser from wearing out the server.
- An IPv6 address counts by its network of 64 bits, since one subscriber has all of them.
"""

from __future__ import annotations

import ipaddress
import math
import threading
from collections import deque
from datetime import datetime, timedelta

from tackwatch.work.errors import TooManyError

_WINDOW = timedelta(minutes=1)
_MOST_ADDRESSES = 10_000


class Throttle:
    """Counts tries per door and address."""

    def __init__(self, per_minute: int) -> None:
        self._per_minute = per_minute
        self._tries: dict[tuple[str, str], deque[datetime]] = {}
        self._lock = threading.Lock()

    def spend(self, door: str, address: str, now: datetime) -> None:
        """Count one try.

        Raises
        ------
        TooManyError
            When the address has used up its tries for the minute; nothing is counted then.
        """
        with self._lock:
            if len(self._tries) >= _MOST_ADDRESSES:
                self._forget(now)
            tries = self._tries.setdefault((door, _network(address)), deque())
            while tries and tries[0] <= now - _WINDOW:
                tries.popleft()
            if len(tries) >= self._per_minute:
                raise _too_many(tries, now)
            tries.append(now)

    def _forget(self, now: datetime) -> None:
        """Drop the addresses that have not tried for a minute; all of them if none is that old."""
        kept = {
            key: tries for key, tries in self._tries.items() if tries and tries[-1] > now - _WINDOW
        }
        self._tries = kept if len(kept) < _MOST_ADDRESSES else {}


def _too_many(tries: deque[datetime], now: datetime) -> TooManyError:
    wait_s = (tries[0] + _WINDOW - now).total_seconds() if tries else _WINDOW.total_seconds()
    wait_s = max(1, math.ceil(wait_s))
    return TooManyError("too-many-tries", f"Too many tries. Wait {wait_s} seconds.", wait_s)


def _network(address: str) -> str:
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return "unknown"
    if isinstance(known, ipaddress.IPv6Address):
        return str(ipaddress.ip_network((known, 64), strict=False))
    return str(known)
