"""Figures beside their bars: quantiles, a small histogram, and what missed."""

from __future__ import annotations

from collections.abc import Sequence

EDGES_MS = (10, 20, 50, 100, 200, 500, 1000, 2000, 3000, 5000, 10_000)
WIDEST = 40


class Report:
    """Prints, and remembers which bars were missed."""

    def __init__(self) -> None:
        self.missed: list[str] = []

    def say(self, text: str) -> None:
        """Print a line at once."""
        print(text, flush=True)

    def bar(self, what: str, value: str, bar: str, holds: bool) -> None:
        """Print a figure with its bar."""
        if not holds:
            self.missed.append(what)
        self.say(f"    {what:<58}{value:>12}   bar {bar:<12}{'' if holds else 'MISSED'}")

    def histogram(self, values_ms: Sequence[float]) -> None:
        """Print how many fell between the edges."""
        low = 0
        for high in (*EDGES_MS, None):
            count = sum(low <= one < (high or float("inf")) for one in values_ms)
            if count:
                name = f"{low} .. {high}" if high else f"over {low}"
                width = max(1, round(WIDEST * count / len(values_ms)))
                self.say(f"    {name:>16} ms {count:>6}  {'#' * width}")
            low = high or low


def quantile(values: Sequence[float], p: float) -> float:
    """Give the smallest value that so large a share does not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, max(0, int(-(-len(ordered) * p // 1)) - 1))]


def spread(values_ms: Sequence[float]) -> str:
    """Put quantiles in words."""
    parts = [f"p{round(100 * p)} {quantile(values_ms, p):.0f}" for p in (0.5, 0.9, 0.99)]
    return ", ".join([*parts, f"max {max(values_ms):.0f} ms"])
