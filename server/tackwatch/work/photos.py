"""Photos: taking in their bytes and giving them out.

Rules
-----
- A photo is named by the SHA-256 of its bytes; sending it twice is no harm, and what was cut short never fits its name.
- The type is read from the bytes, not from what the sender says; only JPEG, PNG and WebP are taken.
- The file is written and made to last before the row that says it is there.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from tackwatch.store import photos as kept
from tackwatch.work.caller import Caller
from tackwatch.work.errors import InvalidError, NotFoundError
from tackwatch.work.ports import Ports

MOST_BYTES = 4 * 1024 * 1024
MEDIA_TYPES = ("image/jpeg", "image/png", "image/webp")
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo's file and type."""

    place: Path
    media_type: str


def take_in(caller: Caller, sha256: str, content: bytes, data_dir: Path, ports: Ports) -> bool:
    """Keep a photo's bytes; true when they are new here.

    Raises
    ------
    InvalidError
        When the bytes are no photo or do not fit the hash.
    """
    _check_name(sha256)
    media_type = sniffed(content)
    if media_type is None:
        raise InvalidError("not-a-photo", "A JPEG, PNG or WebP picture is needed.", "body")
    if hashlib.sha256(content).hexdigest() != sha256:
        raise InvalidError("hash-differs", "The bytes do not fit this hash.", "sha256")
    if kept.get(caller.refit_id, sha256) is not None:
        return False
    kept.keep(kept.path(data_dir, caller.refit_id, sha256), content)
    kept.add(caller.refit_id, sha256, media_type, len(content), ports.clock.now())
    return True


def give_out(caller: Caller, sha256: str, data_dir: Path) -> Photo:
    """Give a photo of the caller's refit.

    Raises
    ------
    NotFoundError
        When its bytes have not arrived.
    """
    _check_name(sha256)
    row = kept.get(caller.refit_id, sha256)
    place = kept.path(data_dir, caller.refit_id, sha256)
    if row is None or not place.is_file():
        raise NotFoundError("unknown-photo", "This photo has not arrived yet.")
    return Photo(place, row.media_type)


def sniffed(content: bytes) -> str | None:
    """Give the type of a picture by its first bytes, ``None`` when it is none of those taken."""
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return None


def _check_name(sha256: str) -> None:
    if not _SHA256.fullmatch(sha256):
        raise InvalidError("value-not-valid", "A SHA-256 in hex is needed here.", "sha256")
