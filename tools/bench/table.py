"""The table: each figure beside the peer's of the same run, what they make together, and the bar it is held to."""

from __future__ import annotations

import operator
from collections.abc import Callable, Sequence

_HEAD = f"{'what':<70}{'ours':>13}{'peer':>13}{'ratio':>11}{'bar':>10}"


class Table:
    """Prints lines as they come, and remembers which missed their bar."""

    def __init__(self) -> None:
        self.missed: list[str] = []
        print(_HEAD)

    def faster(self, what: str, ours_s: float, peer_s: float, least: float) -> None:
        """Tell how many times faster it is, which shall be at least so much."""
        ratio = peer_s / ours_s
        self._line(
            what,
            f"{ours_s:.3f} s",
            f"{peer_s:.3f} s",
            f"{ratio:.1f} x",
            f">= {least:g} x",
            ratio >= least,
        )

    def part(self, what: str, ours: int, peer: int, most: float, unit: str = "B") -> None:
        """Tell which part of the peer's it is, which shall be at most so much."""
        ratio = ours / peer
        self._line(
            what,
            f"{ours:,} {unit}",
            f"{peer:,} {unit}",
            f"{ratio:.3f}",
            f"<= {most:g}",
            ratio <= most,
        )

    def count(
        self,
        what: str,
        ours: int,
        peer: int | str,
        bar: int,
        holds: Callable[[int, int], bool] = operator.le,
    ) -> None:
        """Tell a number that is held to a number, whatever the peer's."""
        sign = {operator.le: "<=", operator.eq: "="}[holds]  # type: ignore[index]
        self._line(what, str(ours), str(peer), "", f"{sign} {bar}", holds(ours, bar))

    def _line(self, what: str, ours: str, peer: str, ratio: str, bar: str, holds: bool) -> None:
        if not holds:
            self.missed.append(what)
        print(
            f"{what:<70}{ours:>13}{peer:>13}{ratio:>11}{bar:>10}{'' if holds else '  MISSED'}",
            flush=True,
        )


def best(values: Sequence[float]) -> float:
    """Give the least of several rounds: whatever else the machine does only ever adds to it."""
    return float(min(values))
