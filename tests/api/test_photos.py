"""Photos: bytes in and out."""

from __future__ import annotations

import io
import struct
import warnings
import zlib
from pathlib import Path

import pytest
from flask import Flask
from PIL import Image

from tackwatch.settings import Settings
from tackwatch.store import photos as kept
from tackwatch.work import pictures
from tests.support.phone import Phone
from tests.support.pictures import name_of, opened, picture, place_in, with_place, with_text
from tests.support.tables import dump
from tests.support.wires import ClientWire
from tests.support.world import StandingClock

# Pictures are made and read by Pillow, which knows nothing of this project.
PICTURES = {
    "image/jpeg": picture("JPEG"),
    "image/png": picture("PNG"),
    "image/webp": picture("WEBP"),
}
MOST = 4 * 1024 * 1024
KEPT = "?keep_metadata=true"


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
    assert owner.call("PUT", f"/photos/{name_of(content)}{KEPT}", content=content).status == 201
    before, files = dump(app), _files(settings)
    content += b"x"
    answer = owner.call("PUT", f"/photos/{name_of(content)}{KEPT}", content=content)
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
        b"\xff\xd8\xff\xe0" + b"jpeg" * 100,
        b"\x89PNG\r\n\x1a\n" + b"png." * 100,
        b"RIFF\x24\x00\x00\x00WEBPVP8 " + b"webp" * 100,
        PICTURES["image/jpeg"][: len(PICTURES["image/jpeg"]) // 2],
        PICTURES["image/png"][: len(PICTURES["image/png"]) // 2],
        PICTURES["image/webp"][: len(PICTURES["image/webp"]) // 2],
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
        broken.setattr(kept, "keep", fail)
        assert owner.call("PUT", f"/photos/{name_of(content)}", content=content).status == 500
    assert dump(app) == before
    assert owner.call("PUT", f"/photos/{name_of(content)}", content=content).status == 201


def _files(settings: Settings) -> list[Path]:
    return [one for one in (settings.data_dir / "photos").rglob("*") if one.is_file()]


# --- what is in the file beside the picture --------------------------------------------------------------------------

BESIDE = {
    "Exif in a JPEG": with_place("JPEG"),
    "Exif in a PNG": with_place("PNG"),
    "Exif in a WebP": with_place("WEBP"),
    "XMP in a JPEG": picture("JPEG", xmp=b"<x:xmpmeta>invented</x:xmpmeta>"),
    "XMP in a WebP": picture("WEBP", xmp=b"<x:xmpmeta>invented</x:xmpmeta>"),
    "a comment in a JPEG": picture("JPEG", comment="taken by nobody"),
    "a text in a PNG": with_text("taken by nobody"),
    "a film after a JPEG": PICTURES["image/jpeg"] + b"ftypmp42",
    "a second picture after a JPEG": PICTURES["image/jpeg"] + with_place("JPEG"),
    "bytes after a PNG": PICTURES["image/png"] + b"place",
    "bytes after a WebP": PICTURES["image/webp"] + b"place",
}


@pytest.mark.parametrize("what", BESIDE)
def test_what_is_beside_the_picture_is_refused_and_named(
    app: Flask, settings: Settings, owner: Phone, what: str
) -> None:
    content, before = BESIDE[what], dump(app)
    answer = owner.call("PUT", f"/photos/{name_of(content)}", content=content)
    assert (answer.status, answer.json["field"]) == (422, "keep_metadata")
    assert answer.json["type"] == "urn:tackwatch:problem:photo-has-metadata"
    assert (dump(app), _files(settings)) == (before, [])


@pytest.mark.parametrize("what", BESIDE)
def test_what_is_kept_on_purpose_comes_back_byte_for_byte(owner: Phone, what: str) -> None:
    content = BESIDE[what]
    path = f"/photos/{name_of(content)}"
    assert owner.call("PUT", path + KEPT, content=content).status == 201
    assert owner.call("GET", path).content == content


def test_the_place_is_in_the_photos_of_these_tests() -> None:
    assert all(place_in(BESIDE[f"Exif in a {form}"]) for form in ("JPEG", "PNG", "WebP"))


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("restarts", [0, 3])
def test_no_way_of_packing_a_jpeg_is_taken_for_metadata(
    owner: Phone, progressive: bool, restarts: int
) -> None:
    """Several scans, restart markers, stuffed bytes and a colour profile belong to the picture."""
    profile = bytes(128) + b"an invented colour profile"
    content = picture(
        "JPEG", width_px=400, height_px=300, quality=95, progressive=progressive,
        restart_marker_blocks=restarts, icc_profile=profile,
    )  # fmt: skip
    assert owner.call("PUT", f"/photos/{name_of(content)}", content=content).status == 201


@pytest.mark.parametrize("value", ["1", "yes", "", "True"])
def test_a_choice_that_is_none_is_named(owner: Phone, value: str) -> None:
    content = PICTURES["image/png"]
    path = f"/photos/{name_of(content)}?keep_metadata={value}"
    answer = owner.call("PUT", path, content=content)
    assert (answer.status, answer.json["field"]) == (422, "keep_metadata")


# --- pictures made to hurt -------------------------------------------------------------------------------------------


def test_a_picture_that_unpacks_to_too_much_is_not_unpacked(app: Flask, owner: Phone) -> None:
    """60 million pixels in some kilobytes: found by the head alone (PNG specification, 11.2.1)."""
    side = (10_000, 6_000)
    assert side[0] * side[1] > pictures.MOST_PIXELS
    head = struct.pack(">IIBBBBB", *side, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes((1 + side[0] // 8) * side[1]))
    content = b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        for name, body in ((b"IHDR", head), (b"IDAT", rows), (b"IEND", b""))
    )
    before = dump(app)
    answer = owner.call("PUT", f"/photos/{name_of(content)}", content=content)
    assert (answer.status, answer.json["type"]) == (422, "urn:tackwatch:problem:too-many-pixels")
    assert dump(app) == before


@pytest.mark.parametrize("media_type", PICTURES)
@pytest.mark.parametrize("place", range(0, 100, 9))
def test_a_picture_with_broken_bytes_is_taken_or_refused_and_never_a_fault(
    owner: Phone, media_type: str, place: int
) -> None:
    content = bytearray(PICTURES[media_type])
    at = len(content) * place // 100
    content[at : at + 8] = bytes(255 - byte for byte in content[at : at + 8])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        answer = owner.call("PUT", f"/photos/{name_of(bytes(content))}", content=bytes(content))
    assert answer.status in (201, 422)


# --- thumbnails ------------------------------------------------------------------------------------------------------


def _sent(owner: Phone, content: bytes) -> str:
    path = f"/photos/{name_of(content)}"
    assert owner.call("PUT", path + KEPT, content=content).status == 201
    return path + "/thumbnail"


def test_a_thumbnail_is_small_upright_and_without_the_place(owner: Phone) -> None:
    content = with_place("JPEG", width_px=1600, height_px=1200, orientation=6)
    answer = owner.call("GET", _sent(owner, content))
    assert (answer.status, answer.headers["content-type"]) == (200, "image/webp")
    small = opened(answer.content)
    assert small.size == (360, 480)  # turned by a right angle (Exif 2.32, 4.6.4, orientation 6)
    assert place_in(answer.content) == {}
    assert len(answer.content) < len(content) / 5


def test_a_thumbnail_shows_the_photo(owner: Phone) -> None:
    """Compared by the mean colour of each quarter."""
    quarters = Image.new("RGB", (800, 600), "white")
    for place, colour in (((0, 0), "red"), ((400, 0), "green"), ((0, 300), "blue")):
        quarters.paste(Image.new("RGB", (400, 300), colour), place)
    out = io.BytesIO()
    quarters.save(out, "PNG")
    small = opened(owner.call("GET", _sent(owner, out.getvalue())).content).convert("RGB")
    assert small.size == (480, 360)
    wanted = quarters.resize((2, 2), Image.Resampling.BOX)
    found = small.resize((2, 2), Image.Resampling.BOX)
    pairs = zip(wanted.tobytes(), found.tobytes(), strict=True)
    assert all(abs(one - other) < 12 for one, other in pairs)


def test_a_small_photo_is_not_made_larger(owner: Phone) -> None:
    answer = owner.call("GET", _sent(owner, PICTURES["image/png"]))
    assert opened(answer.content).size == (64, 48)


def test_a_thumbnail_is_kept_by_browsers_and_drawn_once(
    settings: Settings, owner: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _sent(owner, PICTURES["image/jpeg"])
    first = owner.call("GET", path)
    monkeypatch.setattr("tackwatch.work.photos.drawn_small", lambda _: pytest.fail("drawn again"))
    assert owner.call("GET", path).content == first.content
    assert first.headers["cache-control"] == "private, max-age=31536000, immutable"
    assert first.headers["x-content-type-options"] == "nosniff"
    assert first.headers["content-security-policy"] == "default-src 'none'; sandbox"
    assert owner.call("GET", path, headers={"If-None-Match": first.headers["etag"]}).status == 304
    assert len(list((settings.data_dir / "thumbnails").rglob("*.webp"))) == 1
    assert len(_files(settings)) == 1


def test_a_thumbnail_is_seen_in_its_own_refit_only(
    wire: ClientWire, clock: StandingClock, owner: Phone
) -> None:
    path = _sent(owner, PICTURES["image/png"])
    assert owner.call("GET", path).status == 200
    other = Phone.found(wire, lambda: clock.ms)
    assert other.call("GET", path).status == 404
    assert owner.call("GET", f"/photos/{'0' * 64}/thumbnail").status == 404
