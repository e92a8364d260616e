"""Filing acts of the server itself, such as a new member's row, among the crew's operations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from tackwatch.merge.apply import apply
from tackwatch.merge.hlc import SERVER_DEVICE, Stamp, parse, tick
from tackwatch.merge.operation import Operation, check_shape, named
from tackwatch.store import rows
from tackwatch.store.models import Refit


def milliseconds(instant: datetime) -> int:
    """Give an instant as whole milliseconds since 1970 UTC."""
    return round(instant.timestamp() * 1000)


def next_stamp(refit: Refit, now: datetime) -> Stamp:
    """Give the server's next stamp for a refit: later than every stamp filed there."""
    last: Stamp | None = parse(refit.last_stamp) if refit.last_stamp else None
    return tick(last, milliseconds(now), SERVER_DEVICE)


def file_as_server(
    refit: Refit, act: str, actions: Sequence[Mapping[str, Any]], now: datetime
) -> None:
    """Apply actions as the server; the caller holds the refit's lock.

    Raises
    ------
    RefusedError
        When an action is not valid.
    """
    check_shape(list(actions))
    state, places = rows.load_to_file(refit.id, named(actions))
    stamp = refit.last_stamp = str(next_stamp(refit, now))
    _, outcome = apply(state, Operation(stamp, SERVER_DEVICE, act, actions))
    filing = rows.Filing(refit, SERVER_DEVICE, places)
    filing.add(outcome)
    filing.write()
