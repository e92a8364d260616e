"""The doors that take JSON, each with a good body and what does not fit; how a problem is checked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from tests.api.roleyard import PUSH
from tests.support.phone import REFIT, Phone
from tests.support.wires import Answer, call

NUL, LONE = "a\x00b", "a\ud800b"


@dataclass(frozen=True)
class Text:
    """A text field: needed or not, and how long at most."""

    most: int
    needed: bool = False
    may_be_empty: bool = False

    def bad(self) -> Iterator[Any]:
        yield from (7, True, ["a"], {"a": 1}, NUL, LONE, "x" * (self.most + 1))
        if not self.may_be_empty:
            yield from ("", "   ")


@dataclass(frozen=True)
class Number:
    """A number field with its limits."""

    least: float
    most: float
    needed: bool = False
    whole: bool = False

    def bad(self) -> Iterator[Any]:
        yield from ("7", True, [7], {}, self.least - 1, self.most + 1)
        if self.whole:
            yield from (1.5, 2.0)


@dataclass(frozen=True)
class Other:
    """A field of another type with examples that do not fit it."""

    examples: tuple[Any, ...]
    needed: bool = False

    def bad(self) -> Iterator[Any]:
        yield from self.examples


TIME_OF_DAY = Other((7, "7:00", "24:00", "08:60", "noon", NUL))
INSTANTS = (
    *(7, "2026-04-01", "2026-04-01T08:00:00", "2026-04-01T08:00:00+01:00"),
    *("2026-02-30T08:00:00Z", "1800-01-01T00:00:00Z", NUL),
)
YES_NO = Other((1, 0, "yes", "true", []))
WHOLE = 2**53 - 1


@dataclass(frozen=True)
class Door:
    """A door that takes JSON: where, a good body, its fields, and whether a key is needed."""

    method: str
    below: str
    good: dict[str, Any]
    fields: dict[str, Text | Number | Other]
    signed_in: bool = True
    may_be_null: frozenset[str] = field(default_factory=frozenset)

    def send(self, phone: Phone, **rest: Any) -> Answer:
        if self.below.startswith("/api/"):
            return call(phone.wire, self.method, self.below, **rest)
        key = phone.key if self.signed_in else None
        return phone.call(self.method, self.below, key=key, **rest)


DOORS = {
    "begin a refit": Door(
        "POST",
        "/api/refits",
        {**REFIT, "with_products": False},
        {
            "name": Text(120, True),
            "time_zone": Text(64, True),
            "launch_at": Other(INSTANTS, True),
            "owner_name": Text(120, True),
            "language": Text(16, True, True),
            "day_starts": TIME_OF_DAY,
            "day_ends": TIME_OF_DAY,
            "curve_min_c": Number(-40, 60),
            "curve_max_c": Number(-40, 60),
            "curve_hour_of_max": Number(0, 23.999),
            "device_name": Text(120, may_be_empty=True),
            "with_products": YES_NO,
        },
    ),
    "come back": Door(
        "POST", "/recover", {"code": "0000-0000-0000-0000-0000"},
        {"code": Text(100, True), "device_name": Text(120, may_be_empty=True)}, signed_in=False,
    ),
    "come aboard": Door(
        "POST", "/api/invites/claim", {"token": "x" * 43},
        {"token": Text(200, True), "device_name": Text(120, may_be_empty=True)},
    ),
    "invite": Door(
        "POST", "/invites", {"role": "hand", "name": "Hank"},
        {
            "role": Other(("captain", 7, "", ["hand"], NUL)),
            "name": Text(120),
            "language": Text(16, may_be_empty=True),
            "member_id": Other(("", "a b", "x" * 41, 7, NUL, "nobody-here")),
            "days": Number(1, 30, whole=True),
        },
    ),
    "take pushes": Door(
        "PUT", "/push", PUSH,
        {
            "endpoint": Other((
                7, "", "nothing", "ftp://updates.push.services.mozilla.com/x",
                "http://updates.push.services.mozilla.com/x", "https://127.0.0.1/x", "https://[::1]/x",
                "https://localhost/x", "https://example.org/x", "https://evil@updates.push.services.mozilla.com/x",
                "https://updates.push.services.mozilla.com.example.org/x", "https://updates.push.services.mozilla.com:99/x",
                "https://updates.push.services.mozilla.com/" + "x" * 2000, NUL,
            ), True),
            "p256dh": Other((7, "", "short", "!" * 87, "A" * 87, PUSH["p256dh"][:-3], NUL), True),
            "auth": Other((7, "", "short", "!" * 22, PUSH["auth"] + "AA", NUL), True),
        },
    ),
    "give a mail address": Door(
        "PUT", "/addresses/mail", {"address": "olga@yard.example"},
        {"address": Text(254, True), "with_calendar": YES_NO},
    ),
    "confirm a mail address": Door(
        "POST", "/addresses/mail/confirm", {"code": "123456"}, {"code": Text(20, True)},
    ),
    "give a webhook": Door(
        "PUT", "/addresses/webhook", {"url": "https://hooks.example/x"}, {"url": Text(2000, True)},
    ),
    "sync": Door(
        "POST", "/sync", {},
        {
            "protocol": Other((0, -1, "1", 1.0, True, None, []), True),
            "schema": Other((0, -1, "1", 1.0, True, None, []), True),
            "epoch": Other((7, "x" * 41, NUL), True),
            "device": Other((7, "", "x" * 41, NUL, None), True),
            "cursor": Number(0, WHOLE, True, whole=True),
            "operations": Other(({}, "x", 7, None), True),
        },
        may_be_null=frozenset({"epoch"}),
    ),
}  # fmt: skip


def good(door: Door, phone: Phone) -> dict[str, Any]:
    return {**phone.body(), **door.good} if door.below == "/sync" else dict(door.good)


def check(answer: Answer, status: int, name: str | None) -> None:
    """Check that an answer is a problem document that names a field."""
    assert answer.status == status, answer.content
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json
    assert problem["status"] == status
    assert problem["type"].startswith("urn:tackwatch:problem:")
    assert problem["title"]
    assert problem["detail"]
    assert problem.get("field") == name, problem


JSON = {"Content-Type": "application/json"}
