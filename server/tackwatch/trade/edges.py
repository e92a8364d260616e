"""What one edge of the temperature band says about a stage of a coat.

Theory
------
A coat takes time: its first paint is laid at the start S and its last at the end E. The next coat
follows the same path at the same pace, so that it comes to paint laid at p exactly p - S after its
own start. With O(p) and C(p) the instants at which paint laid at p opens and closes, the next coat
may start at x when x + (p - S) lies between O(p) and C(p) for every p:

    opens      x >= max over p of O(p) - (p - S)
    last start x <= min over p of C(p) - (p - S)

On a day that warms or cools the paint that decides may lie in the middle: paint laid just as the
sun leaves the hull. p runs over both ends and over instants between, at most `PATH_STEP_S` apart
(and at most `PATH_PARTS` parts); around the worst of them the worst is then sought by golden
section, `GOLDEN_ROUNDS` times, which narrows an hour to half a minute.

Rules
-----
* recoat_opens follows the path. touch_dry, sandable and immerse_opens wait for the last paint: the
  boat goes in all at once, and who sands may be faster than who painted.
* recoat_closes is when the last paint closes; the next coat must start by the last start.
  immerse_closes is when the *first* paint closes, and so is its last start.
* A window closes at the earlier of the dose and the table of the hottest hour; within `TIE_S` of
  each other the table is named.

Source
------
See `dose` and `hottest_hour`. The path rule is geometry.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

from tackwatch.trade.arrhenius import Law, law_of
from tackwatch.trade.dose import DoseLine
from tackwatch.trade.hottest_hour import closes_by_table
from tackwatch.trade.types import Band, Basis, HottestHourRow, Profile, Stage, Track, worst_basis

PATH_STEP_S: Final = 1800.0
PATH_PARTS: Final = 24
GOLDEN_ROUNDS: Final = 10
GOLDEN_SHARE: Final = 0.6180339887498949
TIE_S: Final = 1e-3
FAST: Final = 1.0
SLOW: Final = -1.0
AS_IT_STANDS: Final = 0.0
NEVER_S: Final = float("inf")


@dataclass(frozen=True, slots=True)
class Edge:
    """What one edge of the band says about a stage; infinity is past the horizon."""

    at_s: float
    last_start_s: float
    basis: Basis
    reasons: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Paint:
    """Paint laid at one instant: when its stage comes, on what basis, and why."""

    at_s: float
    basis: Basis
    reasons: frozenset[str]


def stage_known(profile: Profile, stage: Stage) -> bool:
    """Say whether the profile knows anything about a stage."""
    by_table = stage == "recoat_closes" and bool(profile.closes_by_hottest_hour)
    return by_table or bool(profile.stages.get(stage))


def path_of(start_s: float, end_s: float) -> tuple[float, ...]:
    """Give the instants at which paint was laid that are looked at: both ends and between."""
    if end_s <= start_s:
        return (start_s,)
    parts = min(PATH_PARTS, ceil((end_s - start_s) / PATH_STEP_S))
    inner = (start_s + (end_s - start_s) * i / parts for i in range(1, parts))
    return (start_s, *inner, end_s)


def edges_of(
    profile: Profile, stage: Stage, track: Track, path_s: Sequence[float], band: Band
) -> dict[float, Edge]:
    """Give the three edges of a stage for paint that was laid along a path.

    Source
    ------
    See the head of the module.
    """
    points = profile.stages.get(stage)
    law = law_of(points) if points else None
    rows = profile.closes_by_hottest_hour if stage == "recoat_closes" else ()
    return {
        edge: _edge(stage, path_s, _Painter(law, rows, track, path_s[0], edge, band))
        for edge in (AS_IT_STANDS, FAST, SLOW)
    }


class _Painter:
    """Answers when paint laid at an instant reaches the stage, on one edge."""

    def __init__(
        self,
        law: Law | None,
        rows: Sequence[HottestHourRow],
        track: Track,
        from_s: float,
        edge: float,
        band: Band,
    ) -> None:
        self.edge = edge
        self._rows = rows
        self._track = track
        self._band = band
        self._line = None if law is None else DoseLine(law, track, from_s, edge, band)

    def paint(self, laid_s: float) -> _Paint:
        """Give the earlier of the dose and the table for paint laid at an instant."""
        by_dose = self._by_dose(laid_s)
        if not self._rows:
            return by_dose
        table = closes_by_table(self._rows, self._track, laid_s, self.edge, self._band)
        if table.at_s > by_dose.at_s + TIE_S:
            return by_dose
        reasons = {"hottest_hour"}
        reasons.update(["above_table"] if table.above_table else [])
        reasons.update(["below_table"] if table.below_table else [])
        basis: Basis = "beyond" if table.above_table else "data_sheet"
        return _Paint(min(table.at_s, by_dose.at_s), basis, frozenset(reasons))

    def _by_dose(self, laid_s: float) -> _Paint:
        if self._line is None:
            return _Paint(NEVER_S, "data_sheet", frozenset())
        reached = self._line.reached(laid_s)
        if reached is None:
            return _Paint(NEVER_S, self._line.basis_so_far(), frozenset())
        return _Paint(reached.at_s, reached.basis, frozenset())


def _edge(stage: Stage, path_s: Sequence[float], painter: _Painter) -> Edge:
    """Ask about the paint that decides, or along the whole path where it counts."""
    if stage == "recoat_opens":
        opens_s, paints = _worst_start(painter, path_s, 1.0)
        return _of(opens_s, opens_s, paints)
    if stage == "recoat_closes" and painter.edge == FAST:
        last_start_s, paints = _worst_start(painter, path_s, -1.0)
        return _of(paints[-1].at_s, last_start_s, paints)
    decides = painter.paint(path_s[0] if stage == "immerse_closes" else path_s[-1])
    return _of(decides.at_s, decides.at_s, [decides])


def _worst_start(
    painter: _Painter, path_s: Sequence[float], sign: float
) -> tuple[float, list[_Paint]]:
    """Give the start that all paint on the path allows: the latest (sign 1) or earliest (-1).

    The paints that were looked at come with it, that of the path's end as the last.
    """
    paints = [painter.paint(laid_s) for laid_s in path_s]
    worth = [
        sign * (paint.at_s - (laid_s - path_s[0]))
        for paint, laid_s in zip(paints, path_s, strict=True)
    ]
    best = max(worth)
    if len(path_s) == 1 or abs(best) == NEVER_S:
        return sign * best, paints
    i = worth.index(best)
    sought: list[_Paint] = []

    def ask(laid_s: float) -> float:
        sought.append(painter.paint(laid_s))
        return sign * (sought[-1].at_s - (laid_s - path_s[0]))

    best = max(best, _peak(ask, path_s[max(0, i - 1)], path_s[min(len(path_s) - 1, i + 1)]))
    return sign * best, sought + paints


def _peak(ask: Callable[[float], float], low: float, high: float) -> float:
    """Give the highest value found by golden section between two places."""
    left, right = high - GOLDEN_SHARE * (high - low), low + GOLDEN_SHARE * (high - low)
    at_left, at_right = ask(left), ask(right)
    best = max(at_left, at_right)
    for _ in range(GOLDEN_ROUNDS):
        if at_left >= at_right:
            high, right, at_right = right, left, at_left
            left = high - GOLDEN_SHARE * (high - low)
            at_left = ask(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + GOLDEN_SHARE * (high - low)
            at_right = ask(right)
        best = max(best, at_left, at_right)
    return best


def _of(at_s: float, last_start_s: float, paints: Sequence[_Paint]) -> Edge:
    return Edge(
        at_s=at_s,
        last_start_s=last_start_s,
        basis=worst_basis(*(paint.basis for paint in paints)),
        reasons=frozenset().union(*(paint.reasons for paint in paints)),
    )
