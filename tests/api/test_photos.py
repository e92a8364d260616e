"""Photos: bytes in and out."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from flask import Flask

from tackwatch.settings import Settings
from tackwatch.store import photos as kept
from tests.support.phone import Phone
from tests.support.tables import dump
from tests.support.wires import ClientWire
from tests.support.world import StandingClock

# The first bytes that tell the type. Sources: JPEG, ITU-T T.81 B.1.1.3 (SOI, then a marker); PNG, ISO/IEC 15948 5.2;
# WebP, RFC 9649 2.4 (RIFF header).
PICTURES = {
    "image/jpeg": b"\xff\xd8\xff\xe0" + b"jpeg" * 100,
    "image/png": b"\x89PNG\r\n\x1a\n" + b"png." * 100,
    "image/webp": b"RIFF\x24\x00\x00\x00WEBPVP8 " + b"webp" * 100,
}
MOST = 4 * 1024 * 1024


def name_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


@pytest.mark.parametrize("media_type", PICTURES)
def test_a_photo_comes_back_as_it_was_sent(owner: Phone, media_type: str) -> None:
    content = PICTURES[media_type]
    path = f"/photos/{name_of(content)}"
    assert owner.call("PUT", path, content=content).status == 201
    answer = owner.call("GET", path)
    assert (answer.status, answer.content) == (200, content)
    assert answer.headers["content-type"] == media_type
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
    assert answer.headers["content-disposition"] == "inline"
    assert "immutable" in answer.headers["cache-control"]
    assert "private" in answer.headers["cache-control"]


def test_the_type_is_read_from_the_bytes_and_not_from_the_header(owner: Phone) -> None:
    content = PICTURES["image/png"]
    path = f"/photos/{name_of(content)}"
    owner.call("PUT", path, content=content, headers={"Content-Type": "text/html"})
    assert owner.call("GET", path).headers["content-type"] == "image/png"


def test_sending_a_photo_twice_is_no_harm(app: Flask, owner: Phone) -> None:
    content = PICTURES["image/png"]
    path = f"/photos/{name_of(content)}"
    owner.call("PUT", path, content=content)
    before = dump(app)
    assert owner.call("PUT", path, content=content).status == 204
    assert dump(app) == before


def test_a_photo_that_is_known_is_not_sent_again_to_a_browser_that_has_it(owner: Phone) -> None:
    content = PICTURES["image/png"]
    path = f"/photos/{name_of(content)}"
    owner.call("PUT", path, content=content)
    tag = owner.call("GET", path).headers["etag"]
    assert owner.call("GET", path, headers={"If-None-Match": tag}).status == 304


def test_the_largest_photo_is_taken_and_one_byte_more_is_not(
    app: Flask, settings: Settings, owner: Phone
) -> None:
    content = PICTURES["image/jpeg"].ljust(MOST, b"x")
    assert owner.call("PUT", f"/photos/{name_of(content)}", content=content).status == 201
    before, files = dump(app), _files(settings)
    content += b"x"
    answer = owner.call("PUT", f"/photos/{name_of(content)}", content=content)
    assert (answer.status, answer.json["field"]) == (413, "body")
    assert (dump(app), _files(settings)) == (before, files)


def test_what_was_cut_short_never_fits_its_name(
    app: Flask, settings: Settings, owner: Phone
) -> None:
    content = PICTURES["image/jpeg"]
    before = dump(app)
    for length in range(12, len(content), 40):
        answer = owner.call("PUT", f"/photos/{name_of(content)}", content=content[:length])
        assert (answer.status, answer.json["field"]) == (422, "sha256")
    assert dump(app) == before
    assert _files(settings) == []


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"<!doctype html><script>alert(1)</script>",
        b"GIF89a" + bytes(20),
        b"RIFF\x24\x00\x00\x00WAVE",
        b"\xff\xd8",
    ],
)
def test_what_is_no_photo_is_not_taken(
    app: Flask, settings: Settings, owner: Phone, content: bytes
) -> None:
    before = dump(app)
    answer = owner.call("PUT", f"/photos/{name_of(content)}", content=content)
    assert (answer.status, answer.json["field"]) == (422, "body")
    assert dump(app) == before
    assert _files(settings) == []


@pytest.mark.parametrize("name", ["0" * 63, "0" * 65, "G" * 64, "A" * 64, "..%2F..%2Fetc", "%00"])
def test_a_name_that_is_no_hash_is_named(owner: Phone, name: str) -> None:
    for method, content in (("GET", None), ("PUT", PICTURES["image/png"])):
        answer = owner.call(method, f"/photos/{name}", content=content)
        assert answer.status in (404, 422)
        if answer.status == 422:
            assert answer.json["field"] == "sha256"


def test_a_photo_that_has_not_arrived_is_not_there(owner: Phone) -> None:
    answer = owner.call("GET", f"/photos/{'0' * 64}")
    assert (answer.status, answer.json["type"]) == (404, "urn:tackwatch:problem:unknown-photo")


def test_a_photo_is_seen_in_its_own_refit_only(
    wire: ClientWire, clock: StandingClock, owner: Phone
) -> None:
    content = PICTURES["image/png"]
    owner.call("PUT", f"/photos/{name_of(content)}", content=content)
    other = Phone.found(wire, lambda: clock.ms)
    assert other.call("GET", f"/photos/{name_of(content)}").status == 404
    assert other.call("PUT", f"/photos/{name_of(content)}", content=content).status == 201


def test_a_file_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The machine fails while the file is made to last: nothing is left under the photo's name, nor beside it."""

    def fail(_: int) -> None:
        raise OSError("no space left")

    place = tmp_path / "aa" / "name"
    monkeypatch.setattr(kept.os, "fsync", fail)
    with pytest.raises(OSError, match="no space left"):
        kept.keep(place, b"content")
    assert list(place.parent.iterdir()) == []


def test_the_row_is_not_there_before_the_file(
    app: Flask, owner: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise OSError("no space left")

    content = PICTURES["image/png"]
    before = dump(app)
    with monkeypatch.context() as broken:
        broken.setattr("tackwatch.store.photos.keep", fail)
        assert owner.call("PUT", f"/photos/{name_of(content)}", content=content).status == 500
    assert dump(app) == before
    assert owner.call("PUT", f"/photos/{name_of(content)}", content=content).status == 201


def _files(settings: Settings) -> list[Path]:
    return [one for one in (settings.data_dir / "photos").rglob("*") if one.is_file()]
