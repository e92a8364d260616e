"""Text that a database can keep: the few characters that none can are shown by a stand-in, so that no word is lost."""

from __future__ import annotations

import math
import re
from json import JSONEncoder
from typing import Any

_encode = JSONEncoder(separators=(",", ":")).encode
_ODD = re.compile("[\x00\ud800-\udfff]")
_NUL = "\u2400"
_BROKEN = "\ufffd"


def storable(value: Any) -> Any:
    """Give plain JSON with NUL, lone surrogates and non-finite numbers replaced by visible stand-ins."""
    if isinstance(value, str):
        return _ODD.sub(_sign, value)
    if isinstance(value, dict):
        return {storable(key): storable(part) for key, part in value.items()}
    if isinstance(value, list):
        return [storable(part) for part in value]
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value


def text_of(value: Any) -> str:
    """Give plain JSON as text, in signs that every database and line takes."""
    return "{}" if value == {} else _encode(value)


def storable_text(value: Any) -> str:
    """Give plain JSON as text, as ``storable`` would have it; nearly always nothing in it has to be replaced."""
    text = _encode(value)
    suspect = "\\u0000" in text or "\\ud" in text or "NaN" in text or "Infinity" in text
    return _encode(storable(value)) if suspect else text


def _sign(found: re.Match[str]) -> str:
    return _NUL if found[0] == "\x00" else _BROKEN
