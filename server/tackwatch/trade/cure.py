"""The cure clock: when a coat or a pot opens and closes, with edges, basis and reasons.

Theory
------
For each stage of the product `edges` gives three instants: with the temperature as it stands, at
the hot (fast) edge of its band and at the cold (slow) edge. A person is told the careful one.

Rules
-----
* What closes is governed by the fast edge, what opens by the slow one. The basis is that of the
  governing edge.
* A coat without an end counts as ended at its start, and says `coat_not_ended`: what closes is then
  early, and what opens must not be rung until the end is known.
* A clock is stale when its governing instant leans on the forecast and the last reading is older
  than `STALE_AFTER_S`, or nothing was measured at all.
* A pot is as warm as its own temperature or the air, whichever is warmer; it never cools below what
  it was stirred at. More mass than the sheet's pot is named (`big_pot`), for it heats itself.
* Several applications that are one coat: what opens opens with the latest, what closes closes with
  the earliest, so that no doubt about a start makes a cure shorter.

Reasons
-------
coat_not_ended, pot_temperature, air_for_pot, big_pot, hottest_hour, above_table, below_table,
stale_reading, no_reading, not_within_horizon, beyond, rule_of_thumb.

Source
------
See `dose`, `hottest_hour` and `edges`; the careful edge is our own rule.
"""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from datetime import datetime
from typing import Final

from tackwatch.trade.edges import (
    AS_IT_STANDS,
    FAST,
    NEVER_S,
    SLOW,
    Edge,
    edges_of,
    path_of,
    stage_known,
)
from tackwatch.trade.errors import TradeError
from tackwatch.trade.instants import instant_of, seconds_of
from tackwatch.trade.temperature import at_least
from tackwatch.trade.types import (
    COAT_STAGES,
    KIND_OF,
    POT_STAGES,
    STAGES,
    Band,
    Clock,
    Coat,
    Pot,
    Stage,
    Track,
    worst_basis,
)
from tackwatch.trade.units import S_PER_HOUR

STALE_AFTER_S: Final = 6.0 * S_PER_HOUR


def coat_clock(
    coat: Coat,
    track: Track,
    now_at: datetime,
    band: Band | None = None,
    stale_after_s: float = STALE_AFTER_S,
) -> tuple[Clock, ...]:
    """Give the clocks of a coat, one for each stage that its profile knows.

    Parameters
    ----------
    coat : Coat
        The application.
    track : Track
        The temperature from the coat's start or earlier.
    now_at : datetime
        When the question is asked; decides what is stale.
    band : Band, optional
        The half widths of the temperature band.
    stale_after_s : float
        How old the last reading may be.

    Raises
    ------
    TradeError
        When the coat ends before it starts.

    Source
    ------
    See the head of the module.
    """
    start_s = seconds_of(coat.start_at, "start_at")
    end_s = start_s if coat.end_at is None else seconds_of(coat.end_at, "end_at")
    if end_s < start_s:
        raise TradeError("end_at", "a coat cannot end before it starts")
    path_s = path_of(start_s, end_s)
    notes = frozenset({"coat_not_ended"} if coat.end_at is None else ())
    late = _lateness(track, now_at, stale_after_s)
    return tuple(
        _clock(
            coat.id,
            stage,
            edges_of(coat.profile, stage, track, path_s, band or Band()),
            notes,
            late,
        )
        for stage in COAT_STAGES
        if stage_known(coat.profile, stage)
    )


def pot_clock(
    pot: Pot,
    track: Track,
    now_at: datetime,
    band: Band | None = None,
    stale_after_s: float = STALE_AFTER_S,
) -> tuple[Clock, ...]:
    """Give the clocks of a pot: its working life and its gel, where the profile knows them.

    Parameters are those of `coat_clock`, with the pot in the place of the coat.

    Source
    ------
    See the head of the module.
    """
    path_s = (seconds_of(pot.stirred_at, "stirred_at"),)
    notes = {"air_for_pot"} if pot.temp_c is None else {"pot_temperature"}
    reference_kg = pot.profile.mix.pot_reference_kg
    if pot.mass_kg is not None and reference_kg is not None and pot.mass_kg > reference_kg:
        notes.add("big_pot")
    warm = track if pot.temp_c is None else at_least(track, pot.temp_c)
    late = _lateness(track, now_at, stale_after_s)
    return tuple(
        _clock(
            pot.id, stage, edges_of(pot.profile, stage, warm, path_s, band or Band()), notes, late
        )
        for stage in POT_STAGES
        if pot.profile.stages.get(stage)
    )


