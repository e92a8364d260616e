"""Beginning the demo refit, or finding it again, and giving everybody in it a way in."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from tackwatch.settings import fixtures_dir
from tackwatch.store import keyring, rows
from tackwatch.trade.warnings import iso_of
from tackwatch.work.caller import Caller
from tackwatch.work.claim_invite import claim_invite
from tackwatch.work.create_refit import RefitAsked, create_refit
from tackwatch.work.demo.script import Hand, play
from tackwatch.work.invite import InviteAsked, invite
from tackwatch.work.plans import ask
from tackwatch.work.ports import Ports

_KEPT = "demo"
PLAN_SECONDS = 8


@dataclass(frozen=True, slots=True)
class DemoLink:
    """A way in for one person of the demo."""

    name: str
    role: str
    link: str


def begin_demo(public_url: str, ports: Ports) -> tuple[DemoLink, ...]:
    """Make the demo refit where there is none yet; give a fresh link for each of its people."""
    script = json.loads((fixtures_dir() / "demo" / "refit.json").read_text("utf-8"))
    kept = keyring.get(_KEPT)
    known: dict[str, Any] = json.loads(kept) if kept else _make(script, public_url, ports)
    owner = Caller(known["refit_id"], "", known["members"]["owner"], "owner")
    links = []
    for person in script["crew"]:
        asked = InviteAsked(member_id=known["members"][person["key"]], days=30)
        made = invite(owner, asked, public_url, ports)
        links.append(DemoLink(person["name"], f"{person['key']}", made.link))
    return tuple(links)


def _make(script: Mapping[str, Any], public_url: str, ports: Ports) -> dict[str, Any]:
    crew = {person["key"]: person for person in script["crew"]}
    made = create_refit(_asked(script["refit"], crew["owner"], ports.clock.now()), ports)
    owner = Caller(made.refit_id, made.device_id, made.member_id, "owner")
    hands = {"owner": Hand(owner)}
    for key, person in crew.items():
        if key == "owner":
            continue
        asked = InviteAsked(person["role"], person["name"], person["language"])
        device = claim_invite(invite(owner, asked, public_url, ports).token, "Demo phone", ports)
        hands[key] = Hand(Caller(made.refit_id, device.device_id, device.member_id, person["role"]))
    products = {
        str(item.fields["profile"]["id"]): item for item in rows.items(made.refit_id, ("product",))
    }
    play(script, hands, products, ports)
    ask(owner, PLAN_SECONDS, ports)  # worked out as soon as somebody serves
    known = {
        "refit_id": made.refit_id,
        "members": {key: hand.caller.member_id for key, hand in hands.items()},
    }
    keyring.put_if_absent(_KEPT, json.dumps(known))
    return known


def _asked(refit: Mapping[str, Any], owner: Mapping[str, Any], now: datetime) -> RefitAsked:
    zone = ZoneInfo(refit["time_zone"])
    day = now.astimezone(zone) + timedelta(days=refit["launch"]["day"])
    hour, minute = map(int, refit["launch"]["time"].split(":"))
    launch = day.replace(hour=hour, minute=minute, second=0, microsecond=0)
    return RefitAsked(
        name=refit["name"],
        time_zone=refit["time_zone"],
        launch_at=iso_of(launch.astimezone(now.tzinfo)),
        owner_name=owner["name"],
        language=owner["language"],
        day_starts=refit["day_starts"],
        day_ends=refit["day_ends"],
        work_days=refit["work_days"],
        curve_min_c=refit["curve_min_c"],
        curve_max_c=refit["curve_max_c"],
        curve_hour_of_max=refit["curve_hour_of_max"],
        device_name="Demo phone",
    )
