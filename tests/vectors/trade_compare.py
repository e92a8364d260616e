"""How two answers are held against each other: instants to the second, numbers to a billionth."""

from datetime import datetime
from math import isclose
from typing import Any

SECOND = 1.0


def differences(
    got: Any, expected: Any, where: str = "", rel: float = 1e-9, tol: float = 1e-9
) -> list[str]:
    """Give where an answer differs from what is expected.

    An object that is expected names the fields it cares for; further fields may be there. Instants
    may differ by less than a second, numbers by the tolerances, all else not at all.
    """
    if isinstance(expected, dict) and isinstance(got, dict):
        return [
            line
            for name, value in expected.items()
            for line in differences(got.get(name), value, f"{where}.{name}", rel, tol)
        ]
    if isinstance(expected, list) and isinstance(got, list):
        if len(got) != len(expected):
            return [f"{where}: {len(got)} items, expected {len(expected)}"]
        return [
            line
            for i, (one, other) in enumerate(zip(got, expected, strict=True))
            for line in differences(one, other, f"{where}[{i}]", rel, tol)
        ]
    return [] if same(got, expected, rel, tol) else [f"{where}: {got!r}, expected {expected!r}"]


def same(got: Any, expected: Any, rel: float, tol: float) -> bool:
    if isinstance(got, bool) or isinstance(expected, bool):
        return got is expected
    if isinstance(got, int | float) and isinstance(expected, int | float):
        return isclose(got, expected, rel_tol=rel, abs_tol=tol)
    if isinstance(got, str) and isinstance(expected, str) and got != expected:
        return close_instants(got, expected)
    return got == expected


def close_instants(got: str, expected: str) -> bool:
    try:
        apart = datetime.fromisoformat(got) - datetime.fromisoformat(expected)
    except ValueError:
        return False
    return abs(apart.total_seconds()) < SECOND
