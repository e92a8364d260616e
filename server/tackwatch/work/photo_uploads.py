"""Photos that arrive in pieces, however often the signal breaks.

Rules
-----
- An upload belongs to one device and one photo; to begin it again is to find it as far as it came. Two devices that
  send the same photo have an upload each, so neither can spoil the other's.
- Each piece is written before the next one is waited for: a connection that dies loses the piece under way, no more.
- Of two requests that go on at the same place, the first to write goes on and the other learns that it is late.
- With its last byte a photo is checked, kept, and known; what does not pass is thrown away and begun anew. The part
  stays until the photo's row is there, so that a server that dies between finishes when it is asked next.
- What nobody goes on with for ``LIFETIME`` is swept when somebody begins another upload.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from tackwatch.settings import Settings
from tackwatch.store import parts, photo_uploads, refits
from tackwatch.store import photos as kept
from tackwatch.store.db import writing
from tackwatch.store.models import PhotoUpload
from tackwatch.work.caller import Caller
from tackwatch.work.errors import (
    ConflictError,
    GoneError,
    InvalidError,
    NotFoundError,
    NotSignedInError,
)
from tackwatch.work.photos import MOST_BYTES, NoRoomError, admitted, check_name, check_room, is_here
from tackwatch.work.ports import Ports

LIFETIME = timedelta(days=7)
_SWEPT_AT_ONCE = 20


@dataclass(frozen=True, slots=True)
class Standing:
    """How far an upload has come; ``expires_at`` is ``None`` when all of it is here."""

    sha256: str
    at_b: int
    size_b: int
    expires_at: datetime | None


@dataclass(frozen=True, slots=True)
class Yard:
    """Where photos are kept, and the world."""

    settings: Settings
    ports: Ports

    def part(self, caller: Caller, sha256: str) -> Path:
        """Give the place of what a device has sent of a photo."""
        return parts.path(self.settings.data_dir, caller.refit_id, caller.device_id, sha256)

    def whole(self, caller: Caller, sha256: str) -> Path:
        """Give the place of a photo."""
        return kept.path(self.settings.data_dir, caller.refit_id, sha256)


def begin(
    caller: Caller, sha256: str, size_b: int, yard: Yard, *, keep_metadata: bool = False
) -> Standing:
    """Begin to send a photo, or find out how far it came.

    Raises
    ------
    InvalidError
        When the name is no hash.
    NoRoomError
        When the photo is too large, or the refit has no room for it.
    """
    check_name(sha256)
    if not 0 < size_b <= MOST_BYTES:
        raise NoRoomError("too-large", f"A photo has 1 to {MOST_BYTES} bytes.", "upload-length")
    sweep(caller.refit_id, yard)
    here = _here(caller, sha256, yard)
    if here is not None:
        return here
    if _put_row(caller, sha256, size_b, yard, keep_metadata=keep_metadata):
        parts.begin(yard.part(caller, sha256))
    return standing(caller, sha256, yard)


def standing(caller: Caller, sha256: str, yard: Yard) -> Standing:
    """Say how far an upload has come; what is complete but was not finished is finished.

    Raises
    ------
    NotFoundError, GoneError
        When the device has not begun it, or so long ago that it was given up.
    InvalidError
        When all of it is here and it is no photo.
    """
    check_name(sha256)
    here = _here(caller, sha256, yard)
    if here is not None:
        return here
    try:
        return _under_way(caller, sha256, yard)
    except NotFoundError:
        photo_uploads.let_go()  # what was read first is old by now: another may have finished it meanwhile
        here = _here(caller, sha256, yard)
        if here is None:
            raise
        return here


def receive(
    caller: Caller, sha256: str, at_b: int, pieces: Iterable[bytes], yard: Yard
) -> Standing:
    """Go on with an upload at ``at_b``; every piece that came is kept, however the pieces end.

    Raises
    ------
    ConflictError
        When the upload goes on elsewhere, or somebody else was quicker.
    NoRoomError
        When more comes than was announced.
    InvalidError
        When with the last byte it turns out to be no photo, or another one.
    """
    now = standing(caller, sha256, yard)
    if at_b != now.at_b:
        raise _elsewhere(now.at_b)
    photo_uploads.let_go()  # the pieces may take minutes
    try:
        at_b = _write(yard.part(caller, sha256), at_b, now.size_b, pieces)
    except parts.PartGoneError:
        raise _unknown() from None
    if at_b < now.size_b:
        return Standing(sha256, at_b, now.size_b, now.expires_at)
    return standing(caller, sha256, yard)


def sweep(refit_id: str, yard: Yard) -> None:
    """Take away what nobody went on with, and part files of the refit that no row knows."""
    data_dir = yard.settings.data_dir
    names = parts.names(data_dir, refit_id)  # before the rows: a row is there before its file
    begun = photo_uploads.begun(refit_id)
    for device_id, sha256 in names:
        if (device_id, sha256) not in begun:
            parts.path(data_dir, refit_id, device_id, sha256).unlink(missing_ok=True)
    old = photo_uploads.expired(yard.ports.clock.now(), _SWEPT_AT_ONCE)
    for upload in [(one.refit_id, one.device_id, one.sha256) for one in old]:
        parts.path(data_dir, *upload).unlink(missing_ok=True)
        with writing():
            photo_uploads.drop(*upload[1:])


def _put_row(caller: Caller, sha256: str, size_b: int, yard: Yard, *, keep_metadata: bool) -> bool:
    """Note that a device sends a photo; false when the photo is here by now."""
    with writing():
        refits.lock(caller.refit_id)
        if is_here(caller.refit_id, sha256, yard.settings.data_dir):
            return False  # another was quicker
        check_room(caller, sha256, size_b, yard.settings)
        before = photo_uploads.get(caller.device_id, sha256)
        if before is not None and before.size_b != size_b:
            yard.part(caller, sha256).unlink(missing_ok=True)
        photo_uploads.put(
            PhotoUpload(
                device_id=caller.device_id,
                sha256=sha256,
                refit_id=caller.refit_id,
                size_b=size_b,
                keep_metadata=keep_metadata,
                expires_at=yard.ports.clock.now() + LIFETIME,
            )
        )
        return True


def _under_way(caller: Caller, sha256: str, yard: Yard) -> Standing:
    upload = _begun(caller, sha256, yard)
    at_b = parts.size_b(yard.part(caller, sha256))
    if at_b is None:
        raise _unknown()
    if at_b >= upload.size_b:
        return _finish(caller, upload, yard)
    return Standing(sha256, at_b, upload.size_b, upload.expires_at)


def _here(caller: Caller, sha256: str, yard: Yard) -> Standing | None:
    """Give the standing of a photo that is here, whoever sent it."""
    if not is_here(caller.refit_id, sha256, yard.settings.data_dir):
        return None
    size_b = yard.whole(caller, sha256).stat().st_size
    return Standing(sha256, size_b, size_b, None)


def _begun(caller: Caller, sha256: str, yard: Yard) -> PhotoUpload:
    upload = photo_uploads.get(caller.device_id, sha256)
    if upload is None or upload.refit_id != caller.refit_id:
        raise _unknown()
    if upload.expires_at <= yard.ports.clock.now():
        raise GoneError("upload-given-up", "This upload rested for too long. Begin it again.")
    return upload


def _write(place: Path, at_b: int, size_b: int, pieces: Iterable[bytes]) -> int:
    """Write pieces as they come, and give where they end."""
    try:
        for piece in pieces:
            if at_b + len(piece) > size_b:
                raise NoRoomError("too-large", f"{size_b} bytes were announced.", "body")
            if not parts.add(place, at_b, piece):
                raise _elsewhere(parts.size_b(place) or 0)
            at_b += len(piece)
    finally:
        parts.make_last(place)
    return at_b


def _finish(caller: Caller, upload: PhotoUpload, yard: Yard) -> Standing:
    """Check what has arrived, and keep it."""
    sha256, keep_metadata = upload.sha256, upload.keep_metadata
    place = yard.part(caller, sha256)
    try:
        with parts.held(place) as handle:
            content = _read(handle)
            try:
                media_type = admitted(content, sha256, keep_metadata=keep_metadata)
            except InvalidError:
                _forget(caller, sha256, place)
                raise
            kept.keep(yard.whole(caller, sha256), content)
            with writing():
                refits.lock(caller.refit_id)
                _check_key(caller)
                kept.add(caller.refit_id, sha256, media_type, len(content), yard.ports.clock.now())
                photo_uploads.drop(caller.device_id, sha256)
            place.unlink(missing_ok=True)
    except parts.PartGoneError:
        pass  # another request has finished it, or thrown it away
    here = _here(caller, sha256, yard)
    if here is None:
        raise _unknown()
    return here


def _forget(caller: Caller, sha256: str, place: Path) -> None:
    place.unlink(missing_ok=True)
    with writing():
        refits.lock(caller.refit_id)
        photo_uploads.drop(caller.device_id, sha256)


def _check_key(caller: Caller) -> None:
    """Check that the key was not withdrawn while the bytes came."""
    if photo_uploads.is_withdrawn(caller.device_id):
        raise NotSignedInError("key-withdrawn", "This device's key was withdrawn.")


def _read(handle: int) -> bytes:
    os.lseek(handle, 0, os.SEEK_SET)
    with os.fdopen(os.dup(handle), "rb") as file:
        return file.read()


def _unknown() -> NotFoundError:
    return NotFoundError("unknown-upload", "No such upload is under way. Begin it again.")


def _elsewhere(at_b: int) -> ConflictError:
    return ConflictError("offset-differs", f"This upload goes on at byte {at_b}.", "upload-offset")
