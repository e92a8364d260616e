"""When a boat may float, by all of its coats together.

Theory
------
Each coat under water is ready to float when it has hardened, and antifouling is no longer good when
it has stood dry for too long. The boat may float while every coat is ready and none is past.

Rules
-----
* She opens with the latest coat and closes with the earliest; both are named.
* A coat whose opening is not known keeps the answer `unknown`, and is named.
* A coat that closes before another opens leaves no day at all: `conflict`.
* A launch before the opening is `too_early`, one after the closing `too_late`.

Source
------
Our own caution; the instants are those of the cure clock.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from tackwatch.trade.errors import TradeError
from tackwatch.trade.types import Clock

ImmersionState = Literal["open", "not_yet", "past", "conflict", "unknown"]
LaunchFits = Literal["fits", "too_early", "too_late", "unknown"]


@dataclass(frozen=True, slots=True)
class ImmersionCoat:
    """A coat under water: when it may float, and until when (None: never closes)."""

    source_id: str
    opens_at: datetime | None
    closes_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Immersion:
    """When the boat may float, which coats decide, and whether the launch fits."""

    state: ImmersionState
    opens_at: datetime | None
    opens_by: str | None
    closes_at: datetime | None
    closes_by: str | None
    unknown: tuple[str, ...]
    launch: LaunchFits | None


def immersion(
    coats: Sequence[ImmersionCoat], now_at: datetime, launch_at: datetime | None = None
) -> Immersion:
    """Say when a boat may float by her coats.

    Raises
    ------
    TradeError
        When there is no coat.

    Source
    ------
    See the head of the module.
    """
    if not coats:
        raise TradeError("coats", "needs at least one coat")
    unknown = tuple(one.source_id for one in coats if one.opens_at is None)
    opening = [(one.opens_at, one.source_id) for one in coats if one.opens_at is not None]
    closing = [(one.closes_at, one.source_id) for one in coats if one.closes_at is not None]
    opens = None if unknown else max(opening, key=lambda pair: pair[0])
    closes = min(closing, key=lambda pair: pair[0]) if closing else None
    opens_at, closes_at = opens[0] if opens else None, closes[0] if closes else None
    return Immersion(
        state=_state(opens_at, closes_at, now_at),
        opens_at=opens_at,
        opens_by=opens[1] if opens else None,
        closes_at=closes_at,
        closes_by=closes[1] if closes else None,
        unknown=unknown,
        launch=None if launch_at is None else _launch(opens_at, closes_at, launch_at),
    )


def coats_of(clocks: Iterable[Clock]) -> tuple[ImmersionCoat, ...]:
    """Give the coats that have a word to say about floating, from their clocks."""
    opens: dict[str, datetime | None] = {}
    closes: dict[str, datetime | None] = {}
    for clock in clocks:
        if clock.stage == "immerse_opens":
            ready = "coat_not_ended" not in clock.reasons
            opens[clock.source_id] = clock.governing_at if ready else None
        elif clock.stage == "immerse_closes":
            closes[clock.source_id] = clock.last_start_at
    return tuple(ImmersionCoat(id_, at, closes.get(id_)) for id_, at in opens.items())


def _state(
    opens_at: datetime | None, closes_at: datetime | None, now_at: datetime
) -> ImmersionState:
    if closes_at is not None and closes_at <= now_at:
        return "past"
    if opens_at is None:
        return "unknown"
    if closes_at is not None and closes_at <= opens_at:
        return "conflict"
    return "open" if opens_at <= now_at else "not_yet"


def _launch(
    opens_at: datetime | None, closes_at: datetime | None, launch_at: datetime
) -> LaunchFits:
    if closes_at is not None and launch_at > closes_at:
        return "too_late"
    if opens_at is None:
        return "unknown"
    return "too_early" if launch_at < opens_at else "fits"
