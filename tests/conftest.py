"""Fixtures for all tests: an application on either database, a clock that stands, a refit with its owner's phone."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

import tests.support.psychro  # noqa: F401 - before anything imports psychrolib
from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store.db import Base, db
from tests.support.phone import Phone
from tests.support.postgres import Cluster
from tests.support.wires import ClientWire
from tests.support.world import StandingClock, ports_with

_DATABASE = "tackwatch_test"


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL cluster for the session."""
    with Cluster() as running:
        yield running


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An SQLite file with the whole schema, to be copied."""
    folder = tmp_path_factory.mktemp("template")
    url = f"sqlite:///{folder / 'tackwatch.sqlite3'}"
    _close(create_app(Settings(data_dir=folder, database_url=url, log_json=True)))
    return folder / "tackwatch.sqlite3"


@pytest.fixture(scope="session")
def postgres_url(cluster: Cluster, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A PostgreSQL database with the whole schema."""
    url = cluster.create(_DATABASE)
    _close(create_app(Settings(data_dir=tmp_path_factory.mktemp("pg"), database_url=url)))
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The URL of a database with the whole schema and no rows."""
    if request.param == "sqlite":
        shutil.copy(request.getfixturevalue("sqlite_template"), tmp_path / "tackwatch.sqlite3")
        return f"sqlite:///{tmp_path / 'tackwatch.sqlite3'}"
    url = str(request.getfixturevalue("postgres_url"))
    names = ", ".join(f'"{table.name}"' for table in Base.metadata.sorted_tables)
    request.getfixturevalue("cluster").execute(_DATABASE, f"TRUNCATE {names} RESTART IDENTITY")
    return url


@pytest.fixture
def clock() -> StandingClock:
    """The server's and the phones' clock."""
    return StandingClock()


@pytest.fixture
def settings(database_url: str, tmp_path: Path) -> Settings:
    """Settings of a server with room for many tries."""
    return Settings(
        data_dir=tmp_path,
        database_url=database_url,
        public_url="https://boat.example",
        sign_in_per_minute=1000,
    )


@pytest.fixture
def app(settings: Settings, clock: StandingClock) -> Iterator[Flask]:
    """The application, on each database in turn."""
    made = create_app(settings, ports_with(clock))
    yield made
    made.extensions["tackwatch"].hub.stop()
    _close(made)


@pytest.fixture
def wire(app: Flask) -> ClientWire:
    """A way to the application."""
    return ClientWire(app.test_client())


@pytest.fixture
def owner(wire: ClientWire, clock: StandingClock) -> Phone:
    """The owner's phone of a new refit."""
    return Phone.found(wire, lambda: clock.ms)


def _close(app: Flask) -> None:
    with app.app_context():
        db.session.remove()
        db.engine.dispose()
