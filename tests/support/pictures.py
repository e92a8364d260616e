"""Pictures for tests, made by Pillow: with and without what a camera writes beside them. All of it is invented."""

from __future__ import annotations

import hashlib
import io
import random
from typing import Any

from PIL import ExifTags, Image, PngImagePlugin

PLACE = {
    ExifTags.GPS.GPSLatitudeRef: "N",
    ExifTags.GPS.GPSLatitude: (38.0, 42.0, 30.0),
    ExifTags.GPS.GPSLongitudeRef: "W",
    ExifTags.GPS.GPSLongitude: (9.0, 8.0, 15.0),
}


def picture(
    form: str = "JPEG", *, width_px: int = 64, height_px: int = 48, seed: int = 1, **options: Any
) -> bytes:
    """Give a picture of coarse noise, so that its size grows with its sides."""
    chance = random.Random(seed)
    coarse = Image.frombytes(
        "RGB",
        (width_px // 4, height_px // 4),
        chance.randbytes(3 * (width_px // 4) * (height_px // 4)),
    )
    return _saved(coarse.resize((width_px, height_px)), form, **options)


def with_place(form: str = "JPEG", *, orientation: int = 1, **options: Any) -> bytes:
    """Give a picture that says where, when and with what it was taken (Exif 2.32)."""
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "Invented"
    exif[ExifTags.Base.DateTime] = "2026:03:02 08:00:00"
    exif[ExifTags.Base.Orientation] = orientation
    exif.get_ifd(ExifTags.IFD.GPSInfo).update(PLACE)
    return picture(form, exif=exif, **options)


def with_text(words: str) -> bytes:
    """Give a PNG with a text beside the picture."""
    info = PngImagePlugin.PngInfo()
    info.add_text("Comment", words)
    return picture("PNG", pnginfo=info)


def opened(content: bytes) -> Image.Image:
    """Read a picture."""
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


def place_in(content: bytes) -> dict[int, Any]:
    """Give what a picture says of the place where it was taken, as Pillow reads it."""
    return dict(opened(content).getexif().get_ifd(ExifTags.IFD.GPSInfo))


def name_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _saved(image: Image.Image, form: str, **options: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()
