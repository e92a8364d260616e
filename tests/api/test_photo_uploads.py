"""Photos in pieces: the protocol, and what must never be lost.

Source of the protocol: tus 1.0.0, https://tus.io/protocols/resumable-upload.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any, ClassVar

import pytest
from flask import Flask
from hypothesis import HealthCheck, given
from hypothesis import settings as chance
from hypothesis import strategies as some

from tackwatch.settings import Settings
from tackwatch.store import parts
from tackwatch.store import photos as kept
from tackwatch.work.photo_uploads import LIFETIME
from tests.support.phone import Phone
from tests.support.pictures import name_of, picture, with_place
from tests.support.tables import dump
from tests.support.tus import BYTES, TUS, Sending, offset, problem, said
from tests.support.wires import ClientWire, call
from tests.support.world import StandingClock

PHOTO = picture("JPEG", width_px=320, height_px=240)
SIZE = len(PHOTO)


@pytest.fixture
def sending(owner: Phone) -> Sending:
    return Sending(owner, PHOTO)


def whole(phone: Phone, content: bytes = PHOTO) -> bytes | None:
    answer = phone.call("GET", f"/photos/{name_of(content)}")
    return answer.content if answer.status == 200 else None


def part_files(settings: Settings) -> list[Path]:
    return [one for one in (settings.data_dir / "uploads").rglob("*") if one.is_file()]


# --- the protocol ----------------------------------------------------------------------------------------------------


def test_a_photo_arrives_in_pieces(settings: Settings, sending: Sending) -> None:
    begun = sending.begin()
    assert begun.status == 201  # Creation: 201 and Location
    assert begun.headers["location"].endswith(f"/api/refits/{sending.phone.refit_id}{sending.path}")
    assert offset(begun) == 0
    for at_b in range(0, SIZE, 1000):
        asked = sending.ask()  # Core: HEAD gives offset and length, and is not cached
        assert (offset(asked), asked.headers["upload-length"]) == (at_b, str(SIZE))
        assert asked.headers["cache-control"] == "no-store"
        assert whole(sending.phone) is None
        answer = sending.go_on(at_b, 1000)
        assert (answer.status, offset(answer)) == (204, min(SIZE, at_b + 1000))
    assert whole(sending.phone) == PHOTO
    assert part_files(settings) == []


def test_every_answer_names_the_version_of_the_protocol(sending: Sending) -> None:
    answers = [
        sending.ask(),
        sending.begin(),
        sending.ask(),
        sending.go_on(7, 10),
        sending.go_on(0, 10),
    ]
    assert [one.status for one in answers] == [404, 201, 200, 409, 204]
    assert {one.headers["tus-resumable"] for one in answers} == {"1.0.0"}


@pytest.mark.parametrize("version", [None, "0.2.2", "2.0.0"])
def test_another_version_is_refused_and_ours_is_named(
    sending: Sending, version: str | None
) -> None:
    """Core: 412 with Tus-Version, and the request is not processed."""
    sending.begin()
    headers = {"Upload-Length": "9", "Upload-Offset": "0", "Content-Type": BYTES["Content-Type"]}
    if version:
        headers["Tus-Resumable"] = version
    for method, path in (("POST", "/uploads"), ("PATCH", sending.path)):
        answer = sending.phone.call(method, path, content=b"x", headers=headers)
        assert problem(answer) == (412, "unknown-version", "tus-resumable")
        assert answer.headers["tus-version"] == "1.0.0"
    assert offset(sending.ask()) == 0


def test_options_say_what_the_server_can_do(sending: Sending) -> None:
    """Core: OPTIONS needs no version, and no key since it says nothing of a refit."""
    path = f"/api/refits/{sending.phone.refit_id}/uploads"
    answer = call(sending.phone.wire, "OPTIONS", path)
    assert answer.status in (200, 204)
    assert answer.headers["tus-version"] == answer.headers["tus-resumable"] == "1.0.0"
    assert answer.headers["tus-extension"] == "creation,expiration"
    assert answer.headers["tus-max-size"] == "20000000"


def test_an_upload_says_until_when_it_is_kept(clock: StandingClock, sending: Sending) -> None:
    """Expiration: Upload-Expires as an HTTP date, while the upload is under way."""
    assert sending.begin().headers["upload-expires"] == "Mon, 09 Mar 2026 08:00:00 GMT"
    assert sending.go_on(0, 10).headers["upload-expires"] == "Mon, 09 Mar 2026 08:00:00 GMT"
    assert "upload-expires" not in sending.go_on(10, SIZE).headers


@pytest.mark.parametrize("at_b", [1, 999, 1001, SIZE, SIZE + 1, 10**14])
def test_a_piece_for_another_place_is_refused(sending: Sending, at_b: int) -> None:
    """Core: 409 without a change."""
    sending.begin()
    sending.go_on(0, 1000)
    answer = (
        sending.go_on(at_b, 100)
        if at_b < SIZE
        else sending.go_on(0, 1, **{"Upload-Offset": str(at_b)})
    )
    assert problem(answer) == (409, "offset-differs", "upload-offset")
    assert "1000" in answer.json["detail"]
    assert offset(sending.ask()) == 1000


def test_more_than_was_announced_is_refused(sending: Sending) -> None:
    sending.begin()
    answer = sending.phone.call(
        "PATCH", sending.path, content=PHOTO + b"x", headers={**BYTES, "Upload-Offset": "0"}
    )
    assert problem(answer) == (413, "too-large", "body")
    assert offset(sending.ask()) < SIZE
    assert whole(sending.phone) is None
    assert sending.all().status == 204


def test_what_was_not_begun_is_not_there(sending: Sending) -> None:
    assert sending.ask().status == 404
    assert problem(sending.go_on(0, SIZE)) == (404, "unknown-upload", None)


BAD_STARTS: list[tuple[dict[str, str], int, str]] = [
    ({"Upload-Length": ""}, 422, "upload-length"),
    ({"Upload-Length": "-1"}, 422, "upload-length"),
    ({"Upload-Length": "1.5"}, 422, "upload-length"),
    ({"Upload-Length": "٣"}, 422, "upload-length"),
    ({"Upload-Length": "1" * 16}, 422, "upload-length"),
    ({"Upload-Length": "0"}, 413, "upload-length"),
    ({"Upload-Length": "20000001"}, 413, "upload-length"),
    ({"Upload-Metadata": ""}, 422, "sha256"),
    ({"Upload-Metadata": "sha256"}, 422, "sha256"),
    ({"Upload-Metadata": "sha256 !!!"}, 422, "upload-metadata"),
    ({"Upload-Metadata": "sha256 /w=="}, 422, "upload-metadata"),
    ({"Upload-Metadata": said(sha256="0" * 63)}, 422, "sha256"),
    ({"Upload-Metadata": said(sha256="../" * 20 + "etc")}, 422, "sha256"),
    ({"Upload-Metadata": said(sha256="A" * 64)}, 422, "sha256"),
    ({"Upload-Metadata": said(sha256="0" * 64, keep_metadata="1")}, 422, "keep_metadata"),
]  # fmt: skip


@pytest.mark.parametrize(("headers", "status", "field"), BAD_STARTS)
def test_a_bad_start_names_what_is_wrong_and_changes_nothing(
    app: Flask, settings: Settings, owner: Phone, headers: dict[str, str], status: int, field: str
) -> None:
    good = {**TUS, "Upload-Length": "9", "Upload-Metadata": said(sha256="0" * 64)}
    sent = {name: value.encode().decode("latin-1") for name, value in {**good, **headers}.items()}
    before = dump(app)
    answer = owner.call("POST", "/uploads", headers=sent)
    assert (answer.status, answer.json["field"]) == (status, field)
    assert (dump(app), part_files(settings)) == (before, [])


@pytest.mark.parametrize(
    ("headers", "status", "field"),
    [
        ({"Upload-Offset": ""}, 422, "upload-offset"),
        ({"Upload-Offset": "-1"}, 422, "upload-offset"),
        ({"Upload-Offset": "x"}, 422, "upload-offset"),
        ({"Content-Type": "image/jpeg"}, 415, "content-type"),
        ({"Content-Encoding": "gzip"}, 415, "content-type"),
        ({"Transfer-Encoding": "chunked"}, 411, "content-length"),
    ],
)
def test_a_bad_piece_names_what_is_wrong_and_changes_nothing(
    sending: Sending, headers: dict[str, str], status: int, field: str
) -> None:
    sending.begin()
    answer = sending.go_on(0, 100, **headers)
    assert (answer.status, answer.json["field"]) == (status, field)
    assert offset(sending.ask()) == 0


@pytest.mark.parametrize("name", ["..%2F..%2Fetc%2Fpasswd", "%2e%2e", "%00", "A" * 64, "0" * 63])
def test_no_address_leads_out_of_the_folder(owner: Phone, name: str) -> None:
    for method in ("HEAD", "PATCH"):
        headers = {**BYTES, "Upload-Offset": "0"}
        assert owner.call(method, f"/uploads/{name}", content=b"x", headers=headers).status in (
            404,
            405,
            422,
        )


# --- cuts ------------------------------------------------------------------------------------------------------------


class Arriving:
    """A body that comes over a line; something happens each time that the server waits for more."""

    def __init__(self, content: bytes, meanwhile: Callable[[int], None] = lambda _: None) -> None:
        self._rest = io.BytesIO(content)
        self._meanwhile = meanwhile

    def read(self, size: int) -> bytes:
        self._meanwhile(self._rest.tell())
        return self._rest.read(size)


def send(
    app: Flask, sending: Sending, at_b: int, announced_b: int, body: Arriving, **environ: Any
) -> int:
    """Announce a piece, let the body come, and give the status; a body that is too short is a line that broke."""
    answer = app.test_client().open(
        f"/api/refits/{sending.phone.refit_id}{sending.path}",
        method="PATCH",
        headers={
            **BYTES,
            "Upload-Offset": str(at_b),
            "Authorization": f"Bearer {sending.phone.key}",
        },
        environ_overrides={"CONTENT_LENGTH": str(announced_b), "wsgi.input": body, **environ},
    )
    return answer.status_code


def cut(app: Flask, sending: Sending, at_b: int, announced_b: int, arrive_b: int) -> None:
    """Announce a piece of which only the first bytes arrive before the line breaks."""
    body = Arriving(sending.content[at_b : at_b + arrive_b])
    assert send(app, sending, at_b, announced_b, body) == 400


# Each piece: which part of the rest it announces, which part of that arrives, and how the phone asks where to go on.
PIECES = some.lists(
    some.tuples(some.floats(0.0, 1.0), some.floats(0.0, 1.0), some.booleans()), max_size=15
)


@chance(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=some.integers(0, 2**32), pieces=PIECES)
def test_any_split_with_any_cuts_ends_in_the_same_bytes(
    app: Flask, owner: Phone, seed: int, pieces: list[tuple[float, float, bool]]
) -> None:
    """A property: whatever is cut, nothing is sent twice, and what comes back is what was sent."""
    sending = Sending(owner, picture("JPEG", width_px=160, height_px=120, seed=seed))
    size_b = len(sending.content)
    at_b = offset(sending.begin())
    for much, arrives, begins_anew in pieces:
        piece_b = round(much * (size_b - at_b))
        arrive_b = round(arrives * piece_b)
        if arrive_b == piece_b:
            assert sending.go_on(at_b, piece_b).status == 204
        else:
            cut(app, sending, at_b, piece_b, arrive_b)
        at_b += arrive_b
        assert offset(sending.begin() if begins_anew else sending.ask()) == at_b
    assert sending.all().status == 204
    assert whole(owner, sending.content) == sending.content


def test_a_cut_at_each_byte_of_a_piece_costs_only_the_rest(app: Flask, sending: Sending) -> None:
    sending.begin()
    at_b = 0
    for arrive_b in range(60):
        cut(app, sending, at_b, 60, arrive_b)
        at_b += arrive_b
        assert offset(sending.ask()) == at_b
    assert sending.go_on(at_b, SIZE).status == 204
    assert whole(sending.phone) == PHOTO


def test_a_sender_that_falls_silent_is_given_up_and_what_came_is_kept(
    app: Flask, sending: Sending
) -> None:
    """The server's socket is given a patience while bytes are waited for, and has its own again afterwards."""

    class Socket:
        patience: ClassVar[list[float | None]] = []

        def gettimeout(self) -> None:
            return None

        def settimeout(self, patience_s: float | None) -> None:
            self.patience.append(patience_s)

    def silent(read_b: int) -> None:
        if read_b >= 2_000:
            raise TimeoutError

    sending.begin()
    body = Arriving(PHOTO[:2_000], silent)
    assert send(app, sending, 0, SIZE, body, **{"gunicorn.socket": Socket()}) == 400
    assert Socket.patience == [30.0, None]
    assert offset(sending.ask()) == 2_000


