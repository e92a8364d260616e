"""Photos: the rows in the database, and the bytes in files that are named by their hash."""

from __future__ import annotations

import os
import tempfile
from datetime import datetime
from pathlib import Path

from sqlalchemy.dialects import postgresql, sqlite

from tackwatch.store.db import db
from tackwatch.store.models import PhotoFile


def get(refit_id: str, sha256: str) -> PhotoFile | None:
    """Give the row of a photo whose bytes have arrived."""
    return db.session.get(PhotoFile, (refit_id, sha256), populate_existing=True)


def add(refit_id: str, sha256: str, media_type: str, size_b: int, now: datetime) -> None:
    """Add the row of a photo, inside ``writing()``; no harm when the row is there already."""
    insert = postgresql.insert if db.engine.dialect.name == "postgresql" else sqlite.insert
    values = {
        "refit_id": refit_id,
        "sha256": sha256,
        "media_type": media_type,
        "size_b": size_b,
        "created_at": now,
    }
    db.session.execute(insert(PhotoFile).values(values).on_conflict_do_nothing())


def path(data_dir: Path, refit_id: str, sha256: str) -> Path:
    """Give the place of a photo's bytes."""
    return data_dir / "photos" / refit_id / sha256[:2] / sha256


def thumbnail_path(data_dir: Path, refit_id: str, sha256: str, side_px: int) -> Path:
    """Give the place of a photo's thumbnail, apart from the photos: it can be drawn again."""
    return data_dir / "thumbnails" / refit_id / sha256[:2] / f"{sha256}-{side_px}.webp"


def keep(place: Path, content: bytes) -> None:
    """Write bytes so that the file is either whole or not there, even when the machine loses power."""
    place.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=".part-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(place)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    _settle(place.parent)


def _settle(folder: Path) -> None:
    """Make a folder's entries last."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
