"""Playing the demo's script: its zones, jobs and log go in as the operations of its people's own devices."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from tackwatch.merge.catalogue import SCHEMA
from tackwatch.merge.hlc import Stamp, tick
from tackwatch.merge.state import Item
from tackwatch.trade.warnings import iso_of
from tackwatch.work.caller import Caller
from tackwatch.work.filing import milliseconds
from tackwatch.work.ports import Ports
from tackwatch.work.sync import PROTOCOL, SyncRequest, sync


@dataclass(slots=True)
class Hand:
    """One person of the demo at the phone: numbers and stamps what that person does."""

    caller: Caller
    n: int = 0
    last: Stamp | None = None

    def do(self, act: str, actions: list[dict[str, Any]], ports: Ports) -> None:
        """File one act; a demo that is refused is a mistake in its script."""
        self.n += 1
        self.last = tick(self.last, milliseconds(ports.clock.now()), self.caller.device_id)
        operation = {"n": self.n, "at": str(self.last), "act": act, "actions": actions}
        request = SyncRequest(PROTOCOL, SCHEMA, None, self.caller.device_id, 0, [operation])
        for refusal in sync(self.caller, request, ports).refused:
            raise ValueError(f"the demo's {act} was refused: {refusal}")


class _Script:
    """Turns the script's entries into actions; ``ids`` knows what each key of the script became."""

    def __init__(
        self,
        script: Mapping[str, Any],
        hands: Mapping[str, Hand],
        products: Mapping[str, Item],
        ports: Ports,
    ) -> None:
        self.script = script
        self.hands = hands
        self.products = products
        self.ports = ports
        self.ids: dict[str, str] = {}

    def id_of(self, key: str) -> str:
        if key not in self.ids:
            self.ids[key] = self.ports.chance.new_id()
        return self.ids[key]

    def create(
        self, kind: str, id_: str, fields: Mapping[str, Any], **sets: list[str]
    ) -> dict[str, Any]:
        given = {name: value for name, value in fields.items() if value is not None}
        return {"do": "create", "kind": kind, "id": id_, "fields": given, "sets": sets}

    def crew(self) -> list[dict[str, Any]]:
        """Give the skills there are, who has which, whose hours are their own, and who is away."""
        made = [
            self.create("skill", self.id_of(key), {"name": name})
            for key, name in self.script["skills"].items()
        ]
        for person in self.script["crew"]:
            member = {"kind": "member", "id": self.hands[person["key"]].caller.member_id}
            put = {"do": "put_in", **member, "set": "skills"}
            made += [{**put, "member": self.id_of(key)} for key in person.get("skills", ())]
            if "hours" in person:
                made.append({"do": "set", **member, "fields": person["hours"]})
        for away in self.script["away"]:
            days = {"from_on": self.day(away["day"]), "to_on": self.day(away["day"])}
            whose = {"member_id": self.hands[away["who"]].caller.member_id, "text": away["text"]}
            made.append(self.create("away", self.ports.chance.new_id(), {**days, **whose}))
        return made

    def day(self, ahead: int) -> str:
        """Give a working day by how many of them lie before it; 0: today, or the next one."""
        zone = ZoneInfo(self.script["refit"]["time_zone"])
        day = self.ports.clock.now().astimezone(zone).date() - timedelta(days=1)
        while ahead >= 0:
            day += timedelta(days=1)
            ahead -= str(day.isoweekday()) in self.script["refit"]["work_days"]
        return day.isoformat()

    def instant(self, at: Mapping[str, Any]) -> str:
        """Give an instant by its working day and its time there."""
        zone = ZoneInfo(self.script["refit"]["time_zone"])
        local = datetime.fromisoformat(f"{self.day(at['day'])}T{at['time']}").replace(tzinfo=zone)
        return iso_of(local.astimezone(UTC))

    def zones(self) -> list[dict[str, Any]]:
        made = []
        for rank, zone in enumerate(self.script["zones"]):
            parent = self.id_of(zone["in"]) if "in" in zone else None
            fields = {
                "name": zone["name"],
                "parent_id": parent,
                "area_m2": zone.get("area_m2"),
                "holds": zone.get("holds"),
                "rank": rank,
            }
            made.append(self.create("zone", self.id_of(zone["key"]), fields))
        twins = [zone for zone in self.script["zones"] if "twin" in zone]
        for zone in twins:
            twin = {"twin_id": self.id_of(zone["twin"])}
            made.append(
                {"do": "set", "kind": "zone", "id": self.id_of(zone["key"]), "fields": twin}
            )
        return made

    def job(self, rank: int, job: Mapping[str, Any]) -> list[dict[str, Any]]:
        fields = {
            "title": job["title"],
            "text": job.get("text"),
            "zone_id": self.id_of(job["zone"]),
            "afloat_ok": job.get("afloat_ok"),
            "found_while": self._maybe(job, "found_while"),
            "mirror_of": self._maybe(job, "mirror_of"),
            "rank": rank,
        }
        made = [self.create("job", self.id_of(job["key"]), fields)]
        for place, step in enumerate(job["steps"]):
            made += self._step(job, place, step)
        return made

    def _step(
        self, job: Mapping[str, Any], place: int, step: Mapping[str, Any]
    ) -> Iterable[dict[str, Any]]:
        product = self.products[step["product"]].id if "product" in step else None
        fields = {
            "job_id": self.id_of(job["key"]),
            "kind": step["kind"],
            "title": step["title"],
            "labour_h": step.get("labour_h"),
            "held": step.get("held"),
            "held_text": step.get("held_text"),
            "expected_at": self.instant(step["expected"]) if "expected" in step else None,
            "weather_open": step.get("weather_open"),
            "crew_size": step.get("crew_size"),
            "product_id": product,
            "rank": place,
        }
        if "planned" in step:
            start_at = datetime.fromisoformat(self.instant(step["planned"]))
            end_at = start_at + timedelta(hours=step["planned"]["hours"])
            fields |= {"planned_start_at": iso_of(start_at), "planned_end_at": iso_of(end_at)}
        who = [self.hands[key].caller.member_id for key in step.get("who", ())]
        skills = [self.id_of(key) for key in step.get("skills", ())]
        sets = {name: ids for name, ids in (("assignees", who), ("skills", skills)) if ids}
        yield self.create("step", self.id_of(step["key"]), fields, **sets)
        for link in step.get("after", ()):
            gap = {
                "step_id": self.id_of(step["key"]),
                "after_id": self.id_of(link["step"]),
                "by_cure": link.get("by_cure"),
                "min_gap_s": link["min_gap_h"] * 3600 if "min_gap_h" in link else None,
            }
            yield self.create("link", self.ports.chance.new_id(), gap)

    def entry(self, entry: Mapping[str, Any]) -> tuple[str, dict[str, Any]]:
        """Give the act and the record of one line of the log."""
        for kind, write in _WRITERS.items():
            if kind in entry:
                name, body, key = write(self, entry[kind], entry)
                record = {
                    "do": "record",
                    "kind": name,
                    "id": self.id_of(key),
                    "body": body,
                    "replaces": None,
                }
                return f"log_{kind}", record
        raise ValueError(f"the demo's log has a line of no known kind: {entry}")

    def when(self, entry: Mapping[str, Any], more_minutes: float = 0) -> str:
        ago = timedelta(hours=entry["hours_ago"]) - timedelta(minutes=more_minutes)
        return iso_of(self.ports.clock.now() - ago)

    def _maybe(self, job: Mapping[str, Any], name: str) -> str | None:
        return self.id_of(job[name]) if name in job else None

    def reading(
        self, part: Mapping[str, Any], entry: Mapping[str, Any]
    ) -> tuple[str, dict[str, Any], str]:
        return "reading", {"taken_at": self.when(entry), **part}, self.ports.chance.new_id()

    def mark(
        self, part: Mapping[str, Any], entry: Mapping[str, Any]
    ) -> tuple[str, dict[str, Any], str]:
        body = {
            "step_id": self.id_of(part["step"]),
            "mark": part["mark"],
            "marked_at": self.when(entry),
        }
        return "mark", body, self.ports.chance.new_id()

    def hours(
        self, part: Mapping[str, Any], entry: Mapping[str, Any]
    ) -> tuple[str, dict[str, Any], str]:
        body = {
            "member_id": self.hands[entry["by"]].caller.member_id,
            "step_id": self.id_of(part["step"]),
            "worked_on": self.when(entry)[:10],
            "minutes": part["minutes"],
        }
        return "hours", body, self.ports.chance.new_id()

    def note(
        self, part: Mapping[str, Any], entry: Mapping[str, Any]
    ) -> tuple[str, dict[str, Any], str]:
        return (
            "note",
            {"job_id": self.id_of(part["job"]), "text": part["text"]},
            self.ports.chance.new_id(),
        )

    def mix(
        self, part: Mapping[str, Any], entry: Mapping[str, Any]
    ) -> tuple[str, dict[str, Any], str]:
        product = self.products[part["product"]]
        body = {
            "step_id": self.id_of(part["step"]),
            "product_id": product.id,
            "profile": product.fields["profile"],
            "stirred_at": self.when(entry),
            "base_g": part["base_g"],
            "hardener_g": part["hardener_g"],
            "temp_c": part["temp_c"],
        }
        return "mix", body, part["key"]

    def coat(
        self, part: Mapping[str, Any], entry: Mapping[str, Any]
    ) -> tuple[str, dict[str, Any], str]:
        product = self.products[part["product"]]
        body = {
            "step_id": self.id_of(part["step"]),
            "zone_id": self.id_of(part["zone"]),
            "product_id": product.id,
            "profile": product.fields["profile"],
            "mix_id": self.id_of(part["mix"]),
            "start_at": self.when(entry),
            "end_at": self.when(entry, part["minutes"]),
            "area_m2": part["area_m2"],
        }
        return "application", body, self.ports.chance.new_id()


_WRITERS = {
    "reading": _Script.reading,
    "mark": _Script.mark,
    "hours": _Script.hours,
    "note": _Script.note,
    "mix": _Script.mix,
    "coat": _Script.coat,
}


def play(
    script: Mapping[str, Any], hands: Mapping[str, Hand], products: Mapping[str, Item], ports: Ports
) -> None:
    """File the whole script: the owner makes zones and jobs, everybody logs what they did."""
    player = _Script(script, hands, products, ports)
    hands["owner"].do("create_crew", player.crew(), ports)
    hands["owner"].do("create_zones", player.zones(), ports)
    for rank, job in enumerate(script["jobs"]):
        hands["owner"].do("create_job", player.job(rank, job), ports)
    for entry in script["log"]:
        act, record = player.entry(entry)
        hands[entry["by"]].do(act, [record], ports)
