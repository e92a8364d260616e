"""Migrations: an empty database comes to the schema of the models, however many processes start at once."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from flask import Flask
from sqlalchemy import inspect, text

from tackwatch.app import build, create_app
from tackwatch.settings import Settings
from tackwatch.store import schema
from tackwatch.store.db import Base, db
from tackwatch.work.ports import system_ports
from tests.support.phone import new_id
from tests.support.postgres import Cluster


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The URL of a database with nothing in it."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    cluster: Cluster = request.getfixturevalue("cluster")
    return cluster.create(f"empty_{new_id()}")


@pytest.fixture
def bare(empty_url: str, tmp_path: Path) -> Iterator[Flask]:
    """An application on an empty database whose schema was not brought up."""
    app = build(Settings(data_dir=tmp_path, database_url=empty_url), system_ports())
    with app.app_context():
        yield app
        db.session.remove()
        db.engine.dispose()


def test_an_empty_database_comes_to_the_schema_of_the_models_alembic(bare: Flask) -> None:
    """Source: Alembic's own comparison of a database with models."""
    assert schema.present() is None
    assert schema.bring_up() == schema.newest()
    assert schema.present() == schema.newest()
    with db.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_the_migrations_give_the_same_columns_and_indexes_as_the_models(bare: Flask) -> None:
    schema.bring_up()
    migrated = _shape()
    Base.metadata.drop_all(db.engine)
    Base.metadata.create_all(db.engine)
    assert migrated == _shape()


def test_bringing_up_twice_changes_nothing(bare: Flask) -> None:
    schema.bring_up()
    before = _shape()
    schema.bring_up()
    assert _shape() == before


def test_a_migration_that_fails_leaves_nothing_behind(
    bare: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    upgrade = command.upgrade

    def fail(config: Config, revision: str) -> None:
        upgrade(config, revision)
        raise RuntimeError("the machine fails")

    with monkeypatch.context() as broken:
        broken.setattr(command, "upgrade", fail)
        with pytest.raises(RuntimeError, match="the machine fails"):
            schema.bring_up()
    assert _shape() == {}
    assert schema.bring_up() == schema.newest()


def test_a_database_from_a_later_version_is_refused(bare: Flask) -> None:
    schema.bring_up()
    with db.engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(schema.SchemaError, match="revision"):
        schema.bring_up()


def test_references_are_watched_again_afterwards(bare: Flask) -> None:
    schema.bring_up()
    if db.engine.dialect.name == "sqlite":
        with db.engine.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1


def test_one_at_a_time_brings_the_schema_up(bare: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    upgrade, lock = command.upgrade, threading.Lock()

    def alone(config: Config, revision: str) -> None:
        assert lock.acquire(blocking=False), "two at a time"
        time.sleep(0.1)
        upgrade(config, revision)
        lock.release()

    monkeypatch.setattr(command, "upgrade", alone)
    gate = threading.Barrier(3)

    def start(_: int) -> str:
        with bare.app_context():
            gate.wait()
            return schema.bring_up()

    with ThreadPoolExecutor(3) as pool:
        assert set(pool.map(start, range(3))) == {schema.newest()}


def test_processes_that_start_at_once_bring_the_schema_up_once(
    empty_url: str, tmp_path: Path
) -> None:
    environment = {
        "PATH": os.environ["PATH"],
        "TACKWATCH_DATA_DIR": str(tmp_path),
        "TACKWATCH_DATABASE_URL": empty_url,
    }
    started = [
        subprocess.Popen(
            [sys.executable, "-W", "error", "-m", "tackwatch.cli", "migrate"],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        for _ in range(2)
    ]
    said = [process.communicate(timeout=60)[0] for process in started]
    assert [process.returncode for process in started] == [0] * 2, said
    assert set(said) == {f"The database is at revision {schema.newest()}.\n"}
    app = create_app(Settings(data_dir=tmp_path, database_url=empty_url))
    with app.app_context():
        assert set(_shape()) == {table.name for table in Base.metadata.sorted_tables}
        db.session.remove()
        db.engine.dispose()


def test_the_migrations_travel_in_the_package() -> None:
    """Everything that Alembic reads lies beside the code, where the wheel takes it from."""
    package = Path(schema.__file__).parents[1]
    assert schema.MIGRATIONS.is_relative_to(package)
    for name in ("env.py", "script.py.mako", "alembic.ini", "versions/0001_tables.py"):
        assert (schema.MIGRATIONS / name).is_file()


def test_a_new_migration_can_be_written_and_finds_nothing_to_do(
    tmp_path: Path, empty_url: str
) -> None:
    copy = tmp_path / "migrations"
    shutil.copytree(schema.MIGRATIONS, copy)
    done = subprocess.run(
        [sys.executable, "-m", "flask", "--app", "tackwatch.app", "db", "check", "-d", str(copy)],
        env={
            "PATH": os.environ["PATH"],
            "TACKWATCH_DATA_DIR": str(tmp_path),
            "TACKWATCH_DATABASE_URL": empty_url,
        },
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert "No new upgrade operations detected" in done.stdout


def _shape() -> dict[str, object]:
    """Give tables with columns, keys and indexes as the database itself tells them."""
    found = inspect(db.engine)
    return {
        table: (
            sorted((c["name"], str(c["type"]), c["nullable"]) for c in found.get_columns(table)),
            found.get_pk_constraint(table)["constrained_columns"],
            sorted(
                (tuple(k["constrained_columns"]), k["referred_table"])
                for k in found.get_foreign_keys(table)
            ),
            sorted((i["name"] or "", tuple(i["column_names"])) for i in found.get_indexes(table)),
            sorted(tuple(u["column_names"]) for u in found.get_unique_constraints(table)),
        )
        for table in found.get_table_names()
        if table != "alembic_version"
    }
