"""Watches every request at the server's door: who may write, who may read, and that no answer is a breakdown.

The table of roles is written from docs/sync.md, section 6, and asks nothing of the server's own.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from tackwatch.merge.catalogue import SCHEMA
from tests.simulation.books import Books, must
from tests.simulation.house import ELSEWHERE, House
from tests.simulation.phones import Asked
from tests.support.wires import Answer

WORK = frozenset({"zone", "job", "step", "link", "product", "skill"})
OWN_HOURS = frozenset({"day_starts", "day_ends", "work_days"})
OWN = frozenset({"name", "language", "recoat_lead_min", "pot_lead_min"})
MADE_BY_SERVER = frozenset({"device", "member", "refit"})


@dataclass(frozen=True, slots=True)
class Before:
    """What stood before a request: by device its member and count, by member the role, and the refit's number."""

    devices: dict[str, dict[str, Any]]
    roles: dict[str, str]
    seq: int


@dataclass
class Doorkeeper:
    """Sees what comes and goes."""

    house: House
    books: Books
    schema: int = SCHEMA

    def __post_init__(self) -> None:
        assert self.house.other
        self._refit_id = self.house.keys[0].refit_id
        self._other_ids = [self.house.other.refit_id, self.house.other.member_id, ELSEWHERE]

    def before(self, asked: Asked) -> Before:
        del asked
        devices = self.house.rows(
            "SELECT id, member_id, revoked_at, last_n FROM device WHERE refit_id = :refit",
            refit=self._refit_id,
        )
        members = self.house.rows(
            "SELECT id, fields FROM item WHERE refit_id = :refit AND kind = 'member'",
            refit=self._refit_id,
        )
        roles = {
            row["id"]: "" if row["fields"].get("gone") else row["fields"]["role"] for row in members
        }
        return Before({row["id"]: row for row in devices}, roles, self._seq())

    def _seq(self) -> int:
        query = "SELECT seq FROM refit WHERE id = :refit"
        return int(self.house.rows(query, refit=self._refit_id)[0]["seq"])

    def knows(self, device_id: str) -> bool:
        """Say whether a device may come in now."""
        before = self.before(None)  # type: ignore[arg-type]
        return _welcome(before, device_id)

    def role_of(self, member_id: str) -> str:
        return self.before(None).roles.get(member_id, "")  # type: ignore[arg-type]

    def nothing_from_elsewhere(self, answer: Answer) -> None:
        """No answer holds anything of another refit."""
        text = answer.content.decode("utf-8", "replace")
        found = [one for one in self._other_ids if one in text]
        must(not found, "another-refit-shown", f"{found} in an answer")

    def after(self, asked: Asked, before: Before, answer: Answer, alone: bool = True) -> None:
        """Look at an answer; where another request went on at once, the order of what both filed is not known."""
        self.nothing_from_elsewhere(answer)
        must(
            answer.status < 500,
            "server-broke",
            f"{asked.path}: {answer.status} {answer.content[:300]!r}",
        )
        device = asked_by(self.house, asked, before)
        if device is None or not _welcome(before, device):
            must(answer.status == 401, "let-in-without-key", f"{device} got {answer.status}")
            must(b"changes" not in answer.content, "shown-without-key", f"{device}")
            return
        if "/uploads" in asked.path:
            viewer = before.roles[before.devices[device]["member_id"]] == "viewer"
            refused = answer.status == 403
            must(refused == viewer, "not-allowed-but-done", f"{asked.path}: {answer.status}")
            return
        if "/sync" not in asked.path:
            must(answer.status in (200, 404), "request-not-taken", f"{asked.path}: {answer.status}")
            return
        if not alone and answer.status == 401:
            return  # the other request took the key away
        must(
            answer.status in (200, 204),
            "request-not-taken",
            f"{answer.status} {answer.content[:300]!r}",
        )
        if alone:
            self._filed(device, before)

    def after_death(self, asked: Asked, before: Before) -> None:
        """Whatever was filed before the server died had to be allowed too."""
        device = asked_by(self.house, asked, before)
        if device is not None:
            self._filed(device, before)

    def _filed(self, device: str, before: Before) -> None:
        """Look at what a request filed, in its order, with the role that its person had."""
        filed = self.house.rows(
            "SELECT n, sent, at, actions, refusal FROM operation WHERE device_id = :device AND n > :n ORDER BY n",
            device=device,
            n=before.devices[device]["last_n"],
        )
        if not filed:
            must(self._seq() == before.seq, "applied-twice", f"{device} filed nothing new")
            return
        member = before.devices[device]["member_id"]
        role = before.roles.get(member, "")
        for row in filed:
            self._judge(row, role, member)
            if row["refusal"] is None and _changes_role(row["actions"], member):
                return  # from here on the role is the merge's to say

    def _judge(self, row: dict[str, Any], role: str, member: str) -> None:
        refused = row["refusal"] is not None and row["refusal"]["type"].endswith(":not-allowed")
        whose = self._absences()
        allowed = all(may(role, member, action, whose) for action in row["actions"])
        if row["refusal"] is None:
            must(allowed, "not-allowed-but-done", f"a {role or 'stranger'}: {row['actions']}")
        if refused:
            must(not allowed, "allowed-but-refused", f"a {role}: {row['actions']}")

    def _absences(self) -> dict[str, str | None]:
        """Give whose each absence is."""
        query = "SELECT id, fields FROM item WHERE refit_id = :refit AND kind = 'away'"
        rows = self.house.rows(query, refit=self._refit_id)
        return {row["id"]: row["fields"].get("member_id") for row in rows}


def asked_by(house: House, asked: Asked, before: Before) -> str | None:
    """Give the device whose key a request carries, where the server knows it."""
    key = asked.headers.get("Authorization", "").removeprefix("Bearer ")
    return next(
        (
            one.device_id
            for one in house.given
            if one.key == key and one.device_id in before.devices
        ),
        None,
    )


def _welcome(before: Before, device: str) -> bool:
    row = before.devices.get(device)
    return (
        row is not None and row["revoked_at"] is None and bool(before.roles.get(row["member_id"]))
    )


def _changes_role(actions: list[dict[str, Any]], member: str) -> bool:
    return any(
        action.get("id") == member and {"role", "gone"} & set(action.get("fields") or {})
        for action in actions
    )


def may(role: str, member: str, action: dict[str, Any], absences: dict[str, str | None]) -> bool:
    """Say whether a role may do an action, by docs/sync.md, section 6; ``absences`` says whose each is."""
    do, kind = action.get("do"), action.get("kind")
    if not role or kind == "device" or (do == "create" and kind in MADE_BY_SERVER):
        return False
    if role == "owner":
        return True
    if do == "set" and kind == "member":
        own = OWN | (OWN_HOURS if role == "hand" else frozenset())
        return action["id"] == member and set(action["fields"]) <= own
    if role == "viewer":
        return do == "record" and kind == "seen"
    if do == "record":
        return not (kind == "mark" and action["body"].get("mark") == "signed_off")
    if do == "settle":
        return all(_may_settle(member, one, absences) for one in action["differences"])
    if kind == "away" and do == "create":
        return action["fields"].get("member_id") == member
    if kind == "away":
        return absences.get(action["id"]) == member
    if do == "set" and "gone" in action["fields"]:
        return False
    return kind in WORK


def _may_settle(member: str, difference: str, absences: dict[str, str | None]) -> bool:
    item, field = difference.split(".")[-3:-1]
    if item in absences:
        return absences[item] == member
    return field not in ("gone", "role")


def plain(answer: Answer) -> Any:
    return json.loads(answer.content)
