"""Rows of photos that are on their way, and the room that a refit's photos take.

The caller holds the refit's lock wherever a row is added.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import delete, func, select, tuple_

from tackwatch.store.db import db
from tackwatch.store.models import Device, PhotoFile, PhotoUpload


def get(device_id: str, sha256: str) -> PhotoUpload | None:
    """Give what a device has begun, as it is now."""
    return db.session.get(PhotoUpload, (device_id, sha256), populate_existing=True)


def put(upload: PhotoUpload) -> None:
    """Add a row, or put it in the place of the one that the device began before."""
    db.session.merge(upload)
    db.session.flush()


def drop(device_id: str, sha256: str) -> None:
    """Delete a row, if there is one."""
    mine = (PhotoUpload.device_id == device_id, PhotoUpload.sha256 == sha256)
    db.session.execute(delete(PhotoUpload).where(*mine))


def room_taken(refit_id: str, device_id: str, sha256: str) -> tuple[int, int]:
    """Give how many photos of a refit are here or on their way, and their bytes; one upload is left out."""
    other = tuple_(PhotoUpload.device_id, PhotoUpload.sha256) != (device_id, sha256)
    here = _count(PhotoFile, PhotoFile.refit_id == refit_id)
    coming = _count(PhotoUpload, PhotoUpload.refit_id == refit_id, other)
    return here[0] + coming[0], here[1] + coming[1]


def expired(now: datetime, most: int) -> list[PhotoUpload]:
    """Give uploads that nobody went on with in time, the oldest first."""
    query = select(PhotoUpload).where(PhotoUpload.expires_at <= now)
    return list(db.session.scalars(query.order_by(PhotoUpload.expires_at).limit(most)))


def begun(refit_id: str) -> set[tuple[str, str]]:
    """Give device and hash of each upload of a refit."""
    query = select(PhotoUpload.device_id, PhotoUpload.sha256)
    rows = db.session.execute(query.where(PhotoUpload.refit_id == refit_id))
    return {(device_id, sha256) for device_id, sha256 in rows}


def is_withdrawn(device_id: str) -> bool:
    """Say whether a device's key is withdrawn by now."""
    query = select(Device.revoked_at).where(Device.id == device_id)
    return db.session.scalar(query) is not None


def let_go() -> None:
    """Give the connection back, for a time in which the database is not needed."""
    db.session.remove()


def _count(model: Any, *where: Any) -> tuple[int, int]:
    query = select(func.count(), func.coalesce(func.sum(model.size_b), 0)).select_from(model)
    count, size_b = db.session.execute(query.where(*where)).one()
    return int(count), int(size_b)
