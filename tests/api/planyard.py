"""A refit with something to plan: two hands, a coat after sanding, another job beside it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from tackwatch.settings import fixtures_dir
from tests.support.phone import Phone
from tests.support.wires import Answer

PRIMER = json.loads((fixtures_dir() / "profiles" / "epoxy_barrier_primer.json").read_text())


@dataclass
class PlanYard:
    """The phones, and the ids of what was made."""

    owner: Phone
    hand: Phone
    ids: dict[str, str]

    def ask(self, **body: Any) -> str:
        """Ask for a plan, and give its id."""
        answer = self.owner.call("POST", "/plans", body=body)
        assert answer.status == 202, answer.content
        return str(answer.json["plan_id"])

    def plan(self, plan_id: str) -> Any:
        answer = self.owner.call("GET", f"/plans/{plan_id}")
        assert answer.status == 200, answer.content
        return answer.json

    def publish(self, plan_id: str, proposal_id: str = "fresh") -> Answer:
        return self.owner.call(
            "POST", f"/plans/{plan_id}/publish", body={"proposal_id": proposal_id}
        )

    def step(self, name: str, phone: Phone | None = None) -> Any:
        return (phone or self.owner).item(self.ids[name])


def plan_yard(owner: Phone) -> PlanYard:
    """Make the rows; the clock stands on a Monday at eight."""
    hand = owner.crew("hand", "Hank")
    owner.sync()
    ids = {}
    ids["zone"] = owner.create("zone", {"name": "Port hull", "area_m2": 10, "holds": 2})
    ids["product"] = owner.create("product", {"name": "Primer", "profile": PRIMER})
    ids["skill"] = owner.create("skill", {"name": "Spraying"})
    ids["job"] = owner.create("job", {"title": "Prime", "zone_id": ids["zone"]})
    ids["sand"] = owner.create("step", {"job_id": ids["job"], "kind": "sand", "labour_h": 4})
    ids["coat"] = owner.create(
        "step",
        {"job_id": ids["job"], "kind": "coat", "labour_h": 2, "product_id": ids["product"]},
        {"skills": [ids["skill"]]},
    )
    ids["coat2"] = owner.create(
        "step",
        {"job_id": ids["job"], "kind": "coat", "labour_h": 2, "product_id": ids["product"]},
        {"skills": [ids["skill"]]},
    )
    for step, after, cure in (("coat", "sand", False), ("coat2", "coat", True)):
        fields = {"step_id": ids[step], "after_id": ids[after], "by_cure": cure}
        ids[f"{step}_link"] = owner.create("link", fields)
    ids["other_job"] = owner.create("job", {"title": "Winch", "afloat_ok": True})
    ids["fit"] = owner.create("step", {"job_id": ids["other_job"], "kind": "fit", "labour_h": 3})
    put = {"do": "put_in", "kind": "member", "set": "skills", "member": ids["skill"]}
    owner.act("put_in", {**put, "id": hand.member_id})
    assert owner.sync()["refused"] == []
    hand.sync()
    return PlanYard(owner, hand, ids)
