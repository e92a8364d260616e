"""What every answer carries, how it is packed, what the log says, how tries are limited, and the client's files."""

from __future__ import annotations

import gzip
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from flask import Flask

from tackwatch.api import web
from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store.db import db
from tackwatch.work.errors import TooManyError
from tackwatch.work.throttle import Throttle
from tests.support.phone import REFIT, Phone
from tests.support.wires import ClientWire, call
from tests.support.world import BEGAN_AT, StandingClock, ports_with

# --- headers ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/", "/sw.js", "/api/health", "/api/nothing", "/nothing"])
def test_every_answer_carries_the_security_headers(wire: ClientWire, path: str) -> None:
    headers = call(wire, "GET", path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["x-frame-options"] == "DENY"
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "geolocation=()" in headers["permissions-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert "strict-transport-security" not in headers


def test_the_page_may_load_only_what_this_server_gives_it(wire: ClientWire) -> None:
    policy = call(wire, "GET", "/").headers["content-security-policy"]
    parts = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert parts["default-src"] == "'self'"
    assert parts["img-src"] == "'self' blob: data:"
    assert parts["connect-src"] == "'self'"
    assert parts["object-src"] == parts["base-uri"] == "'none'"
    assert not {"script-src", "style-src", "worker-src"} & parts.keys()  # default-src counts


def test_answers_of_the_api_are_kept_by_no_cache(owner: Phone) -> None:
    assert owner.call("GET", "/work").headers["cache-control"] == "no-store"


def test_a_large_json_answer_is_packed_for_those_who_take_it(wire: ClientWire) -> None:
    plain = call(wire, "GET", "/api/catalogue")
    packed = call(wire, "GET", "/api/catalogue", headers={"Accept-Encoding": "gzip, br"})
    assert "content-encoding" not in plain.headers
    assert packed.headers["content-encoding"] == "gzip"
    assert "Accept-Encoding" in packed.headers["vary"]
    assert gzip.decompress(packed.content) == plain.content
    assert len(packed.content) < len(plain.content) / 3
    small = call(wire, "GET", "/api/health", headers={"Accept-Encoding": "gzip"})
    assert "content-encoding" not in small.headers
    refused = call(wire, "GET", "/api/catalogue", headers={"Accept-Encoding": "gzip;q=0"})
    assert "content-encoding" not in refused.headers


def test_a_packed_body_is_read_like_a_plain_one(owner: Phone) -> None:
    body = {"role": "hand", "name": "Hank" * 20}
    assert owner.call("POST", "/invites", body=body, packed=True).status == 201


def test_the_catalogue_is_the_one_that_the_client_has(wire: ClientWire) -> None:
    """Source: fixtures/vectors/merge/catalogue.json, which the client is built with."""
    file = Path(__file__).parents[2] / "fixtures/vectors/merge/catalogue.json"
    assert call(wire, "GET", "/api/catalogue").json == json.loads(file.read_text("utf-8"))


def test_health_tells_version_and_time(wire: ClientWire) -> None:
    answer = call(wire, "GET", "/api/health")
    assert answer.status == 200
    assert answer.json["version"] == "0.1.0"
    assert answer.json["time"] == "2026-03-02T08:00:00+00:00"


# --- the log ---------------------------------------------------------------------------------------------------------


def test_the_log_has_a_line_per_request_and_never_a_secret(
    owner: Phone, capsys: pytest.CaptureFixture[str]
) -> None:
    token = owner.invite()
    hand = Phone.join(owner.wire, owner.now_ms, token)
    hand.sync()
    hand.call("GET", f"/work?key={hand.key}")
    owner.call("POST", "/recover", body={"code": owner.recovery_code}, key=None)
    text = capsys.readouterr().out
    lines = [json.loads(line) for line in text.splitlines()]
    for secret in (owner.key, hand.key, token, owner.recovery_code, owner.refit_id):
        assert secret not in text
    line = next(one for one in lines if one.get("route") == "/api/refits/<refit_id>/sync")
    assert line["method"] == "POST"
    assert line["status"] == 200
    assert line["device_id"] == hand.device_id
    assert line["ms"] > 0
    assert re.fullmatch(r"[0-9a-f-]{36}", line["request_id"])


def test_the_number_that_a_proxy_gives_a_request_is_kept_if_it_is_harmless(
    wire: ClientWire,
) -> None:
    given = {"X-Request-Id": "abcdef-0123456789"}
    assert (
        call(wire, "GET", "/api/health", headers=given).headers["x-request-id"]
        == given["X-Request-Id"]
    )
    bad = {"X-Request-Id": 'x" onload="'}
    assert (
        call(wire, "GET", "/api/health", headers=bad).headers["x-request-id"] != bad["X-Request-Id"]
    )


# --- limits of tries -------------------------------------------------------------------------------------------------


@pytest.fixture
def strict(settings: Settings, clock: StandingClock) -> Iterator[Flask]:
    """A server that allows three tries a minute, with one proxy in front."""
    app = create_app(replace(settings, sign_in_per_minute=3, trusted_proxies=1), ports_with(clock))
    yield app
    with app.app_context():
        db.session.remove()
        db.engine.dispose()


CLAIM = {"token": "x" * 43}


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/api/invites/claim", CLAIM),
        ("/api/refits/r/recover", {"code": "0000-0000-0000-0000-0000"}),
        ("/api/refits", {**REFIT, "time_zone": "Mars/Phobos"}),
    ],
)
def test_tries_are_limited_by_address_and_minute(
    strict: Flask, clock: StandingClock, path: str, body: dict[str, str]
) -> None:
    wire = ClientWire(strict.test_client())

    def attempt(address: str) -> int:
        return call(wire, "POST", path, body=body, headers={"X-Forwarded-For": address}).status

    for seconds in (0, 10, 20):
        clock.at = BEGAN_AT
        clock.forward(seconds=seconds)
        assert attempt("192.0.2.1") in (403, 404, 422)
    answer = call(wire, "POST", path, body=body, headers={"X-Forwarded-For": "192.0.2.1"})
    assert answer.status == 429
    assert answer.json["type"] == "urn:tackwatch:problem:too-many-tries"
    assert answer.headers["retry-after"] == "40"
    assert attempt("192.0.2.2") != 429
    clock.forward(seconds=40)
    assert attempt("192.0.2.1") != 429
    assert attempt("192.0.2.1") == 429


