"""An alarm in a person's language: the deed, the instant it must be done by, and what it costs to miss it.

Rules
-----
- One JSON file a language under ``phrases/``; adding a file adds the language. What a language has no file for is said
  in English.
- A sentence whose instant is not known is left out; of several titles the first that can be said is taken.
- Instants are wall time in the refit's zone: ``today 14:20``. Where a message may still be shown on a later day, the
  date stands beside the word; where the clocks are set back, the zone's short name tells the two hours apart.
- What rests on old temperatures, or lies beyond the data sheet, says so. The data sheet has the last word.
- What was missed is listed in a notice of its own (``missed_words``). That a plan gave steps another time or other
  people is said in few words.
- What was handed on says whose it was. What is called off says why, and that there is nothing to do.

Source
------
What goes wrong otherwise (no bond, hot pots, sanding after a missed window): common practice, no source.
"""

from __future__ import annotations

import json
import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from tackwatch.alarms.missed_words import missed_words
from tackwatch.work.notices import MISSED_ALARMS as MISSED
from tackwatch.work.notices import PLAN_CHANGED

PHRASES = Path(__file__).parent / "phrases"
_FALLBACK = "en"
_INSTANTS = (
    "opens_at", "last_start_at", "closes_at", "planned_start_at", "planned_end_at", "launch_at",
    "lost_at", "dry_at", "measured_at",
)  # fmt: skip
_OF_NO_PRODUCT = ("step_due", "step_late", "launch_countdown", "reading_stale")
_ESTIMATES = ("beyond", "rule_of_thumb")


@dataclass(frozen=True, slots=True)
class Words:
    """What a person reads; ``lang`` is the language that it is in."""

    title: str
    body: str
    lang: str


@dataclass(frozen=True, slots=True)
class Wall:
    """How instants are said: the zone, the present instant, and whether the words outlive the present day."""

    zone: tzinfo
    now: datetime
    outlives_day: bool
    times: Mapping[str, Any]

    def say(self, at: datetime) -> str:
        """Say an instant as wall time."""
        here = at.astimezone(self.zone)
        parts = {
            "time": f"{here:%H:%M}{self._which_hour(here)}",
            "weekday": self.times["weekdays"][here.weekday()],
            "day": here.day,
            "month": self.times["months"][here.month - 1],
        }
        days = (here.date() - self.now.astimezone(self.zone).date()).days
        near = {-1: "yesterday", 0: "today", 1: "tomorrow"}.get(days)
        if near is None:
            return str(self.times["other_day"].format(**parts))
        said = self.times[near].format(**parts)
        if self.outlives_day:
            said = self.times["near_and_far"].format(near=said, **parts)
        return str(said)

    def _which_hour(self, here: datetime) -> str:
        twice = here.replace(fold=0).utcoffset() != here.replace(fold=1).utcoffset()
        return f" {here.tzname()}" if twice else ""


def words_for(
    kind: str,
    params: Mapping[str, Any],
    language: str,
    time_zone: str,
    now: datetime,
    useless_after: datetime,
) -> Words:
    """Say an alarm.

    Parameters
    ----------
    kind, params
        The warning's kind and what its sentences need: names, and instants as ISO text.
    language
        A language tag; its region is ignored.
    time_zone
        The refit's zone.
    now, useless_after
        When it is said, and until when it may still be shown.
    """
    lang = language_of(language)
    phrases = catalogue(lang)
    zone = _zone(time_zone)
    outlives = useless_after.astimezone(zone).date() > now.astimezone(zone).date()
    wall = Wall(zone, now, outlives, phrases["times"])
    known = {name: wall.say(at) for name, at in _instants(params).items()}
    known |= _names(params, phrases["subject"])
    if kind == PLAN_CHANGED:
        return Words(*_plan_words(params, phrases["plan"], known), lang)
    if kind == MISSED:
        return Words(*missed_words(params, phrases, wall.say), lang)
    if "withdrawn" in params:
        off = phrases["withdrawn"][params["withdrawn"]]
        return Words(off["title"].format(**known), off["body"].format(**known), lang)
    said = phrases["kinds"][kind]
    handed = _sayable([phrases["notes"]["handed"]], known)
    body = [*handed, *_sayable(said["body"], known), *_notes(kind, params, phrases["notes"])]
    return Words(next(iter(_sayable(said["title"], known)), ""), " ".join(body), lang)


def _plan_words(
    params: Mapping[str, Any], said: Mapping[str, Any], known: Mapping[str, str]
) -> tuple[str, str]:
    """Say that steps of a person's changed, and when the first of them begins."""
    count = {"steps_n": str(params["steps_n"])}
    title = said["title_one"] if params["steps_n"] == 1 else said["title"].format(**count)
    by = {"by": str(params["by"])} if params.get("by") else {}
    return title, " ".join(_sayable(said["body"], {**known, **by}))


def language_of(tag: str) -> str:
    """Give the language in which somebody is written to: the tag's own, where it has a file."""
    lang = tag.lower().partition("-")[0]
    return lang if lang in languages() else _FALLBACK


@cache
def languages() -> frozenset[str]:
    """Give the languages that have a file."""
    return frozenset(path.stem for path in PHRASES.glob("*.json"))


@cache
def catalogue(lang: str) -> Mapping[str, Any]:
    """Give the phrases of a language."""
    found: Mapping[str, Any] = json.loads((PHRASES / f"{lang}.json").read_text("utf-8"))
    return found


def placeholders(sentence: str) -> set[str]:
    """Give the names that a sentence needs."""
    return {name for _, name, _, _ in string.Formatter().parse(sentence) if name}


def _sayable(sentences: Sequence[str], known: Mapping[str, str]) -> list[str]:
    return [one.format(**known) for one in sentences if placeholders(one) <= known.keys()]


def _instants(params: Mapping[str, Any]) -> dict[str, datetime]:
    given = {name: params[name] for name in _INSTANTS if params.get(name)}
    return {name: datetime.fromisoformat(text) for name, text in given.items()}


def _subject(params: Mapping[str, Any], phrases: Mapping[str, str]) -> str:
    product, zone = params.get("product", ""), params.get("zone", "")
    if product and zone:
        return phrases["product_and_zone"].format(product=product, zone=zone)
    return str(product or zone or params.get("step") or phrases["nothing_named"])


def _names(params: Mapping[str, Any], phrases: Mapping[str, str]) -> dict[str, str]:
    """Give what sentences call things and persons by."""
    parts = [str(params[name]) for name in ("step", "job", "zone") if params.get(name)]
    subject = _subject(params, phrases)
    names = {"subject": subject, "place": ", ".join(parts) or subject}
    names |= {name: str(params[name]) for name in ("handed_name", "by") if params.get(name)}
    names.setdefault("by", "?")
    if params.get("open_n") is not None:
        names["open_n"] = str(params["open_n"])
    if params.get("open_titles"):
        names["open_titles"] = ", ".join(params["open_titles"])
    return names


def _notes(kind: str, params: Mapping[str, Any], phrases: Mapping[str, str]) -> list[str]:
    stale = [phrases["stale"]] if params.get("stale") else []
    estimate = [phrases["estimate"]] if params.get("basis") in _ESTIMATES else []
    governs = [] if kind in _OF_NO_PRODUCT else [phrases["governs"]]
    return [*stale, *estimate, *governs]


def _zone(name: str) -> tzinfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return UTC
