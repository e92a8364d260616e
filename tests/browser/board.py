"""A refit that is under way, put there over the API: what a test needs on the board but is not about."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.support.phone import Phone


@dataclass(frozen=True)
class Board:
    """The ids of what is on the board, and the owner's phone in Python."""

    owner: Phone
    port_id: str
    starboard_id: str
    job_id: str
    step_ids: tuple[str, str]
    product_id: str

    def invited(self, name: str, role: str = "hand", language: str = "en") -> tuple[str, str]:
        """Invite somebody; gives the link and the member's id."""
        return _invited(self.owner, {"role": role, "name": name, "language": language})

    def owners_link(self) -> str:
        """Invite the owner to one more device."""
        return self.another_phones_link(self.owner.member_id, "Olga", "owner")

    def another_phones_link(self, member_id: str, name: str, role: str) -> str:
        """Invite somebody who is in the crew already to one more device."""
        return _invited(self.owner, {"role": role, "name": name, "member_id": member_id})[0]

    def assign(self, *member_ids: str) -> None:
        """Give both coats to these people."""
        self.owner.sync()
        for step_id in self.step_ids:
            for member_id in member_ids:
                self.owner.act(
                    "assign",
                    {"do": "put_in", "kind": "step", "id": step_id, "set": "assignees", "member": member_id},
                )  # fmt: skip
        self.owner.sync()

    def coat(self, step: int, hours_ago: float, text: str = "") -> str:
        """Log a coat of half an hour that ended so long ago."""
        end_at = datetime.now(UTC) - timedelta(hours=hours_ago)
        body = {
            "step_id": self.step_ids[step],
            "zone_id": self.port_id,
            "product_id": self.product_id,
            "profile": self.owner.item(self.product_id).fields["profile"],
            "start_at": written(end_at - timedelta(minutes=30)),
            "end_at": written(end_at),
            **({"text": text} if text else {}),
        }
        return self.owner.record("application", body)

    def title(self) -> str:
        """Give the job's title as the server has it."""
        self.owner.sync()
        return str(self.owner.item(self.job_id).fields["title"])

    def gone(self, item_id: str) -> bool:
        """Say whether the server has an item deleted."""
        self.owner.sync()
        return self.owner.item(item_id).gone

    def role(self, member_id: str) -> str:
        """Give what the server says that somebody may do."""
        self.owner.sync()
        return str(self.owner.item(member_id).fields["role"])

    def records(self, kind: str) -> list[dict[str, Any]]:
        """Give what the server's records of a kind say."""
        self.owner.sync()
        found = self.owner.state.records.values()
        return [dict(record.body) for record in found if record.kind == kind]


def lay_out(owner: Phone, profile_id: str = "laminating_epoxy_fast") -> Board:
    """Put two zones and a job of two coats on the board, the second by the cure of the first."""
    owner.sync()
    product_id = next(
        item.id
        for item in owner.state.items.values()
        if item.kind == "product" and item.fields["profile"]["id"] == profile_id
    )
    port_id = owner.create("zone", {"name": "Port hull", "rank": 1})
    starboard_id = owner.create("zone", {"name": "Starboard hull", "rank": 2, "twin_id": port_id})
    owner.sync()
    owner.set("zone", port_id, {"twin_id": starboard_id})
    job_id = owner.create("job", {"title": "Barrier coats", "zone_id": port_id, "rank": 1})
    first_id, second_id = (
        owner.create(
            "step",
            {"job_id": job_id, "kind": "coat", "title": title, "product_id": product_id, "rank": rank},
        )
        for rank, title in enumerate(("Coat 1", "Coat 2"))
    )  # fmt: skip
    owner.create("link", {"step_id": second_id, "after_id": first_id, "by_cure": True})
    owner.sync()
    return Board(owner, port_id, starboard_id, job_id, (first_id, second_id), product_id)


def written(at: datetime) -> str:
    """Write an instant as the API takes it."""
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _invited(owner: Phone, body: dict[str, Any]) -> tuple[str, str]:
    answer = owner.call("POST", "/invites", body=body)
    assert answer.status == 201, answer.content
    return str(answer.json["link"]), str(answer.json["member_id"])
