"""Pictures: made for a camera that there is none of, and read off a screen."""

from __future__ import annotations

import struct
import zlib

import numpy as np
import zxingcpp
from playwright.sync_api import Locator

_PIXELS = """image => {
  const canvas = document.createElement("canvas");
  const side = 400;
  canvas.width = side;
  canvas.height = side;
  const pen = canvas.getContext("2d");
  pen.fillStyle = "white";
  pen.fillRect(0, 0, side, side);
  pen.imageSmoothingEnabled = false;
  pen.drawImage(image, 0, 0, side, side);
  const { data } = pen.getImageData(0, 0, side, side);
  return Array.from({ length: side * side }, (_, place) => data[place * 4] < 128 ? "1" : "0").join("");
}"""


def png(width_px: int, height_px: int, red: int) -> bytes:
    """Give a picture of one colour (PNG, ISO/IEC 15948)."""
    rows = (b"\0" + bytes((red, 90, 60)) * width_px) * height_px
    header = struct.pack(">IIBBBBB", width_px, height_px, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(rows)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(name, content) for name, content in parts)


def noise(side_px: int, seed: int) -> bytes:
    """Give a picture of which nothing can be left out, so that it stays large when it is packed (PNG)."""
    chance = np.random.default_rng(seed)
    rows = b"".join(b"\0" + chance.bytes(side_px * 3) for _ in range(side_px))
    header = struct.pack(">IIBBBBB", side_px, side_px, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", header), (b"IDAT", zlib.compress(rows, 0)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(name, content) for name, content in parts)


def read_code(image: Locator) -> str:
    """Read the code that an image on the screen shows, with a reader that knows nothing of who drew it."""
    dark = np.frombuffer(image.evaluate(_PIXELS).encode(), dtype=np.uint8) == ord("1")
    (found,) = zxingcpp.read_barcodes(np.where(dark, 0, 255).astype(np.uint8).reshape(400, 400))
    return str(found.text)


def _chunk(name: bytes, content: bytes) -> bytes:
    checksum = zlib.crc32(name + content)
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", checksum)
