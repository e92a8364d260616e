"""What a person may do next, drawn by chance from what their phone shows."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from io import BytesIO
from random import Random
from typing import Any

from PIL import Image

Look = dict[str, Any]
Deed = tuple[str, list[Any]]  # a function of the page, and what it is given

AGREED = "the same words"
KINDS = ("coat", "sand", "laminate", "fair", "inspect")


@dataclass
class People:
    """Draws deeds; every value that somebody writes is told apart from all others, some agreed ones excepted."""

    chance: Random
    begin_ms: int
    count: int = 0
    deleted: list[tuple[str, str]] = field(default_factory=list)
    ids: list[tuple[str, str]] = field(default_factory=list)

    def draw(self, look: Look) -> Deed | None:
        """Give a deed, or none where what was drawn has nothing to act on."""
        weights = [weight for weight, _ in DEEDS]
        (_, deed) = self.chance.choices(DEEDS, weights)[0]
        return deed(self, look)

    def word(self, what: str) -> str:
        self.count += 1
        return AGREED if self.chance.random() < 0.1 else f"{what} {self.count}"

    def number(self) -> int:
        self.count += 1
        return self.count

    def one(self, look: Look, kind: str) -> Any:
        rows = look["items"][kind]
        return self.chance.choice(rows) if rows else None

    def standing(self, look: Look, *kinds: str) -> Any:
        found = [(kind, row) for kind in kinds for row in look["records"][kind]]
        return self.chance.choice(found) if found else None

    def instant(self, back_min: int = 600) -> str:
        at_s = self.begin_ms // 1000 - self.chance.randrange(back_min) * 60
        day, second = divmod(at_s, 86_400)
        hour, rest = divmod(second, 3600)
        return f"{_date(day)}T{hour:02d}:{rest // 60:02d}:00Z"


def _date(day: int) -> str:
    return (date(1970, 1, 1) + timedelta(days=day)).isoformat()


def _act(name: str, *given: Any) -> Deed:
    return ("act", [name, list(given)])


def _create_job(people: People, look: Look) -> Deed:
    product, zone = people.one(look, "product"), people.one(look, "zone")
    steps = []
    if product and people.chance.random() < 0.4:
        steps = [
            {"kind": "coat", "product_id": product["id"]},
            {"kind": "sand", "follows": True, "by_cure": True},
        ]
    body = {"title": people.word("job"), "zone_id": zone["id"] if zone else None, "steps": steps}
    return _act("createJob", body)


def _add_step(people: People, look: Look) -> Deed | None:
    job, product = people.one(look, "job"), people.one(look, "product")
    if not job:
        return None
    body = {"kind": people.chance.choice(KINDS), "title": people.word("step")}
    if product:
        body["product_id"] = product["id"]
    member = people.one(look, "member")
    if member and people.chance.random() < 0.3:
        body["assignees"] = [member["id"]]
    return _act("addStep", job["id"], body)


def _edit(people: People, look: Look) -> Deed | None:
    kind, fields = people.chance.choice(
        (
            ("job", ("title", "text", "title", "afloat_ok")),
            ("step", ("title", "text", "labour_h", "expected_at", "weather_open")),
            ("zone", ("name", "area_m2", "holds")),
            ("refit", ("day_starts", "name", "work_days")),
            ("skill", ("name",)),
            ("away", ("text", "to_on")),
            ("member", ("day_starts", "work_days", "day_rate")),
        )
    )
    rows = look["items"][kind]
    if not rows:
        return None
    row = rows[0] if people.chance.random() < 0.6 else people.chance.choice(rows)
    names = {people.chance.choice(fields)}
    if people.chance.random() < 0.2:
        names.add(people.chance.choice(fields))
    return _act(
        "setFields", kind, row["id"], {name: _value(people, name) for name in sorted(names)}
    )


def _value(people: People, name: str) -> Any:
    if name in ("afloat_ok", "weather_open"):
        return people.chance.random() < 0.5
    if name in ("labour_h", "area_m2", "day_rate"):
        return people.number()
    if name == "holds":
        return people.chance.randrange(1, 5)
    if name == "work_days":
        return people.chance.choice(("12345", "123456", "6", ""))
    if name == "expected_at":
        return people.instant()
    if name == "to_on":
        return _date(people.begin_ms // 86_400_000 + people.chance.randrange(9))
    if name == "day_starts":
        return f"0{people.chance.randrange(10)}:{people.chance.randrange(60):02d}"
    return people.word(name)


def _drop(people: People, look: Look) -> Deed | None:
    kind = people.chance.choice(("job", "job", "step", "zone", "link", "away"))
    row = people.one(look, kind)
    if not row:
        return None
    people.deleted.append((kind, row["id"]))
    return _act("drop", kind, row["id"])


def _take_back(people: People, look: Look) -> Deed | None:
    if not people.deleted:
        return None
    kind, id_ = people.chance.choice(people.deleted)
    return _act("setFields", kind, id_, {"gone": False})


def _assign(people: People, look: Look) -> Deed | None:
    step, member = people.one(look, "step"), people.one(look, "member")
    return _act("assign", step["id"], member["id"]) if step and member else None


def _unassign(people: People, look: Look) -> Deed | None:
    steps = [row for row in look["items"]["step"] if row["sets"].get("assignees")]
    if not steps:
        return None
    step = people.chance.choice(steps)
    return _act("unassign", step["id"], people.chance.choice(sorted(step["sets"]["assignees"])))


def _link(people: People, look: Look) -> Deed | None:
    steps = look["items"]["step"]
    if len(steps) < 2:
        return None
    one, other = people.chance.sample(steps, 2)
    return _act("linkSteps", one["id"], other["id"], {"by_cure": people.chance.random() < 0.5})


def _move(people: People, look: Look) -> Deed | None:
    step = people.one(look, "step")
    return _act("moveStep", step["id"], people.chance.choice((-1, 1))) if step else None


def _hold(people: People, look: Look) -> Deed | None:
    step = people.one(look, "step")
    if not step:
        return None
    if people.chance.random() < 0.4:
        return _act("releaseStep", step["id"])
    return _act("holdStep", step["id"], "parts", people.word("held"))


def _prepare(people: People, look: Look) -> Deed | None:
    step = people.one(look, "step")
    return _act("prepareStep", step["id"], [{"kind": "clean"}, {"kind": "sand"}]) if step else None


def _reading(people: People, look: Look) -> Deed:
    air_c = people.chance.randrange(8, 28)
    body = {"air_c": air_c, "surface_c": air_c - 1, "rh_pct": people.chance.randrange(30, 90)}
    return _act("logReading", body)


def _note(people: People, look: Look) -> Deed:
    return _act("logNote", {"text": people.word("note")})


def _coat(people: People, look: Look) -> Deed | None:
    steps = [row for row in look["items"]["step"] if row["fields"]["kind"] == "coat"]
    product = people.one(look, "product")
    if not steps or not product:
        return None
    step = people.chance.choice(steps[:2])
    body = {"product_id": product["id"]}
    if people.chance.random() < 0.5:
        return _act("startCoat", step["id"], {**body, "start_at": people.instant()})
    times = sorted((people.instant(), people.instant()))
    return _act("logCoat", step["id"], {**body, "start_at": times[0], "end_at": times[1]})


def _end_coat(people: People, look: Look) -> Deed | None:
    found = people.standing(look, "application")
    return _act("endCoat", found[1]["root_id"]) if found else None


def _answer(people: People, look: Look) -> Deed | None:
    rows = look["records"]["application"]
    if len(rows) < 2:
        return None
    one, other = people.chance.sample(rows, 2)
    said = people.chance.choice(("one_coat", "two_coats"))
    return _act("answerQuestion", one["id"], other["id"], said)


def _mix(people: People, look: Look) -> Deed | None:
    product = people.one(look, "product")
    return (
        _act("logMix", {"product_id": product["id"], "base_g": people.number()})
        if product
        else None
    )


def _hours(people: People, look: Look) -> Deed:
    return _act("logHours", {"worked_on": "2026-03-02", "minutes": people.number() % 1440})


def _mark(people: People, look: Look) -> Deed | None:
    step = people.one(look, "step")
    said = people.chance.choice(("started", "finished", "reopened", "signed_off"))
    return _act("markStep", step["id"], said) if step else None


def _seen(people: People, look: Look) -> Deed | None:
    found = people.standing(look, "application", "mix")
    kind = people.chance.choice(("recoat_open", "recoat_closing", "pot"))
    return _act("markSeen", f"{found[1]['root_id']}.{kind}") if found else None


def _correct(people: People, look: Look) -> Deed | None:
    found = people.standing(look, "reading", "note", "hours", "application")
    if not found:
        return None
    kind, row = found
    body = {
        "reading": {"air_c": people.chance.randrange(8, 28)},
        "note": {"text": people.word("note")},
        "hours": {"minutes": people.number() % 1440},
        "application": {"film_wet_um": people.number()},
    }[kind]
    return _act("correct", kind, row["id"], body)


def _void(people: People, look: Look) -> Deed | None:
    found = people.standing(look, "reading", "note", "application", "mix")
    return _act("voidRecord", found[0], found[1]["id"]) if found else None


def _settle(people: People, look: Look) -> Deed | None:
    if not look["differences"]:
        return None
    one = people.chance.choice(look["differences"])
    value = people.chance.choice((one["kept"], one["lost"]))["value"]
    return _act("settle", [one["id"]], one["kind"], one["item_id"], one["field"], value)


def _refused(people: People, look: Look) -> Deed | None:
    if not look["refused"]:
        return None
    one = people.chance.choice(look["refused"])
    return _act("dealWithRefused", one["n"], people.chance.choice(("drop", "again")))


def _myself(people: People, look: Look) -> Deed:
    return _act("setMyself", {"name": people.word("name")})


def _role(people: People, look: Look) -> Deed | None:
    member = people.one(look, "member")
    role = people.chance.choice(("hand", "viewer", "hand", "owner"))
    return _act("setFields", "member", member["id"], {"role": role}) if member else None


def _send_away(people: People, look: Look) -> Deed | None:
    member = people.one(look, "member")
    return _act("drop", "member", member["id"]) if member else None


def _photo(people: People, look: Look) -> Deed:
    file = BytesIO()
    Image.frombytes("L", (8, 8), people.chance.randbytes(64)).save(file, "JPEG")
    content = file.getvalue()
    return (
        "photograph", [hashlib.sha256(content).hexdigest(), base64.b64encode(content).decode()],
    )  # fmt: skip


def _away(people: People, look: Look) -> Deed:
    """Say that somebody is away: oneself, another, or all."""
    member, first = people.one(look, "member"), people.begin_ms // 86_400_000
    fields = {"from_on": _date(first), "to_on": _date(first + people.chance.randrange(5))}
    if member and people.chance.random() < 0.9:
        fields["member_id"] = member["id"]
    return _forced("create", "away", f"away-{people.number()}", fields=fields)


def _skill(people: People, look: Look) -> Deed:
    """Name a skill, or say that a step or a person has one."""
    skill, kind = people.one(look, "skill"), people.chance.choice(("step", "step", "member"))
    row = people.one(look, kind)
    if not skill or not row:
        fields = {"name": people.word("skill")}
        return _forced("create", "skill", f"skill-{people.number()}", fields=fields)
    return _forced("put_in", kind, row["id"], set="skills", member=skill["id"])


def _forced(do: str, kind: str, id_: str, **rest: Any) -> Deed:
    return ("force", [f"{do}_{kind}", [{"do": do, "kind": kind, "id": id_, **rest}]])


def _poison(people: People, look: Look) -> Deed:
    """Do what the phone itself would never let through, each in its own way."""
    job = people.one(look, "job") or {"id": "made-by-nobody-yet"}
    poisons: tuple[dict[str, Any], ...] = (
        {"do": "create", "kind": "job", "id": job["id"], "fields": {"title": people.word("job")}},
        {"do": "create", "kind": "mast", "id": f"mast-{people.number()}", "fields": {}},
        {"do": "set", "kind": "job", "id": job["id"], "fields": {"title": "a\x00b"}, "seen": {}},
        {"do": "set", "kind": "job", "id": "no-such-job", "fields": {"title": "x"}, "seen": {}},
        {"do": "create", "kind": "device", "id": "me-again", "fields": {"member_id": "x"}},
        {"do": "set", "kind": "refit", "id": "x" * 60, "fields": {"name": "x"}},
    )
    good = {
        "do": "record", "kind": "note", "id": f"note-{people.number()}", "body": {"text": "beside poison"},
        "replaces": None, "void": False,
    }  # fmt: skip
    bad = people.chance.choice(poisons)
    return ("force", ["poison", people.chance.choice(([bad], [good, bad], [bad, good]))])


_Draw = Callable[[People, Look], Deed | None]
DEEDS: tuple[tuple[float, _Draw], ...] = (
    (6, _create_job), (4, _add_step), (22, _edit), (5, _drop), (1, _take_back), (5, _assign), (3, _unassign),
    (1, _link), (1, _move), (2, _hold), (1, _prepare), (6, _reading), (4, _note), (6, _coat), (2, _end_coat),
    (1, _answer), (2, _mix), (2, _hours), (3, _mark), (2, _seen), (4, _correct), (2, _void), (6, _settle),
    (4, _refused), (2, _myself), (3, _role), (0.4, _send_away), (2, _photo), (4, _poison),
    (2, _away), (2, _skill),
)  # fmt: skip