def clocks_of_group(source_id: str, members: Sequence[Sequence[Clock]]) -> tuple[Clock, ...]:
    """Give the clocks of several applications that are one coat (or several records of one).

    Parameters
    ----------
    source_id : str
        The name of the whole.
    members : sequence of sequences of Clock
        The clocks of each application.

    Source
    ------
    Our own caution: opens with the latest, closes with the earliest.
    """
    by_stage: dict[Stage, list[Clock]] = {}
    for clocks in members:
        for clock in clocks:
            by_stage.setdefault(clock.stage, []).append(clock)
    return tuple(_merged(source_id, by_stage[stage]) for stage in STAGES if stage in by_stage)


def _lateness(track: Track, now_at: datetime, stale_after_s: float) -> tuple[str, float]:
    """Give why the forecast cannot be leaned on ('' when it can), and from when it is leaned on."""
    last_s = track.last_reading_at_s
    if last_s is None:
        return "no_reading", -NEVER_S
    old = seconds_of(now_at, "now_at") - last_s > stale_after_s
    return ("stale_reading" if old else ""), last_s


def _clock(
    source_id: str,
    stage: Stage,
    edges: Mapping[float, Edge],
    notes: AbstractSet[str],
    late: tuple[str, float],
) -> Clock:
    kind = KIND_OF[stage]
    governing = edges[FAST if kind == "closes" else SLOW]
    why_late, measured_until_s = late
    stale = bool(why_late) and governing.at_s > measured_until_s
    reasons = set(notes) | governing.reasons
    reasons.update([why_late] if stale else [])
    reasons.update(["not_within_horizon"] if governing.at_s == NEVER_S else [])
    reasons.update([governing.basis] if governing.basis != "data_sheet" else [])
    bounded = stage in ("recoat_closes", "immerse_closes")
    return Clock(
        source_id=source_id,
        stage=stage,
        kind=kind,
        at=_instant(edges[AS_IT_STANDS].at_s),
        fast_at=_instant(edges[FAST].at_s),
        slow_at=_instant(edges[SLOW].at_s),
        governing_at=_instant(governing.at_s),
        last_start_at=_instant(edges[FAST].last_start_s) if bounded else None,
        basis=governing.basis,
        stale=stale,
        reasons=tuple(sorted(reasons)),
    )


def _instant(at_s: float) -> datetime | None:
    return None if at_s == NEVER_S else instant_of(at_s)


def _merged(source_id: str, clocks: Sequence[Clock]) -> Clock:
    first = clocks[0]
    pick = _latest if first.kind == "opens" else _earliest
    return Clock(
        source_id=source_id,
        stage=first.stage,
        kind=first.kind,
        at=pick([clock.at for clock in clocks]),
        fast_at=pick([clock.fast_at for clock in clocks]),
        slow_at=pick([clock.slow_at for clock in clocks]),
        governing_at=pick([clock.governing_at for clock in clocks]),
        last_start_at=_earliest([clock.last_start_at for clock in clocks]),
        basis=worst_basis(*(clock.basis for clock in clocks)),
        stale=any(clock.stale for clock in clocks),
        reasons=tuple(sorted({reason for clock in clocks for reason in clock.reasons})),
    )


def _latest(instants: Sequence[datetime | None]) -> datetime | None:
    known = [at for at in instants if at is not None]
    return max(known) if len(known) == len(instants) else None


def _earliest(instants: Sequence[datetime | None]) -> datetime | None:
    return min((at for at in instants if at is not None), default=None)
