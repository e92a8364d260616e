"""The keyring: a secret is made once, whoever comes first."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

from flask import Flask

from tackwatch.store import keyring
from tackwatch.store.db import db


def test_a_secret_that_was_never_made_is_not_there(app: Flask) -> None:
    with app.app_context():
        assert keyring.get("nothing") is None
        db.session.remove()


def test_of_many_who_make_a_secret_at_once_all_get_the_same(app: Flask) -> None:
    gate = threading.Barrier(6)

    def make(number: int) -> str:
        with app.app_context():
            gate.wait()
            kept = keyring.put_if_absent("secret", f"value {number}")
            assert keyring.get("secret") == kept
            return kept

    with ThreadPoolExecutor(6) as pool:
        assert len(set(pool.map(make, range(6)))) == 1
