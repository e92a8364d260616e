"""Photos: taking in their bytes and giving them out, whole and small.

Rules
-----
- A photo is named by the SHA-256 of its bytes; sending it twice is no harm, and what was cut short never fits its name.
- What it is, is read from the bytes (``work.pictures``), not from what the sender says.
- The file is written and made to last before the row that says it is there.
- A refit has room for so many photos and so many bytes; those on their way count.
- Thumbnails are drawn when they are first asked for, and can be drawn again: they are in no backup.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from tackwatch.settings import Settings
from tackwatch.store import photo_uploads, refits
from tackwatch.store import photos as kept
from tackwatch.store.db import writing
from tackwatch.work.caller import Caller
from tackwatch.work.errors import InvalidError, NotFoundError, WorkError
from tackwatch.work.pictures import THUMBNAIL_PX, THUMBNAIL_TYPE, drawn_small, look_into
from tackwatch.work.ports import Ports

MOST_BYTES = 20_000_000  # as in the catalogue's ``size_b``
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo's file and type; ``tag`` changes with the bytes."""

    place: Path
    media_type: str
    tag: str


class NoRoomError(WorkError):
    """It is larger than what may be kept here."""

    status = 413


def take_in(
    caller: Caller,
    sha256: str,
    content: bytes,
    settings: Settings,
    ports: Ports,
    *,
    keep_metadata: bool = False,
) -> bool:
    """Keep a photo's bytes; true when they are new here.

    Raises
    ------
    InvalidError
        When the bytes are no photo, hold more than the picture, or do not fit the hash.
    NoRoomError
        When the refit has no room for it.
    """
    check_name(sha256)
    media_type = admitted(content, sha256, keep_metadata=keep_metadata)
    if is_here(caller.refit_id, sha256, settings.data_dir):
        return False
    with writing():
        refits.lock(caller.refit_id)
        check_room(caller, sha256, len(content), settings)
    kept.keep(kept.path(settings.data_dir, caller.refit_id, sha256), content)
    with writing():
        kept.add(caller.refit_id, sha256, media_type, len(content), ports.clock.now())
    return True


def give_out(caller: Caller, sha256: str, data_dir: Path) -> Photo:
    """Give a photo of the caller's refit.

    Raises
    ------
    NotFoundError
        When its bytes have not arrived.
    """
    check_name(sha256)
    row = kept.get(caller.refit_id, sha256)
    place = kept.path(data_dir, caller.refit_id, sha256)
    if row is None or not place.is_file():
        raise NotFoundError("unknown-photo", "This photo has not arrived yet.")
    return Photo(place, row.media_type, sha256)


def give_out_small(caller: Caller, sha256: str, data_dir: Path) -> Photo:
    """Give a photo's thumbnail; it is drawn when it is not there yet.

    Raises
    ------
    NotFoundError
        When the photo's bytes have not arrived.
    """
    photo = give_out(caller, sha256, data_dir)
    place = kept.thumbnail_path(data_dir, caller.refit_id, sha256, THUMBNAIL_PX)
    if not place.is_file():
        kept.keep(place, drawn_small(photo.place))
    return Photo(place, THUMBNAIL_TYPE, f"{sha256}-{THUMBNAIL_PX}")


def admitted(content: bytes, sha256: str, *, keep_metadata: bool) -> str:
    """Check bytes in every way and give their media type.

    Raises
    ------
    InvalidError
        When they are no photo, hold more than the picture, or do not fit the hash.
    """
    if hashlib.sha256(content).hexdigest() != sha256:
        raise InvalidError("hash-differs", "The bytes do not fit this hash.", "sha256")
    return look_into(content, keep_metadata=keep_metadata)


def is_here(refit_id: str, sha256: str, data_dir: Path) -> bool:
    """Say whether a photo's bytes have arrived, row and file."""
    row = kept.get(refit_id, sha256)
    return row is not None and kept.path(data_dir, refit_id, sha256).is_file()


def check_room(caller: Caller, sha256: str, size_b: int, settings: Settings) -> None:
    """Check that a refit has room for one more photo; the caller holds the refit's lock.

    Raises
    ------
    NoRoomError
        When it has not; nothing is let go to make room.
    """
    count, taken_b = photo_uploads.room_taken(caller.refit_id, caller.device_id, sha256)
    if count >= settings.photos_per_refit:
        raise NoRoomError(
            "photos-full", f"This refit has {count} photos, and room for no more.", "upload-length"
        )
    if taken_b + size_b > settings.photo_mb_per_refit * 1_000_000:
        raise NoRoomError(
            "photos-full",
            f"This refit's photos take {taken_b / 1e6:.0f} MB of {settings.photo_mb_per_refit} MB.",
            "upload-length",
        )


def check_name(sha256: str) -> None:
    """Check that a name is a hash, before it becomes a part of a path.

    Raises
    ------
    InvalidError
        When it is not.
    """
    if not _SHA256.fullmatch(sha256):
        raise InvalidError("value-not-valid", "A SHA-256 in hex is needed here.", "sha256")
