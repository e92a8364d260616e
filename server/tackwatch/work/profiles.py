"""The bundled product profiles: generic classes with typical values."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from tackwatch.settings import fixtures_dir


@cache
def bundled() -> tuple[dict[str, Any], ...]:
    """Give every bundled profile, by file name."""
    files = sorted((fixtures_dir() / "profiles").glob("*.json"))
    return tuple(json.loads(file.read_text("utf-8")) for file in files)
