"""Photos in pieces: what is no photo or too much, who may send, and what is swept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from flask import Flask

from tackwatch.settings import Settings
from tackwatch.store import parts
from tackwatch.work.photo_uploads import LIFETIME
from tests.api.uploading import PHOTO, SIZE, Arriving, part_files, send, whole
from tests.support.phone import Phone
from tests.support.pictures import picture, with_place
from tests.support.tables import dump
from tests.support.tus import BYTES, TUS, Sending, offset, problem, said
from tests.support.wires import ClientWire
from tests.support.world import StandingClock


@pytest.fixture
def sending(owner: Phone) -> Sending:
    return Sending(owner, PHOTO)


# --- what is no photo, or too much -----------------------------------------------------------------------------------


@pytest.mark.parametrize("content", [b"<svg/>", PHOTO[:-400], b"\xff\xd8\xff\xe0" + bytes(500)])
def test_what_is_no_photo_is_thrown_away_with_its_last_byte(
    app: Flask, settings: Settings, owner: Phone, content: bytes
) -> None:
    before = dump(app)
    assert problem(Sending(owner, content).all()) == (422, "not-a-photo", "body")
    assert (dump(app), part_files(settings)) == (before, [])


def test_the_place_is_refused_unless_it_is_kept_on_purpose(owner: Phone) -> None:
    content = with_place()
    sending = Sending(owner, content)
    assert problem(sending.all()) == (422, "photo-has-metadata", "keep_metadata")
    assert whole(owner, content) is None
    assert sending.all(keep_metadata="true").status == 204
    assert whole(owner, content) == content


def test_a_choice_made_later_counts_for_what_is_under_way(owner: Phone) -> None:
    sending = Sending(owner, with_place())
    sending.begin()
    sending.go_on(0, 100)
    assert offset(sending.begin(keep_metadata="true")) == 100
    assert sending.go_on(100, 10**6).status == 204


def test_another_length_for_the_same_hash_begins_anew(owner: Phone, sending: Sending) -> None:
    headers = {**TUS, "Upload-Metadata": said(sha256=sending.sha256)}
    owner.call("POST", "/uploads", headers={**headers, "Upload-Length": "50"})
    owner.call("PATCH", sending.path, content=b"x" * 20, headers={**BYTES, "Upload-Offset": "0"})
    assert offset(sending.begin()) == 0
    assert sending.go_on(0, SIZE).status == 204


@pytest.fixture
def narrow(app: Flask) -> Iterator[None]:
    """A refit with room for two photos, or for one and a half as large as ``PHOTO``."""
    here = app.extensions["tackwatch"]
    app.extensions["tackwatch"] = replace(
        here, settings=replace(here.settings, photos_per_refit=2, photo_mb_per_refit=1)
    )
    yield
    app.extensions["tackwatch"] = here


@pytest.mark.usefixtures("narrow")
def test_a_refit_has_room_for_so_many_photos(app: Flask, owner: Phone) -> None:
    """Those that are under way count; to go on is always possible."""
    first, second, third = (Sending(owner, picture(seed=seed)) for seed in range(3))
    first.begin()
    second.all()
    before = dump(app)
    assert problem(third.begin()) == (413, "photos-full", "upload-length")
    put = owner.call("PUT", f"/photos/{third.sha256}", content=third.content)
    assert problem(put) == (413, "photos-full", "upload-length")
    assert dump(app) == before
    assert first.all().status == 204
    assert second.begin().status == 201


@pytest.mark.usefixtures("narrow")
def test_a_refit_has_room_for_so_many_bytes(
    owner: Phone, wire: ClientWire, clock: StandingClock
) -> None:
    headers = {**TUS, "Upload-Length": "900000", "Upload-Metadata": said(sha256="0" * 64)}
    assert owner.call("POST", "/uploads", headers=headers).status == 201
    headers |= {"Upload-Length": "100001", "Upload-Metadata": said(sha256="1" * 64)}
    assert problem(owner.call("POST", "/uploads", headers=headers)) == (
        413,
        "photos-full",
        "upload-length",
    )
    assert (
        Phone.found(wire, lambda: clock.ms).call("POST", "/uploads", headers=headers).status == 201
    )
    headers["Upload-Length"] = "100000"
    assert owner.call("POST", "/uploads", headers=headers).status == 201


# --- who may ---------------------------------------------------------------------------------------------------------


def test_one_who_looks_on_sends_nothing(app: Flask, sending: Sending) -> None:
    viewer = Sending(sending.phone.crew("viewer"), PHOTO)
    before = dump(app)
    assert [one.status for one in (viewer.begin(), viewer.ask(), viewer.go_on(0, 10))] == [403] * 3
    assert dump(app) == before


def test_an_upload_belongs_to_one_phone_of_one_refit(
    wire: ClientWire, clock: StandingClock, sending: Sending
) -> None:
    sending.begin()
    for phone in (sending.phone.crew("hand"), Phone.found(wire, lambda: clock.ms)):
        other = Sending(phone, PHOTO)
        assert other.ask().status == 404
        assert problem(other.go_on(0, SIZE)) == (404, "unknown-upload", None)
    assert offset(sending.ask()) == 0


def test_a_withdrawn_key_sends_no_byte_more(sending: Sending) -> None:
    hand = Sending(sending.phone.crew("hand"), PHOTO)
    hand.begin()
    hand.go_on(0, 1000)
    sending.phone.call("DELETE", f"/devices/{hand.phone.device_id}")
    assert problem(hand.go_on(1000, SIZE)) == (401, "key-withdrawn", None)
    assert whole(sending.phone) is None


def test_a_key_that_is_withdrawn_while_the_bytes_come_finishes_nothing(
    app: Flask, sending: Sending
) -> None:
    hand = Sending(sending.phone.crew("hand"), PHOTO)
    hand.begin()

    def withdraw(_: int) -> None:
        sending.phone.call("DELETE", f"/devices/{hand.phone.device_id}")

    assert send(app, hand, 0, SIZE, Arriving(PHOTO, withdraw)) == 401
    assert whole(sending.phone) is None


# --- sweeping --------------------------------------------------------------------------------------------------------


def test_what_rested_too_long_is_given_up_and_swept(
    app: Flask, settings: Settings, clock: StandingClock, sending: Sending
) -> None:
    sending.begin()
    sending.go_on(0, 1000)
    clock.at += LIFETIME - timedelta(seconds=1)
    assert offset(sending.ask()) == 1000
    clock.forward(seconds=1)
    assert sending.ask().status == 410
    assert problem(sending.go_on(1000, 10)) == (410, "upload-given-up", None)
    other = Sending(sending.phone.crew("hand"), picture(seed=2))
    other.begin()
    assert [one.name for one in part_files(settings)] == [f"{other.phone.device_id}-{other.sha256}"]
    assert [row["sha256"] for row in dump(app)["photo_upload"]] == [other.sha256]
    assert offset(sending.begin()) == 0


def test_beginning_again_in_time_lets_it_rest_anew(clock: StandingClock, sending: Sending) -> None:
    sending.begin()
    sending.go_on(0, 1000)
    clock.at += LIFETIME - timedelta(seconds=1)
    assert offset(sending.begin()) == 1000
    clock.forward(days=1)
    assert sending.go_on(1000, SIZE).status == 204


def test_a_part_file_that_no_row_knows_is_swept(settings: Settings, sending: Sending) -> None:
    stray = parts.path(settings.data_dir, sending.phone.refit_id, "aaaaaaaaaaaa", "0" * 64)
    parts.begin(stray)
    sending.begin()
    assert not stray.exists()
    assert len(part_files(settings)) == 1
