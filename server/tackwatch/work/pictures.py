"""Looking into a picture's bytes before they are believed, and drawing it small.

Rules
-----
- The type is read from the first bytes; then the picture is decoded by that type's decoder and no other. What cannot be
  decoded to its last line is no picture.
- How many pixels it has is read from its head, before any room is taken for them; one picture is decoded at a time.
- What is in the file beside the picture is refused unless the person kept it on purpose. Nothing is taken out here: a
  photo is named by its bytes, and altered bytes would be another photo than the one that the record names.
"""

from __future__ import annotations

import io
import threading
from pathlib import Path

from PIL import Image, ImageOps

from tackwatch.work.errors import InvalidError
from tackwatch.work.picture_parts import beside_the_picture

MEDIA_TYPES = ("image/jpeg", "image/png", "image/webp")
MOST_PIXELS = 50_000_000  # common practice, no source: the largest that phones' cameras make
THUMBNAIL_TYPE = "image/webp"
THUMBNAIL_PX = 480  # two thirds of a small phone's width at double density
_QUALITY = 70
_FORMATS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}
_ROOM_FOR_ONE = threading.Lock()


def look_into(content: bytes, *, keep_metadata: bool) -> str:
    """Give a picture's media type.

    Raises
    ------
    InvalidError
        With code ``not-a-photo``, ``too-many-pixels``, or ``photo-has-metadata``, which names ``keep_metadata``.
    """
    media_type = sniffed(content)
    if media_type is None:
        raise InvalidError("not-a-photo", "A JPEG, PNG or WebP picture is needed.", "body")
    _check_decodes(content, media_type)
    part = None if keep_metadata else beside_the_picture(content, media_type)
    if part is not None:
        raise InvalidError(
            "photo-has-metadata",
            f"The file holds more than the picture ({part}): perhaps the place where it was taken. "
            "Send the picture alone, or say that this is kept on purpose.",
            "keep_metadata",
        )
    return media_type


def sniffed(content: bytes) -> str | None:
    """Give the type of a picture by its first bytes, ``None`` when it is none of those taken."""
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return None


def drawn_small(place: Path) -> bytes:
    """Draw a kept photo anew within ``THUMBNAIL_PX``, upright, without anything beside the picture."""
    with _ROOM_FOR_ONE, Image.open(place, formats=tuple(_FORMATS.values())) as image:
        image.draft("RGB", (2 * THUMBNAIL_PX, 2 * THUMBNAIL_PX))
        upright = ImageOps.exif_transpose(image)
        upright.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX))
        small = Image.new("RGB", upright.size, "white")
        opaque = upright.convert("RGBA")
        small.paste(opaque, mask=opaque)
        drawn = io.BytesIO()
        small.save(drawn, "WEBP", quality=_QUALITY)
    return drawn.getvalue()


def _check_decodes(content: bytes, media_type: str) -> None:
    try:
        with (
            _ROOM_FOR_ONE,
            Image.open(io.BytesIO(content), formats=(_FORMATS[media_type],)) as image,
        ):
            if image.width * image.height > MOST_PIXELS:
                raise InvalidError(
                    "too-many-pixels", f"A photo has at most {MOST_PIXELS} pixels.", "body"
                )
            # a JPEG is read to its end at an eighth of its size: the same faults are found, in a sixtieth of the room
            image.draft("RGB", (image.width // 8, image.height // 8))
            image.load()
    except InvalidError:
        raise
    except Exception as error:  # a decoder fails in any way on bytes that are made to hurt it
        raise InvalidError(
            "not-a-photo", "This cannot be read as the picture that it says it is.", "body"
        ) from error
