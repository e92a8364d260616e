"""Finding the house that serves the present request."""

from __future__ import annotations

from typing import cast

from flask import current_app, request

from tackwatch.work.house import House


def house() -> House:
    """Give the house of the present application."""
    return cast(House, current_app.extensions["tackwatch"])


def spend_try(door: str) -> None:
    """Count a try at a door that opens with a secret, for the address that asks.

    Raises
    ------
    TooManyError
        When the address has used up its tries.
    """
    here = house()
    here.throttle.spend(door, request.remote_addr or "", here.ports.clock.now())