def test_a_try_beyond_the_limit_does_not_use_an_invite_up(
    strict: Flask, clock: StandingClock
) -> None:
    wire = ClientWire(strict.test_client())
    owner = Phone.found(wire, lambda: clock.ms)
    token = owner.invite()
    for _ in range(3):
        call(wire, "POST", "/api/invites/claim", body=CLAIM)
    assert call(wire, "POST", "/api/invites/claim", body={"token": token}).status == 429
    clock.forward(minutes=1)
    assert call(wire, "POST", "/api/invites/claim", body={"token": token}).status == 201


def test_addresses_of_one_subscriber_count_together_and_doors_count_apart() -> None:
    throttle = Throttle(1)
    throttle.spend("claim", "2001:db8:1:2::1", BEGAN_AT)
    with pytest.raises(TooManyError):
        throttle.spend("claim", "2001:db8:1:2:ffff::9", BEGAN_AT)
    throttle.spend("claim", "2001:db8:1:3::1", BEGAN_AT)
    throttle.spend("recover", "2001:db8:1:2::1", BEGAN_AT)


def test_a_flood_of_addresses_is_forgotten_and_not_kept_for_ever() -> None:
    throttle = Throttle(1)
    for number in range(25_000):
        throttle.spend("claim", f"10.{number >> 16}.{number >> 8 & 255}.{number & 255}", BEGAN_AT)
    assert len(throttle._tries) <= 10_000


def test_behind_a_proxy_the_page_is_told_to_stay_with_tls(strict: Flask) -> None:
    wire = ClientWire(strict.test_client())
    headers = call(wire, "GET", "/", headers={"X-Forwarded-Proto": "https"}).headers
    assert headers["strict-transport-security"] == "max-age=31536000"


# --- the client's files ----------------------------------------------------------------------------------------------


@pytest.fixture
def built(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "web"
    (folder / "assets").mkdir(parents=True)
    (folder / "index.html").write_text("<!doctype html><title>built</title>")
    (folder / "sw.js").write_text("// worker")
    (folder / "manifest.webmanifest").write_text("{}")
    (folder / "assets" / "main-AB12.js").write_text("plain")
    (folder / "assets" / "main-AB12.js.gz").write_bytes(gzip.compress(b"plain"))
    (folder / "notes.sh").write_text("echo")
    (tmp_path / "secret.txt").write_text("secret")
    monkeypatch.setattr(web, "BUILT", folder)
    return folder


def test_the_page_and_its_worker_are_asked_for_anew_each_time(
    wire: ClientWire, built: Path
) -> None:
    for path, media_type in (
        ("/", "text/html"),
        ("/index.html", "text/html"),
        ("/sw.js", "text/javascript"),
        ("/manifest.webmanifest", "application/manifest+json"),
    ):
        answer = call(wire, "GET", path)
        assert answer.status == 200
        assert answer.headers["content-type"].startswith(media_type)
        assert answer.headers["cache-control"] == "no-cache"
        again = call(wire, "GET", path, headers={"If-None-Match": answer.headers["etag"]})
        assert again.status == 304


def test_hashed_files_are_kept_for_a_year_and_sent_packed(wire: ClientWire, built: Path) -> None:
    plain = call(wire, "GET", "/assets/main-AB12.js")
    assert plain.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert "content-encoding" not in plain.headers
    packed = call(wire, "GET", "/assets/main-AB12.js", headers={"Accept-Encoding": "gzip"})
    assert packed.headers["content-encoding"] == "gzip"
    assert packed.headers["content-type"].startswith("text/javascript")
    assert gzip.decompress(packed.content) == plain.content == b"plain"
    assert packed.headers["etag"] != plain.headers["etag"]


@pytest.mark.parametrize(
    "path",
    ["/../secret.txt", "/%2e%2e/secret.txt", "/assets/../../secret.txt", "/..%2Fsecret.txt",
     "/%2Fetc/passwd", "/assets", "/assets/", "/notes.sh", "/nothing.js", "/index.html%00.js"],
)  # fmt: skip
def test_nothing_but_the_clients_files_is_served(wire: ClientWire, built: Path, path: str) -> None:
    answer = call(wire, "GET", path)
    assert answer.status == 404
    assert answer.headers["content-type"] == "application/problem+json"


def test_without_a_built_client_the_page_says_what_to_do(
    wire: ClientWire, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(web, "BUILT", tmp_path / "nowhere")
    answer = call(wire, "GET", "/")
    assert answer.status == 503
    assert b"npm run build" in answer.content
