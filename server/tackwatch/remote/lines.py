"""A change in words, in one line: when, who, what.

Rules
-----
- Names stand for ids, units for the endings of names, the refit's zone for UTC.
- What people wrote is shown without the characters that could move a terminal's cursor.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from tackwatch.merge.catalogue import ITEMS, RECORDS
from tackwatch.merge.hlc import SERVER_DEVICE, device_of, parse
from tackwatch.merge.values import Field
from tackwatch.remote.news import Named, News

_MOST_CHARACTERS = 120
_UNITS = {
    "c": "°C", "pct": "%", "um": "µm", "g": "g", "m2": "m²", "h": "h", "s": "s", "min": "min", "at": "", "on": "",
    "id": "",
}  # fmt: skip


class Words:
    """Puts changes of one refit into words.

    Parameters
    ----------
    named
        Finds the rows that a change names.
    refit_id
        The refit, whose zone the times are given in.
    """

    def __init__(self, named: Named, refit_id: str) -> None:
        self._named = named
        refit = named("item", refit_id)
        try:
            self._zone: Any = ZoneInfo(str(refit["fields"]["time_zone"])) if refit else UTC
        except (KeyError, ValueError, OSError):
            self._zone = UTC

    def line(self, news: News) -> str:
        """Give a change as one line."""
        after = news.after
        if news.what == "alarm":
            due = self._value(Field("instant"), after.get("due_at"))
            return f"Alarm: {_plain(str(after.get('kind', '')).replace('_', ' '))}, due {due}"
        if news.what == "difference":
            at = after["settled"] or max(after["kept"]["at"], after["lost"]["at"])
            return f"{self._when(at)} {self._who(at)} {self._difference(after)}"
        at = _latest(news)
        said = self._item(news) if news.what == "item" else self._record(news)
        return f"{self._when(at)} {self._who(at)} {said}"

    def _item(self, news: News) -> str:
        after, before = news.after, news.before
        kind = ITEMS.get(after["kind"])
        head = f"{_label(after['kind'])} {self._name(after)}"
        if before is None:
            gone = after["fields"].get("gone")
            return f"{'deleted' if gone else 'made'} {head}"
        if after["fields"].get("gone") and not before["fields"].get("gone"):
            return f"deleted {head}"
        fields = kind.fields if kind else {}
        changed = [
            f"{_label(name)} {self._value(fields.get(name), value, name)}"
            for name, value in after["fields"].items()
            if value != before["fields"].get(name)
        ]
        changed.extend(self._sets(before["sets"], after["sets"]))
        return f"changed {head}: {'; '.join(changed) or 'nothing that shows'}"

    def _sets(self, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[str]:
        for name in sorted({*before, *after}):
            had, has = set(before.get(name, ())), set(after.get(name, ()))
            for word, members in (("with", has - had), ("without", had - has)):
                if members:
                    names = ", ".join(sorted(self._named_as(one) for one in members))
                    yield f"{_label(name)} {word} {names}"

    def _record(self, news: News) -> str:
        after = news.after
        label = _label(after["kind"])
        if after["void"]:
            return f"took back a {label}"
        kind = RECORDS.get(after["kind"])
        body = kind.body if kind else {}
        parts = [
            f"{_label(name)} {self._value(body.get(name), value, name)}"
            for name, value in after["body"].items()
            if value is not None
        ]
        done = "corrected a" if after["replaces"] else "logged a"
        return f"{done} {label}: {', '.join(parts)}"

    def _difference(self, row: Mapping[str, Any]) -> str:
        kind = ITEMS.get(row["kind"])
        field = kind.fields.get(row["field"]) if kind else None
        kept, lost = (
            self._value(field, row[one]["value"], row["field"]) for one in ("kept", "lost")
        )
        head = f"{_label(row['kind'])} {self._named_as(row['item_id'])}, {_label(row['field'])}"
        if row["settled"]:
            return f"settled {head}: {kept} or {lost}"
        return f"made a question of {head}: {kept} stands, or {lost}?"

    def _value(self, field: Field | None, value: Any, name: str = "") -> str:
        if value is None:
            return "none"
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, int | float):
            unit = _UNITS.get(name.rpartition("_")[2], "") if "_" in name else ""
            return f"{value:g} {unit}".strip()
        if isinstance(value, dict | list):
            return _plain(str(value.get("name", "…"))) if isinstance(value, dict) else "…"
        if field is not None and field.type == "ref":
            return self._named_as(value)
        if field is not None and field.type == "instant":
            return self._local(datetime.fromisoformat(value))
        return f"“{_plain(value)}”" if field is None or field.type == "text" else _plain(value)

    def _named_as(self, id_: str) -> str:
        row = self._named("item", id_)
        return self._name(row) if row else _plain(id_)

    def _name(self, row: Mapping[str, Any]) -> str:
        fields = row["fields"]
        name = fields.get("name") or fields.get("title") or fields.get("kind") or row["id"]
        return f"“{_plain(str(name))}”"

    def _who(self, stamp: str) -> str:
        device = self._named("item", device_of(stamp))
        if device_of(stamp) == SERVER_DEVICE or device is None:
            return "The server"
        member = self._named("item", device["fields"]["member_id"])
        who = _plain(str(member["fields"]["name"])) if member else device_of(stamp)
        with_what = _plain(str(device["fields"].get("name") or ""))
        return f"{who} ({with_what})" if with_what else who

    def _when(self, stamp: str) -> str:
        return self._local(datetime.fromtimestamp(parse(stamp).ms / 1000, UTC))

    def _local(self, at: datetime) -> str:
        return f"{at.astimezone(self._zone):%Y-%m-%d %H:%M}"


def _latest(news: News) -> str:
    """Give the stamp of what changed: the greatest one that the row did not have before."""
    after, before = news.after, news.before
    if before is None or news.what == "record":
        return str(after["at"])
    fresh = [at for name, at in after["stamps"].items() if at != before["stamps"].get(name)]
    tags = {
        tag for members in after["sets"].values() for held in members.values() for tag in held
    } - {tag for members in before["sets"].values() for held in members.values() for tag in held}
    return max((*fresh, *tags), default=str(after["at"]))


def _label(name: str) -> str:
    head, _, unit = name.rpartition("_")
    return (head if head and unit in _UNITS else name).replace("_", " ")


def _plain(text: str) -> str:
    shown = "".join(sign if sign.isprintable() else " " for sign in text)
    return shown if len(shown) <= _MOST_CHARACTERS else shown[: _MOST_CHARACTERS - 1] + "…"
