"""What the tests of photos in pieces share: a picture, and a body that comes over a line."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

from flask import Flask

from tackwatch.settings import Settings
from tests.support.phone import Phone
from tests.support.pictures import name_of, picture
from tests.support.tus import BYTES, Sending

PHOTO = picture("JPEG", width_px=320, height_px=240)
SIZE = len(PHOTO)


def whole(phone: Phone, content: bytes = PHOTO) -> bytes | None:
    answer = phone.call("GET", f"/photos/{name_of(content)}")
    return answer.content if answer.status == 200 else None


def part_files(settings: Settings) -> list[Path]:
    return [one for one in (settings.data_dir / "uploads").rglob("*") if one.is_file()]


class Arriving:
    """A body that comes over a line; something happens each time that the server waits for more."""

    def __init__(self, content: bytes, meanwhile: Callable[[int], None] = lambda _: None) -> None:
        self._rest = io.BytesIO(content)
        self._meanwhile = meanwhile

    def read(self, size: int) -> bytes:
        self._meanwhile(self._rest.tell())
        return self._rest.read(size)


def send(
    app: Flask, sending: Sending, at_b: int, announced_b: int, body: Arriving, **environ: Any
) -> int:
    """Announce a piece, let the body come, and give the status; a body that is too short is a line that broke."""
    answer = app.test_client().open(
        f"/api/refits/{sending.phone.refit_id}{sending.path}",
        method="PATCH",
        headers={
            **BYTES,
            "Upload-Offset": str(at_b),
            "Authorization": f"Bearer {sending.phone.key}",
        },
        environ_overrides={"CONTENT_LENGTH": str(announced_b), "wsgi.input": body, **environ},
    )
    return answer.status_code
