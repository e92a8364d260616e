"""Photos in pieces: the protocol.

Source of the protocol: tus 1.0.0, https://tus.io/protocols/resumable-upload.
"""

from __future__ import annotations

import pytest
from flask import Flask

from tackwatch.settings import Settings
from tests.api.uploading import PHOTO, SIZE, part_files, whole
from tests.support.phone import Phone
from tests.support.tables import dump
from tests.support.tus import BYTES, TUS, Sending, offset, problem, said
from tests.support.wires import call
from tests.support.world import StandingClock


@pytest.fixture
def sending(owner: Phone) -> Sending:
    return Sending(owner, PHOTO)


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
