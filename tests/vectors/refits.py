"""Random small refits with all that a reckoning meets: corrections that cross, withdrawals, circles of links."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

from tackwatch.merge.catalogue import HOLDS, MARKS, STEP_KINDS
from tackwatch.merge.state import Item, Record
from tackwatch.trade.warning_kinds import ALARM_KINDS
from tackwatch.trade.warnings import iso_of
from tests.support.client_code import ROOT

PROFILES = [json.loads(path.read_text()) for path in sorted((ROOT / "fixtures/profiles").glob("*"))]
BROKEN = {**PROFILES[0], "stages": {"touch_dry": [{"temp_c": 20, "minutes": 0}]}}
NOW = datetime(2026, 3, 28, 21, 0, tzinfo=UTC)
DEVICES = ("phone0000001", "phone0000002", "phone0000003")
MEMBERS = ("m-owner", "m-hand", "m-viewer")
STEPS = 7
# the yard's clocks go on in the night after NOW, those of the far ones on other days
ZONES = (None, "Europe/Lisbon", "America/New_York", "Pacific/Chatham", "Nowhere/AtAll")
QUIET = (("22:00", "07:00"), ("00:30", "01:30"), ("13:00", "14:30"), ("20:15", "05:45"))


class Refits:
    """Draws refits; the same seed draws the same ones."""

    def __init__(self, seed: int) -> None:
        self.chance = Random(seed)
        self.count = 0

    def refit(self) -> tuple[list[Item], list[Record], datetime]:
        """Draw the items and records of one refit, and an instant at which to look at it."""
        items = [*self._crew(), *self._products(), *self._steps(), *self._links(), *self._rules()]
        records = [record for _ in range(self.chance.randrange(5)) for record in self._coat()]
        records += [self._mix() for _ in range(self.chance.randrange(3))]
        records += [self._reading() for _ in range(self.chance.randrange(6))]
        records += [self._mark() for _ in range(self.chance.choice((0, 0, 1, 2, 5)))]
        coats = [one.id for one in records if one.kind == "application"]
        if len(coats) > 1:
            records += [self._answer(coats) for _ in range(self.chance.randrange(3))]
        return items, records, NOW + timedelta(seconds=self.chance.randrange(-86_400, 86_400))

    def _stamp(self) -> str:
        self.count += 1
        return f"{0x19C2F3A00000 + self.count:012x}0000-{self.chance.choice(DEVICES)}"

    def _at(self) -> str:
        at = NOW + timedelta(milliseconds=self.chance.randrange(-2 * 86_400_000, 3_600_000))
        return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def _item(self, kind: str, id_: str, sets: Any = None, /, **fields: Any) -> Item:
        return Item(kind, id_, self._stamp(), fields, {}, sets or {})

    def _record(
        self, kind: str, replaces: str | None = None, void: bool = False, /, **body: Any
    ) -> Record:
        self.count += 1
        return Record(kind, f"{kind}-{self.count}", self._stamp(), body, replaces, void)

    def _crew(self) -> list[Item]:
        roles = ("owner", "hand", "viewer")
        leads = {"recoat_lead_min": self.chance.choice((0, 45, 240)), "pot_lead_min": 7}
        launch = NOW + timedelta(hours=self.chance.randrange(-48, 24 * 12))
        stamps = {"launch_at": self._written(launch - timedelta(days=self.chance.choice((2, 9))))}
        refit = {"name": "R", "time_zone": "Europe/Lisbon", "launch_at": iso_of(launch)}
        return [
            Item("refit", "r", self._stamp(), refit, stamps, {}),
            *(self._item("device", d, member_id=m) for d, m in zip(DEVICES, MEMBERS, strict=True)),
            self._item("member", MEMBERS[0], name="A", role=roles[0], **leads),
            *(
                self._item(
                    "member",
                    id_,
                    name="B",
                    role=role,
                    gone=self.chance.random() < 0.1,
                    time_zone=self.chance.choice(ZONES),
                )
                for id_, role in zip(MEMBERS[1:], roles[1:], strict=True)
            ),
        ]

    def _written(self, at: datetime) -> str:
        """Draw the stamp of a field that was written then."""
        self.count += 1
        ms = round(at.timestamp() * 1000)
        return f"{ms:012x}{self.count:04x}-{self.chance.choice(DEVICES)}"

    def _products(self) -> list[Item]:
        return [self._item("product", "p", name="P", profile=self.chance.choice(PROFILES))]

    def _rules(self) -> list[Item]:
        """Draw what persons said about how they are rung: some of it about the same thing twice."""
        chance = self.chance
        said: dict[str, tuple[Any, ...]] = {
            "off": (None, False, True),
            "lead_min": (None, 0, 12.5, 240),
            "walk_min": (None, 0, 45),
            "by_push": (None, False),
            "by_mail": (None, True),
            "by_webhook": (None, True),
            "next_member_id": (None, *MEMBERS),
            "unseen_min": (None, 0, 20),
        }
        rules = []
        for n in range(chance.randrange(12)):
            fields = {name: chance.choice((None, *values)) for name, values in said.items()}
            if chance.random() < 0.8:
                fields["quiet_from"], fields["quiet_to"] = chance.choice(QUIET)
            fields["step_id"] = chance.choice((None, None, "s0", "s1", "s4"))
            often = ("recoat_closing", "step_due") * 4
            fields["kind"] = chance.choice((*([None] * 8), *often, *ALARM_KINDS))
            fields["gone"] = chance.random() < 0.1
            rules.append(
                self._item("ring_rule", f"rule{n}", member_id=chance.choice(MEMBERS), **fields)
            )
        return rules

    def _planned(self) -> dict[str, Any]:
        """Draw when a step is planned, if it is."""
        chance = self.chance
        if chance.random() < 0.5:
            return {}
        start = NOW + timedelta(minutes=chance.randrange(-2_000, 2_000))
        end = start + timedelta(hours=chance.randrange(1, 30))
        ends = {"planned_end_at": iso_of(end)} if chance.random() < 0.6 else {}
        return {"planned_start_at": iso_of(start), **ends}

    def _steps(self) -> list[Item]:
        return [self._step(f"s{n}") for n in range(STEPS)]

    def _step(self, id_: str) -> Item:
        chance, planned = self.chance, self._planned()
        fields = {
            "job_id": "j",
            "product_id": "p",
            "labour_h": chance.choice((None, 1, 6)),
            "crew_size": chance.choice((1, 2)),
            "kind": chance.choice((*STEP_KINDS, "coat", "coat", "sand", "sand", "wait")),
            "held": chance.choice((*([None] * 12), *HOLDS)),
            "gone": chance.random() < 0.1,
        }
        hours = timedelta(hours=chance.choice((-2, 0.1, 1, 30)))
        written = datetime.fromisoformat(planned.get("planned_start_at", iso_of(NOW))) - hours
        stamps = {"planned_start_at": self._written(written)}
        sets = {"assignees": {m: ("t",) for m in MEMBERS if chance.random() < 0.4}}
        return Item("step", id_, self._stamp(), fields | planned, stamps, sets)

    def _links(self) -> list[Item]:
        links = []
        for n in range(self.chance.randrange(9)):
            step, after = self.chance.sample(range(STEPS), 2)
            after = self.chance.choice((after, *{0, 1, 2} - {step}))
            fields = {"step_id": f"s{step}", "after_id": f"s{after}"}
            fields["by_cure"] = self.chance.random() < 0.6
            fields["min_gap_s"] = self.chance.choice((0, 0, 3600, 90_000))
            fields["max_gap_s"] = self.chance.choice((None, None, 172_800))
            links.append(self._item("link", f"l{n}", gone=self.chance.random() < 0.1, **fields))
        return links

    def _coat(self) -> list[Record]:
        """Draw an application with its corrections, some made by two people without seeing each other."""
        chance = self.chance
        start = self._at()
        end = datetime.fromisoformat(start) + timedelta(minutes=chance.randrange(5, 400))
        body = {"step_id": f"s{chance.randrange(3)}", "product_id": "p", "start_at": start}
        body["profile"] = chance.choice(PROFILES) if chance.random() < 0.95 else BROKEN
        ended = body | {"end_at": end.isoformat(timespec="milliseconds").replace("+00:00", "Z")}
        tree = [self._record("application", **chance.choice((body, ended, ended, ended)))]
        for _ in range(chance.randrange(4)):
            replaces, void = chance.choice(tree).id, chance.random() < 0.2
            tree.append(
                self._record(
                    "application", replaces, void, **chance.choice((body, ended, ended, ended))
                )
            )
        return tree

    def _mix(self) -> Record:
        chance = self.chance
        body = {"step_id": chance.choice((None, "s1")), "product_id": "p", "stirred_at": self._at()}
        weighed = {
            "base_g": chance.choice((None, 100, 900)),
            "hardener_g": chance.choice((None, 30)),
        }
        temp = {"temp_c": chance.choice((None, 8, 24.5))}
        return self._record("mix", profile=chance.choice(PROFILES), **body, **weighed, **temp)

    def _reading(self) -> Record:
        air, surface = self.chance.uniform(4, 30), self.chance.uniform(4, 40)
        body = {"taken_at": self._at(), "air_c": round(air, 1), "surface_c": round(surface, 1)}
        if self.chance.random() < 0.5:
            del body[self.chance.choice(("air_c", "surface_c"))]
        if self.chance.random() < 0.6:
            body["rh_pct"] = self.chance.choice((40, 75, 95))
        return self._record("reading", **body)

    def _mark(self) -> Record:
        step, mark = f"s{self.chance.randrange(STEPS)}", self.chance.choice(MARKS)
        return self._record("mark", step_id=step, mark=mark, marked_at=self._at())

    def _answer(self, coats: list[str]) -> Record:
        first, second = self.chance.sample(coats, 2)
        answer = self.chance.choice(("one_coat", "two_coats"))
        return self._record("answer", first_id=first, second_id=second, answer=answer)
