"""What the client says, from its own files of words: a test names the text by its key and the language."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from tests.browser.house import ROOT


def say(language: str, key: str, **values: object) -> str:
    """Give a text as it is said; where it has plural forms, ``n`` chooses (English and Spanish have two)."""
    text = _texts(language)[key]
    if isinstance(text, dict):
        text = text["one" if values["n"] == 1 else "other"]
    return str(text).format(**values)


def product(language: str, profile_id: str) -> str:
    """Give the name of a bundled product."""
    return str(_profile(profile_id)["name"][language])


@cache
def _profile(profile_id: str) -> dict[str, Any]:
    path = ROOT / "fixtures" / "profiles" / f"{profile_id}.json"
    found: dict[str, Any] = json.loads(path.read_text())
    return found


@cache
def _texts(language: str) -> dict[str, Any]:
    path = ROOT / "client" / "src" / "words" / f"{language}.json"
    found: dict[str, Any] = json.loads(path.read_text())
    return found