def test_an_answer_that_was_lost_costs_nothing(sending: Sending) -> None:
    sending.all()
    assert offset(sending.ask()) == SIZE
    assert offset(sending.begin()) == SIZE
    assert whole(sending.phone) == PHOTO


def test_a_photo_that_is_here_is_not_sent_again(settings: Settings, sending: Sending) -> None:
    """Also when another phone sent it, in one go or in pieces."""
    Sending(sending.phone.crew("hand"), PHOTO).all()
    assert offset(sending.begin()) == SIZE
    assert part_files(settings) == []


@pytest.mark.parametrize("breaks_at", ["keep", "add", "unlink"])
def test_a_server_that_dies_while_it_finishes_does_so_when_it_is_asked_next(
    settings: Settings, sending: Sending, monkeypatch: pytest.MonkeyPatch, breaks_at: str
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise OSError("the lights went out")

    sending.begin()
    with monkeypatch.context() as broken:
        if breaks_at == "unlink":
            broken.setattr(Path, "unlink", fail)
        else:
            broken.setattr(kept, breaks_at, fail)
        assert sending.go_on(0, SIZE).status == 500
    assert offset(sending.ask()) == SIZE
    assert whole(sending.phone) == PHOTO
    Sending(sending.phone, picture(seed=2)).begin()
    assert [one.name.partition("-")[2] for one in part_files(settings)] == [
        name_of(picture(seed=2))
    ]


def test_a_part_that_was_lost_is_begun_anew(settings: Settings, sending: Sending) -> None:
    """After a restore the rows are there and the part files are not."""
    sending.begin()
    sending.go_on(0, 1000)
    part_files(settings)[0].unlink()
    assert sending.ask().status == 404
    assert problem(sending.go_on(1000, SIZE))[0] == 404
    assert offset(sending.begin()) == 0
    assert sending.go_on(0, SIZE).status == 204


# --- several at once -------------------------------------------------------------------------------------------------


def test_two_phones_send_the_same_photo_each_on_its_own(sending: Sending) -> None:
    other = Sending(sending.phone.crew("hand"), PHOTO)
    sending.begin()
    other.begin()
    sending.go_on(0, 3000)
    assert offset(other.ask()) == 0
    other.go_on(0, 2000)
    assert sending.go_on(3000, SIZE).status == 204
    assert offset(other.ask()) == SIZE  # it is here, whoever sent it
    assert whole(other.phone) == PHOTO


def test_a_phone_that_sends_other_bytes_spoils_nobody_elses(app: Flask, sending: Sending) -> None:
    hand = sending.phone.crew("hand")
    sending.begin()
    sending.go_on(0, 1000)
    headers = {**TUS, "Upload-Length": str(SIZE), "Upload-Metadata": said(sha256=sending.sha256)}
    hand.call("POST", "/uploads", headers=headers)
    false = hand.call(
        "PATCH", sending.path, content=bytes(SIZE), headers={**BYTES, "Upload-Offset": "0"}
    )
    assert problem(false) == (422, "hash-differs", "sha256")
    assert sending.go_on(1000, SIZE).status == 204
    assert whole(sending.phone) == PHOTO


def test_of_two_pieces_for_one_place_the_first_to_write_goes_on(app: Flask, owner: Phone) -> None:
    """The second request comes while the first waits for its bytes, as with a connection that died unnoticed."""
    big = Sending(owner, picture("JPEG", width_px=1200, height_px=900, quality=95))
    statuses: list[int] = []

    def overtake(read_b: int) -> None:
        if read_b > 0 and not statuses:
            statuses.append(big.go_on(0, 10).status)
            statuses.append(big.go_on(read_b, 10).status)

    big.begin()
    statuses.append(send(app, big, 0, len(big.content), Arriving(big.content, overtake)))
    assert statuses == [409, 204, 409]
    assert big.all().status == 204
    assert whole(owner, big.content) == big.content


def test_one_who_was_overtaken_to_the_end_learns_that_nothing_is_left_to_do(
    app: Flask, owner: Phone
) -> None:
    big = Sending(owner, picture("JPEG", width_px=1200, height_px=900, quality=95))

    def finish(read_b: int) -> None:
        if read_b > 0 and whole(owner, big.content) is None:
            assert big.go_on(read_b, 10**6).status == 204

    big.begin()
    assert send(app, big, 0, len(big.content), Arriving(big.content, finish)) == 404
    assert offset(big.begin()) == len(big.content)


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
