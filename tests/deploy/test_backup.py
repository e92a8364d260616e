"""Backup and restore, as the operator runs them, on a real server with a photo and on either database."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.support.phone import Phone
from tests.support.pictures import name_of, picture
from tests.support.server import Server
from tests.support.wires import HttpWire

DEPLOY = Path(__file__).parents[2] / "deploy"
PHOTO = picture("JPEG")
NAME = name_of(PHOTO)


@dataclass
class Yard:
    """A server with its data folder, and its backups beside it."""

    data: Path
    backups: Path
    database_url: str
    server: Server
    wire: HttpWire

    def run(self, script: str, *words: str | Path) -> tuple[int, str]:
        tackwatch = Path(sys.executable).parent
        done = subprocess.run(
            [str(DEPLOY / script), *map(str, words)],
            env={
                **os.environ,
                "PATH": f"{tackwatch}:{os.environ['PATH']}",
                "TACKWATCH_DATA_DIR": str(self.data),
                "TACKWATCH_DATABASE_URL": self.database_url,
            },
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
        return done.returncode, done.stdout + done.stderr

    def backup(self) -> Path:
        status, text = self.run("backup.sh", self.backups)
        assert status == 0, text
        return self.copies()[-1]

    def copies(self) -> list[Path]:
        return sorted(self.backups.glob("20*Z"))

    def photo(self) -> Path:
        return next((self.data / "photos").rglob(NAME))


@pytest.fixture
def yard(tmp_path: Path, database_url: str) -> Iterator[Yard]:
    data = tmp_path / "data"
    data.mkdir()
    if database_url.startswith("sqlite"):
        database_url = ""
    with Server(data, database_url, "--workers", "1", "--no-alarms") as server:
        wire = HttpWire(server.address)
        yield Yard(data, tmp_path / "backups", database_url, server, wire)
        wire.close()


@pytest.fixture
def owner(yard: Yard) -> Phone:
    """The owner's phone; a zone and a photo are on the server."""
    phone = Phone.found(yard.wire, lambda: time.time_ns() // 1_000_000)
    phone.create("zone", {"name": "Keel"})
    phone.sync()
    headers = {"Content-Type": "image/jpeg"}
    sent = phone.call("PUT", f"/photos/{NAME}", content=PHOTO, headers=headers)
    assert sent.status in (201, 204)
    return phone


def zones(phone: Phone) -> set[object]:
    return {one.fields["name"] for one in phone.state.items.values() if one.kind == "zone"}


def test_a_restored_server_has_what_was_copied_and_phones_bring_the_rest(
    yard: Yard, owner: Phone
) -> None:
    copy = yard.backup()
    lost = owner.create("zone", {"name": "Rudder"})
    epoch = owner.sync()["epoch"]
    yard.server.stop()
    yard.photo().unlink()

    status, text = yard.run("restore.sh", copy)
    assert status == 0, text
    yard.server.start()
    answer = owner.exchange().json
    assert answer["epoch"] != epoch
    assert answer["reset"] is True
    assert lost not in {one["id"] for one in answer["changes"]}
    assert owner.call("GET", f"/photos/{NAME}").content == PHOTO

    owner.take(answer)
    assert zones(owner) == {"Keel"}
    owner.outbox = [one for one in owner.sent if one["n"] > answer["acknowledged_n"]]
    owner.sync()
    assert zones(owner) == {"Keel", "Rudder"}


def test_a_restore_can_be_taken_back_and_repeated(yard: Yard, owner: Phone) -> None:
    copy = yard.backup()
    owner.create("zone", {"name": "Rudder"})
    owner.sync()
    yard.server.stop()
    status, text = yard.run("restore.sh", copy)
    assert status == 0, text
    (aside,) = yard.data.glob("before-restore-*")
    status, text = yard.run("restore.sh", aside)
    assert status == 0, text
    yard.server.start()
    owner.sync()
    assert zones(owner) == {"Keel", "Rudder"}


def test_nothing_is_restored_while_the_server_runs(yard: Yard, owner: Phone) -> None:
    copy = yard.backup()
    epoch = owner.sync()["epoch"]
    status, text = yard.run("restore.sh", copy)
    assert status == 1
    assert "nothing was changed" in text
    assert owner.sync()["epoch"] == epoch
    assert list(yard.data.glob("before-restore-*")) == []


def test_a_damaged_copy_is_refused(yard: Yard, owner: Phone) -> None:
    copy = yard.backup()
    (found,) = copy.iterdir()
    found.write_bytes(b"not a database" * 100)
    yard.server.stop()
    status, text = yard.run("restore.sh", copy)
    assert status == 1
    assert "not sound" in text
    yard.server.start()
    owner.sync()
    assert zones(owner) == {"Keel"}


def test_old_copies_go_and_photos_stay(yard: Yard, owner: Phone) -> None:
    for number in range(3):
        (yard.backups / f"2026-03-0{number + 1}T023000Z").mkdir(parents=True)
    status, text = yard.run("backup.sh", yard.backups, "2")
    assert status == 0, text
    assert [one.name[:10] for one in yard.copies()][:1] == ["2026-03-03"]
    assert len(yard.copies()) == 2
    assert [one.read_bytes() for one in (yard.backups / "photos").rglob(NAME)] == [PHOTO]


def test_a_photo_that_was_spoilt_in_the_backup_is_not_put_back(yard: Yard, owner: Phone) -> None:
    copy = yard.backup()
    next((yard.backups / "photos").rglob(NAME)).write_bytes(PHOTO[:-1])
    yard.server.stop()
    yard.photo().unlink()
    status, text = yard.run("restore.sh", copy)
    assert status == 0
    assert "do not fit its name" in text
    yard.server.start()
    assert owner.call("GET", f"/photos/{NAME}").status == 404


@pytest.mark.parametrize("words", [(), ("folder", "0"), ("folder", "ten")])
def test_what_the_backup_cannot_use_is_said(tmp_path: Path, words: tuple[str, ...]) -> None:
    done = subprocess.run(
        [str(DEPLOY / "backup.sh"), *words],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "usage" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_backup_of_nothing_fails_and_leaves_nothing(tmp_path: Path) -> None:
    done = subprocess.run(
        [str(DEPLOY / "backup.sh"), str(tmp_path / "backups")],
        env={**os.environ, "TACKWATCH_DATA_DIR": str(tmp_path), "TACKWATCH_DATABASE_URL": ""},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "there is no database" in done.stderr
    assert [one.name for one in (tmp_path / "backups").iterdir()] == ["photos"]
