"""The key pair that signs pushes."""

from __future__ import annotations

import threading

from flask import Flask

from tackwatch.work import vapid
from tests.support.push_receiver import unb64


def test_the_key_is_made_once_and_kept(app: Flask) -> None:
    with app.app_context():
        first = vapid.public_key()
    with app.app_context():
        assert vapid.public_key() == first
        assert vapid.public_of(vapid.private_key_pem()) == first


def test_the_public_key_is_an_uncompressed_point_rfc8292_3_2(app: Flask) -> None:
    with app.app_context():
        point = unb64(vapid.public_key())
    assert (len(point), point[0]) == (65, 4)


def test_two_servers_have_two_keys() -> None:
    assert vapid.public_of(vapid.new_key_pem()) != vapid.public_of(vapid.new_key_pem())


def test_four_processes_that_start_at_once_agree_on_one_key(app: Flask) -> None:
    start = threading.Barrier(4)
    found: list[str] = []

    def first_run() -> None:
        with app.app_context():
            start.wait()
            found.append(vapid.public_key())

    threads = [threading.Thread(target=first_run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 4
    assert len(set(found)) == 1
