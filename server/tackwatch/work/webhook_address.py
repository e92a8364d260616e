"""A person gives a webhook: the server posts their alarms there, signed with a secret that is shown once.

The server posts to an address that a client names, so its host must be one that the operator lists.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass

from tackwatch.settings import Settings
from tackwatch.store import addresses, refits
from tackwatch.store.db import writing
from tackwatch.work.addresses import WEBHOOK
from tackwatch.work.caller import Caller
from tackwatch.work.errors import InvalidError
from tackwatch.work.ports import Ports
from tackwatch.work.push_hosts import webhook_host_allowed


@dataclass(frozen=True, slots=True)
class WebhookMade:
    """A new webhook; the secret is shown once."""

    url: str
    secret: str


def give_webhook(caller: Caller, url: str, settings: Settings, ports: Ports) -> WebhookMade:
    """Keep the caller's webhook in place of an earlier one, with a fresh secret.

    Raises
    ------
    InvalidError
        Naming ``url`` when this server does not post there.
    """
    if not webhook_host_allowed(url, settings):
        raise InvalidError("unknown-webhook-host", "This server does not post there.", "url")
    now, secret = ports.clock.now(), _secret(ports)
    with writing():
        refits.lock(caller.refit_id)
        addresses.put(
            caller.refit_id, caller.member_id, WEBHOOK, now,
            target=url, secret=secret, confirmed_at=now,
        )  # fmt: skip
    return WebhookMade(url, secret)


def _secret(ports: Ports) -> str:
    """Give 256 random bits in the form of Standard Webhooks."""
    bits = base64.urlsafe_b64decode(ports.chance.secret() + "=")
    return "whsec_" + base64.b64encode(bits).decode()
