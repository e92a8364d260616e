"""Text that a database can keep: the few characters that none can are shown by a stand-in, so that no word is lost."""

from __future__ import annotations

import math
from typing import Any

_NUL = "\u2400"
_BROKEN = "\ufffd"


def storable(value: Any) -> Any:
    """Give plain JSON with NUL, lone surrogates and non-finite numbers replaced by visible stand-ins."""
    if isinstance(value, str):
        return "".join(_sign(sign) for sign in value) if _odd(value) else value
    if isinstance(value, dict):
        return {storable(key): storable(part) for key, part in value.items()}
    if isinstance(value, list):
        return [storable(part) for part in value]
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value


def _odd(text: str) -> bool:
    return any(sign == "\x00" or "\ud800" <= sign <= "\udfff" for sign in text)


def _sign(sign: str) -> str:
    if sign == "\x00":
        return _NUL
    return _BROKEN if "\ud800" <= sign <= "\udfff" else sign
