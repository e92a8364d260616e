"""Which addresses the server posts to."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tackwatch.settings import Settings
from tackwatch.work.push_hosts import origin, push_host_allowed

SETTINGS = Settings(
    Path(), "", push_hosts=("push.example", "*.notify.example", "Mixed.Example")
)  # names under .example are reserved (RFC 2606)


@pytest.mark.parametrize(
    "endpoint",
    [
        "https://push.example/send/abc-_:~%20",
        "https://push.example:443/send",
        "https://PUSH.example/send",
        "https://mixed.example/send",
        "https://a.notify.example/x?y=z",
        "https://a.b.notify.example/x",
    ],
)
def test_a_listed_push_service_is_allowed(endpoint: str) -> None:
    assert push_host_allowed(endpoint, SETTINGS)


@pytest.mark.parametrize(
    "endpoint",
    [
        "",
        "push.example",
        "http://push.example/send",
        "ftp://push.example/send",
        "https://push.example",
        "https://push.example:8443/send",
        "https://push.example:99999/send",
        "https://other.example/send",
        "https://push.example.other.example/send",
        "https://evilpush.example/send",
        "https://notify.example/x",
        "https://.notify.example/x",
        "https://xnotify.example/x",
        "https://push.example./send",
        "https://user@push.example/send",
        "https://push.example@other.example/send",
        "https://other.example\\@push.example/send",
        "https://other.example#@push.example/send",
        "https://push.example/send#x",
        "https://push.example/se nd",
        "https://push.example/send\n",
        "https://push。example/send",
        "https://127.0.0.1/send",
        "http://127.0.0.1:8080/send",
        "https://localhost/send",
        "https://[::1]/send",
        "https://169.254.169.254/latest",
        "https://2130706433/send",
        "https://push.example/" + "a" * 2000,
    ],
)
def test_everything_else_is_not(endpoint: str) -> None:
    assert not push_host_allowed(endpoint, SETTINGS)


def test_loopback_is_allowed_only_where_it_is_named() -> None:
    named = replace(SETTINGS, push_hosts=("127.0.0.1",))
    assert push_host_allowed("http://127.0.0.1:8080/send", named)
    assert not push_host_allowed("http://localhost:8080/send", named)
    assert not push_host_allowed("http://10.0.0.1/send", replace(named, push_hosts=("10.0.0.1",)))


def test_the_usual_push_services_are_allowed_by_default_with_invented_paths() -> None:
    usual = Settings(Path(), "")
    for host in ("fcm.googleapis.com", "updates.push.services.mozilla.com", "web.push.apple.com"):
        assert push_host_allowed(f"https://{host}/a/b", usual)


def test_an_origin_has_no_path_rfc8292_2() -> None:
    assert origin("https://push.example/send/a?b") == "https://push.example"
    assert origin("http://127.0.0.1:8080/x") == "http://127.0.0.1:8080"
