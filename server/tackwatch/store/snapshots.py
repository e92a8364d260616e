"""Snapshots of refits as they are kept: pages of packed JSON, of the newest version and of the one before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import datetime

from sqlalchemy import delete, insert, select

from tackwatch.store.db import db
from tackwatch.store.models import SnapshotPage

VERSIONS_KEPT = 2


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything that lived in a refit when its counter was at ``seq``: so many rows in so many pages."""

    version: str
    pages: int
    rows: int
    seq: int
    made_at: datetime


def newest(refit_id: str) -> Snapshot | None:
    """Give the snapshot that was made last."""
    columns = [getattr(SnapshotPage, field.name) for field in fields(Snapshot)]
    query = select(*columns).where(SnapshotPage.refit_id == refit_id, SnapshotPage.number == 0)
    found = db.session.execute(query.order_by(SnapshotPage.seq.desc()).limit(1)).first()
    return None if found is None else Snapshot(*found)


def page(refit_id: str, version: str, number: int) -> bytes | None:
    """Give a page, packed with gzip; ``None`` where it is not kept (any more)."""
    return db.session.scalar(
        select(SnapshotPage.body).where(
            SnapshotPage.refit_id == refit_id,
            SnapshotPage.version == version,
            SnapshotPage.number == number,
        )
    )


def keep(refit_id: str, snapshot: Snapshot, bodies: Sequence[bytes]) -> None:
    """Keep a snapshot, under the refit's lock; the one before it stays for those who are loading it."""
    mine = SnapshotPage.refit_id == refit_id
    versions = db.session.execute(
        select(SnapshotPage.version, SnapshotPage.seq)
        .where(mine, SnapshotPage.number == 0)
        .order_by(SnapshotPage.seq.desc())
    )
    kept = [version for version, _ in versions if version != snapshot.version]
    old = [*kept[VERSIONS_KEPT - 1 :], snapshot.version]
    db.session.execute(delete(SnapshotPage).where(mine, SnapshotPage.version.in_(old)))
    head = {"refit_id": refit_id, **asdict(snapshot)}
    rows = [{**head, "number": number, "body": body} for number, body in enumerate(bodies)]
    db.session.execute(insert(SnapshotPage), rows)
