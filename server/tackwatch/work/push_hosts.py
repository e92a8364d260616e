"""Which addresses the server may post to: pushes, and persons' webhooks. Clients name these addresses, so only hosts
that the operator lists are taken.

Rules
-----
- ``https`` on the usual port, to a host of the list; ``*.example`` matches names below ``example``, not ``example``
  itself.
- Loopback, plain or not and on any port, only where the list names the loopback host itself.
- No user name, no fragment, no sign outside plain ASCII: what one reader of an address takes for the host, every
  reader must.
"""

from __future__ import annotations

import re
from urllib.parse import SplitResult, urlsplit

from tackwatch.settings import LOOPBACK, Settings

_LONGEST = 2000
_PLAIN = re.compile(
    r"https?://(\[[0-9a-f:]+\]|[0-9A-Za-z.-]+)(:\d{1,5})?/[\w\-.~!$&'()*+,;=:@%/?]*", re.ASCII
)


def push_host_allowed(endpoint: str, settings: Settings) -> bool:
    """Say whether the server may post a push to an address."""
    return host_allowed(endpoint, settings.push_hosts)


def webhook_host_allowed(url: str, settings: Settings) -> bool:
    """Say whether the server may post to a person's webhook."""
    return host_allowed(url, settings.webhook_hosts)


def host_allowed(endpoint: str, hosts: tuple[str, ...]) -> bool:
    """Say whether the server may post to an address, given the hosts that are listed."""
    if len(endpoint) > _LONGEST or not _PLAIN.fullmatch(endpoint):
        return False
    try:
        address = urlsplit(endpoint)
        port = address.port
    except ValueError:
        return False
    host = address.hostname or ""
    if host in LOOPBACK:
        return host in hosts
    return address.scheme == "https" and port in (None, 443) and _named(host, hosts)


def origin(endpoint: str) -> str:
    """Give scheme, host and port of an address: the ``aud`` of a push's signature."""
    address: SplitResult = urlsplit(endpoint)
    return f"{address.scheme}://{address.netloc}"


def _named(host: str, allowed: tuple[str, ...]) -> bool:
    return any(
        host.endswith(name[1:]) and len(host) > len(name[1:])
        if name.startswith("*.")
        else host == name
        for name in map(str.lower, allowed)
    )
