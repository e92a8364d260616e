"""Which warnings a set of clocks gives, and what a change of the clocks moves.

Rules
-----
* A warning's id is `{source_id}.{kind}`: the server and each phone give the same warning the same
  id, so that it is shown once. When a clock moves, `due_at` moves and the id stays.
* What closes is warned of ahead, by a lead that a person may set. What opens is told when it opens.
* recoat_closing is due a lead before the *last start*, which counts how long the coat takes, but
  not before the coat opens (there is nothing to do yet), and never after the last start itself. The
  window's path is that of the coat below; a next coat that is known to take longer must start by as
  much earlier.
* recoat_missed is due when the window has closed for the last paint.
* `useless_after` is when ringing no longer helps: None when it never loses its use.
* A coat that has no end yet (`coat_not_ended`) gives no warning that it opened: the last paint is
  not laid. What closes is still warned of, early rather than late.
* A clock past the horizon (governing instant None) gives no warning.

    kind              from            due                          useless after
    pot_life_ending   pot_life        end less lead                end
    pot_life_over     pot_life        end                          an hour later
    gel               gel             gel                          an hour later
    recoat_open       recoat_opens    opening                      the window's last start
    recoat_closing    recoat_closes   last start less lead         closing
    recoat_missed     recoat_closes   closing                      never
    sandable          sandable        opening                      never
    immerse_open      immerse_opens   opening                      the latest immersion
    immerse_closing   immerse_closes  latest immersion less lead   latest immersion

Source
------
Our own; that a coat takes time and a window closes for its first paint first is common practice,
no source.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from tackwatch.trade.types import Clock, Stage
from tackwatch.trade.warning_kinds import WarningKind

WARNING_KINDS: Final[tuple[WarningKind, ...]] = (
    "pot_life_ending",
    "pot_life_over",
    "gel",
    "recoat_open",
    "recoat_closing",
    "recoat_missed",
    "sandable",
    "immerse_open",
    "immerse_closing",
)

POT_OVER_USEFUL_S: Final = 3600.0
MOVED_S: Final = 60.0


@dataclass(frozen=True, slots=True)
class Leads:
    """How long ahead a person wants to be warned of what closes.

    `next_longer_s` is how much longer the next coat takes than the one that lies below.
    """

    pot_life_ending_s: float = 300.0
    recoat_closing_s: float = 3600.0
    immerse_closing_s: float = 7.0 * 86400.0
    next_longer_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Warning:
    """One warning: what, about which coat or pot, when it is due and until when it helps.

    `params` carries what a sentence about it needs: stage, basis, stale, and the instants
    `opens_at`, `last_start_at` and `closes_at` as ISO text where they are known.
    """

    id: str
    kind: WarningKind
    source_id: str
    due_at: datetime
    useless_after: datetime | None
    params: Mapping[str, str | bool] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Moved:
    """A warning whose due instant has moved."""

    id: str
    from_at: datetime
    to_at: datetime


def warnings_of(clocks: Iterable[Clock], leads: Leads | None = None) -> tuple[Warning, ...]:
    """Give the warnings of a set of clocks, those of each source in the order of `WARNING_KINDS`.

    Parameters
    ----------
    clocks : iterable of Clock
        The clocks of any number of coats and pots, at most one for a source and a stage.
    leads : Leads, optional
        How far ahead the person wants to be warned.

    Source
    ------
    See the head of the module.
    """
    by_source: dict[str, dict[Stage, Clock]] = {}
    for clock in clocks:
        by_source.setdefault(clock.source_id, {})[clock.stage] = clock
    return tuple(
        warning for stages in by_source.values() for warning in _of_source(stages, leads or Leads())
    )


def what_moved(
    before: Iterable[Warning], after: Iterable[Warning], more_than_s: float = MOVED_S
) -> tuple[Moved, ...]:
    """Give the warnings that stand in both sets and whose due instant moved by more than a minute.

    Source
    ------
    Our own: less than a minute is not worth a person's attention.
    """
    old = {warning.id: warning.due_at for warning in before}
    return tuple(
        Moved(warning.id, old[warning.id], warning.due_at)
        for warning in after
        if warning.id in old
        and abs(warning.due_at - old[warning.id]) > timedelta(seconds=more_than_s)
    )


def _of_source(stages: Mapping[Stage, Clock], leads: Leads) -> list[Warning]:
    return [*_pot(stages, leads), *_recoat(stages, leads), *_rest(stages, leads)]


def _pot(stages: Mapping[Stage, Clock], leads: Leads) -> list[Warning]:
    return [*_pot_life(stages, leads), *_gel(stages)]


def _gel(stages: Mapping[Stage, Clock]) -> list[Warning]:
    clock = stages.get("gel")
    if clock is None or clock.governing_at is None:
        return []
    at = clock.governing_at
    useful_at = at + timedelta(seconds=POT_OVER_USEFUL_S)
    return [_warning("gel", clock, at, useful_at, closes_at=at)]


def _pot_life(stages: Mapping[Stage, Clock], leads: Leads) -> list[Warning]:
    clock = stages.get("pot_life")
    if clock is None or clock.governing_at is None:
        return []
    over_at = clock.governing_at
    ending_at = over_at - timedelta(seconds=leads.pot_life_ending_s)
    useful_at = over_at + timedelta(seconds=POT_OVER_USEFUL_S)
    return [
        _warning("pot_life_ending", clock, ending_at, over_at, closes_at=over_at),
        _warning("pot_life_over", clock, over_at, useful_at, closes_at=over_at),
    ]


def _recoat(stages: Mapping[Stage, Clock], leads: Leads) -> list[Warning]:
    opens, closes = stages.get("recoat_opens"), stages.get("recoat_closes")
    opens_at = None if opens is None else opens.governing_at
    last_at = None if closes is None else closes.last_start_at
    if last_at is not None:
        last_at -= timedelta(seconds=leads.next_longer_s)
    closes_at = None if closes is None else closes.governing_at
    known = {"opens_at": opens_at, "last_start_at": last_at, "closes_at": closes_at}
    found = []
    if opens is not None and opens_at is not None and _ended(opens):
        found.append(_warning("recoat_open", opens, opens_at, last_at, **known))
    if closes is not None and closes_at is not None and last_at is not None:
        due_at = last_at - timedelta(seconds=leads.recoat_closing_s)
        if opens_at is not None and opens_at > due_at:
            due_at = min(opens_at, last_at)
        found.append(_warning("recoat_closing", closes, due_at, closes_at, **known))
        found.append(_warning("recoat_missed", closes, closes_at, None, **known))
    return found


def _rest(stages: Mapping[Stage, Clock], leads: Leads) -> list[Warning]:
    sandable, opens = stages.get("sandable"), stages.get("immerse_opens")
    closes = stages.get("immerse_closes")
    last_at = None if closes is None else closes.last_start_at
    found = []
    if sandable is not None and sandable.governing_at is not None and _ended(sandable):
        at = sandable.governing_at
        found.append(_warning("sandable", sandable, at, None, opens_at=at))
    if opens is not None and opens.governing_at is not None and _ended(opens):
        at = opens.governing_at
        found.append(
            _warning("immerse_open", opens, at, last_at, opens_at=at, last_start_at=last_at)
        )
    if closes is not None and last_at is not None:
        due_at = last_at - timedelta(seconds=leads.immerse_closing_s)
        opens_at = None if opens is None else opens.governing_at
        found.append(
            _warning(
                "immerse_closing",
                closes,
                due_at,
                last_at,
                opens_at=opens_at,
                last_start_at=last_at,
                closes_at=closes.governing_at,
            )
        )
    return found


def _ended(clock: Clock) -> bool:
    return "coat_not_ended" not in clock.reasons


def _warning(
    kind: WarningKind,
    clock: Clock,
    due_at: datetime,
    useless_after: datetime | None,
    **instants: datetime | None,
) -> Warning:
    params: dict[str, str | bool] = {
        "stage": clock.stage,
        "basis": clock.basis,
        "stale": clock.stale,
    }
    params.update({name: iso_of(at) for name, at in instants.items() if at is not None})
    return Warning(
        id=f"{clock.source_id}.{kind}",
        kind=kind,
        source_id=clock.source_id,
        due_at=due_at,
        useless_after=useless_after,
        params=params,
    )


def iso_of(at: datetime) -> str:
    """Write an aware UTC instant as both twins write it: milliseconds and a Z."""
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
