"""What is in a picture's file beside the picture: where and when it was taken, with what, by whom.

A file may hold only what is needed to draw the picture; everything else counts as metadata, whether it is known here or
not. So a part that some camera invents next year is found too, and so are bytes after the picture's end, in which
phones keep a short film with its place.

Source
------
JPEG: ITU-T T.81, Annex B (markers, segments, entropy-coded data); JFIF: ITU-T T.871; colour profile in APP2: ICC.1,
Annex B. PNG: the W3C's PNG specification, section 5 and 11. WebP: RFC 9649, section 2.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_JPEG_NEEDED = frozenset(range(0xC0, 0xD0)) | {0xDA, 0xDB, 0xDC, 0xDD, 0xDE, 0xDF}
_JPEG_NEEDED_IF = {0xE0: b"JFIF\0", 0xE2: b"ICC_PROFILE\0", 0xEE: b"Adobe"}
_JPEG_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})
_JPEG_END, _JPEG_SCAN = 0xD9, 0xDA
# In a scan 0xff is followed by 0x00, by a restart marker, or by the marker that ends the scan.
_SCAN_ENDS = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")

_PNG_NEEDED = frozenset(
    b"IHDR PLTE IDAT IEND tRNS gAMA cHRM sRGB iCCP sBIT pHYs bKGD hIST cICP".split()
)
_WEBP_NEEDED = frozenset({b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP"})
_AFTER_END = "bytes after the picture's end"


def beside_the_picture(content: bytes, media_type: str) -> str | None:
    """Give the name of the first part that is not needed to draw a picture; ``None`` when there is none."""
    walk = {"image/jpeg": _in_jpeg, "image/png": _in_png, "image/webp": _in_webp}[media_type]
    return next(walk(content), None)


def _in_jpeg(content: bytes) -> Iterator[str]:
    at = 2
    while at + 1 < len(content):
        if content[at] != 0xFF:
            yield "bytes between the segments"
            return
        marker = content[at + 1]
        if marker == _JPEG_END:
            if at + 2 < len(content):
                yield _AFTER_END
            return
        if marker == 0xFF:  # a fill byte
            at += 1
        elif marker in _JPEG_ALONE:
            at += 2
        else:
            end = at + 2 + int.from_bytes(content[at + 2 : at + 4])
            if not _needed(marker, content[at + 4 : end]):
                yield _jpeg_name(marker)
            at = _end_of_scan(content, end) if marker == _JPEG_SCAN else max(end, at + 4)


def _needed(marker: int, body: bytes) -> bool:
    start = _JPEG_NEEDED_IF.get(marker)
    return marker in _JPEG_NEEDED or (start is not None and body.startswith(start))


def _jpeg_name(marker: int) -> str:
    return f"APP{marker - 0xE0}" if 0xE0 <= marker <= 0xEF else f"segment {marker:02x}"


def _end_of_scan(content: bytes, at: int) -> int:
    found = _SCAN_ENDS.search(content, at)
    return found.start() if found else len(content)


def _in_png(content: bytes) -> Iterator[str]:
    at = 8
    while at < len(content):
        name = content[at + 4 : at + 8]
        if name not in _PNG_NEEDED:
            yield name.decode("latin-1")
        at += 12 + int.from_bytes(content[at : at + 4])
        if name == b"IEND":
            break
    if at < len(content):
        yield _AFTER_END


def _in_webp(content: bytes) -> Iterator[str]:
    end = 8 + int.from_bytes(content[4:8], "little")
    at = 12
    while at < min(end, len(content)):
        name = content[at : at + 4]
        if name not in _WEBP_NEEDED:
            yield name.decode("latin-1").strip()
        size_b = int.from_bytes(content[at + 4 : at + 8], "little")
        at += 8 + size_b + size_b % 2
    if end < len(content):
        yield _AFTER_END
