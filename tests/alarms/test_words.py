"""Alarms in words, in each language: the deed, the instant, the cost."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tackwatch.alarms.words import Words, catalogue, languages, placeholders, words_for
from tackwatch.trade.warning_kinds import ALARM_KINDS
from tackwatch.trade.warnings import iso_of

NOW = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)  # a Tuesday; 12:00 in Lisbon
LISBON = "Europe/Lisbon"


def _say(
    kind: str = "recoat_closing",
    language: str = "en",
    time_zone: str = LISBON,
    now: datetime = NOW,
    useful: timedelta = timedelta(hours=3),
    **params: Any,
) -> Words:
    known = {
        "opens_at": iso_of(NOW - timedelta(hours=1)),
        "last_start_at": iso_of(NOW + timedelta(hours=2, minutes=20)),
        "closes_at": iso_of(NOW + timedelta(hours=3)),
        "product": "Epoxy primer, generic",
        "zone": "Port hull",
        "planned_start_at": iso_of(NOW + timedelta(minutes=30)),
        "launch_at": iso_of(NOW + timedelta(days=7)),
        "lost_at": iso_of(NOW + timedelta(hours=5)),
        "dry_at": iso_of(NOW + timedelta(hours=9)),
        "basis": "data_sheet",
        "stale": False,
        **params,
    }
    return words_for(kind, known, language, time_zone, now, now + useful)


def _shape(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _shape(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_shape(part) for part in value]
    return placeholders(value)


def test_there_are_english_and_spanish() -> None:
    assert {"en", "es"} <= languages()


@pytest.mark.parametrize("lang", sorted(languages()))
def test_every_language_has_the_same_keys_and_placeholders(lang: str) -> None:
    assert _shape(catalogue(lang)) == _shape(catalogue("en"))


@pytest.mark.parametrize("lang", sorted(languages()))
def test_every_kind_of_warning_can_be_said_and_nothing_else_is_in_the_file(lang: str) -> None:
    assert set(catalogue(lang)["kinds"]) == set(ALARM_KINDS)


@pytest.mark.parametrize("lang", sorted(languages()))
@pytest.mark.parametrize("kind", ALARM_KINDS)
def test_every_warning_is_said_even_when_no_instant_is_known(lang: str, kind: str) -> None:
    words = words_for(kind, {}, lang, LISBON, NOW, NOW + timedelta(hours=1))
    full = _say(kind, lang)
    for said in (words, full):
        assert said.lang == lang
        assert "{" not in said.title + said.body
    assert full.title
    assert "Port hull" in full.body or kind in ("launch_countdown", "reading_stale")


@pytest.mark.parametrize("kind", [kind for kind in ALARM_KINDS if kind.endswith("_closing")])
def test_a_closing_window_has_a_title_even_when_its_end_is_not_known(kind: str) -> None:
    assert words_for(kind, {}, "en", LISBON, NOW, NOW + timedelta(hours=1)).title


def test_languages_say_different_things() -> None:
    for kind in ALARM_KINDS:
        english, spanish = _say(kind, "en"), _say(kind, "es")
        assert english.title != spanish.title
        assert english.body != spanish.body


def test_it_names_the_deed_the_instant_and_the_cost_of_missing_it() -> None:
    words = _say()
    assert words.title == "Start the next coat. Last good start: today 14:20"
    assert words.body == (
        "Epoxy primer, generic, Port hull: last good start: today 14:20. "
        "The window closes: today 15:00. "
        "If it closes first, the surface must be sanded before another coat. "
        "The product's data sheet governs."
    )


def test_it_says_so_in_spanish() -> None:
    words = _say(language="es")
    assert words.title == "Da la mano siguiente. Empieza como tarde: hoy 14:20"
    assert "El plazo se cierra: hoy 15:00." in words.body
    assert words.body.endswith("Manda la ficha técnica del producto.")


def test_a_region_is_ignored_and_an_unknown_language_is_said_in_english() -> None:
    assert _say(language="es-MX").lang == "es"
    assert _say(language="ES").lang == "es"
    assert _say(language="fr").lang == "en"
    assert _say(language="").lang == "en"


def test_instants_are_wall_time_of_the_refit() -> None:
    assert "today 14:20" in _say(time_zone=LISBON).title
    assert "today 15:20" in _say(time_zone="Europe/Madrid").title
    assert "today 09:20" in _say(time_zone="America/New_York").title
    assert "today 03:20" in _say(time_zone="Pacific/Auckland").title
    assert "tomorrow 00:20 (Wed 4 Mar)" in _say(time_zone="Australia/Brisbane").title


def test_a_zone_that_is_not_known_is_said_in_utc() -> None:
    assert "today 14:20" in _say(time_zone="Not/AZone").title


def test_other_days_are_named() -> None:
    def closing(days: float) -> str:
        return _say(last_start_at=iso_of(NOW + timedelta(days=days)), useful=timedelta(0)).title

    assert closing(-1).endswith("yesterday 12:00")
    assert closing(0).endswith("today 12:00")
    assert closing(1).endswith("tomorrow 12:00")
    assert closing(2).endswith("Thu 5 Mar 12:00")


def test_a_message_that_may_be_shown_tomorrow_has_the_date_beside_the_word() -> None:
    title = _say(useful=timedelta(days=1)).title
    assert title.endswith("today 14:20 (Tue 3 Mar)")


def test_the_hour_that_comes_twice_is_told_apart() -> None:
    # Lisbon sets its clocks back on 25 October 2026 at 02:00 (IANA time zone database)
    night = datetime(2026, 10, 25, 0, 0, tzinfo=UTC)
    first, second = (
        _say(now=night, last_start_at=iso_of(night + timedelta(minutes=at))).title
        for at in (30, 90)
    )
    assert first.endswith("today 01:30 WEST")
    assert second.endswith("today 01:30 WET")


def test_what_rests_on_old_temperatures_says_so() -> None:
    assert "take a reading" in _say(stale=True).body
    assert "take a reading" not in _say(stale=False).body


@pytest.mark.parametrize("basis", ["beyond", "rule_of_thumb"])
def test_what_lies_beyond_the_data_sheet_says_so(basis: str) -> None:
    assert "An estimate" in _say(basis=basis).body
    assert "An estimate" not in _say().body


@pytest.mark.parametrize("lang", sorted(languages()))
@pytest.mark.parametrize("kind", ALARM_KINDS)
def test_the_data_sheet_has_the_last_word_on_what_a_product_does(lang: str, kind: str) -> None:
    of_the_plan = kind in ("step_due", "step_late", "launch_countdown", "reading_stale")
    governs = catalogue(lang)["notes"]["governs"]
    assert _say(kind, lang).body.endswith(governs) is not of_the_plan


def test_a_hot_pot_comes_with_its_caution_common_practice_no_source() -> None:
    assert "carry it outside" in _say("pot_life_over").body
    assert "mask and goggles" in _say("sandable").body
    assert "mask and goggles" in _say("recoat_missed").body


def test_a_name_with_braces_is_just_a_name() -> None:
    assert _say(product="{closes_at}", zone="").body.startswith("{closes_at}: last good start")


def test_without_names_the_step_or_a_plain_word_stands_in() -> None:
    assert _say(product="", zone="", step="Coat 3").body.startswith("Coat 3: ")
    assert _say(product="", zone="").body.startswith("A coat or pot: ")


def test_what_was_handed_on_says_whose_it_was() -> None:
    words = _say("recoat_closing", handed_name="Paz")
    assert words.body.startswith("Paz was told and has not seen it: it comes to you now. ")


def test_the_countdown_says_what_stands_open() -> None:
    said = _say("launch_countdown", open_n=4, open_titles=["Antifouling", "Seacocks"]).body
    assert "Jobs still open before it: 4. First among them: Antifouling, Seacocks." in said
    assert "data sheet" not in said


@pytest.mark.parametrize("lang", sorted(languages()))
@pytest.mark.parametrize("why", ["gone", "done", "seen"])
def test_what_is_called_off_says_why_in_every_language(lang: str, why: str) -> None:
    words = _say("recoat_open", lang, withdrawn=why, by="Olga")
    assert "Port hull" in words.body
    assert ("Olga" in words.title + words.body) == (why != "gone")
