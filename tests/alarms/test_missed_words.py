"""The words of the one notice of what was missed, in each language."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tackwatch.alarms.words import languages, words_for
from tackwatch.trade.warning_kinds import ALARM_KINDS
from tackwatch.trade.warnings import iso_of
from tackwatch.work import missed
from tests.alarms.yard import NOON, minutes

LATER = NOON + timedelta(hours=5)  # when the server is back


def say(entries: list[dict[str, str]], total: int, lang: str = "en") -> tuple[str, str]:
    params = {"missed": entries, "missed_n": total, "urgent": True}
    found = words_for(missed.KIND, params, lang, "Europe/Lisbon", LATER, LATER + minutes(5))
    return found.title, found.body


def entry(kind: str = "recoat_closing", **names: str) -> dict[str, str]:
    return {
        "alarm_id": f"a.{kind}",
        "kind": kind,
        "due_at": iso_of(NOON),
        "zone": "Port hull",
        **names,
    }


def test_the_notice_names_what_was_missed_when_it_was_due_and_what_to_do_now() -> None:
    title, body = say([entry(product="Epoxy primer, generic")], 1)
    assert title == "1 alarm could not reach you in time"
    line = body.splitlines()[1]
    assert line.startswith(
        "Recoat window closing (Port hull, Epoxy primer, generic): was due today 12:00."
    )
    assert line.endswith("sand before the next one.")


def test_of_many_the_first_are_told_and_the_rest_counted() -> None:
    title, body = say([entry() for _ in range(9)], 12)
    assert title == "12 alarms could not reach you in time"
    assert len(body.splitlines()) == 8
    assert body.splitlines()[-1].startswith("And 6 more")


@pytest.mark.parametrize("lang", sorted(languages()))
@pytest.mark.parametrize("kind", ALARM_KINDS)
def test_each_kind_has_its_line_in_each_language(kind: str, lang: str) -> None:
    _, body = say([entry(kind)], 1, lang)
    assert "Port hull" in body
    assert "{" not in body
