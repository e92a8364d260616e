"""The names that a sentence about an alarm needs: of step, job, zone, product and persons."""

from __future__ import annotations

from collections.abc import Mapping

from tackwatch.merge.state import Item
from tackwatch.work.reckoning.hand_on import HandedOn
from tackwatch.work.reckoning.personal_warnings import PersonalWarning
from tackwatch.work.reckoning.sources import Source


class Naming:
    """Names things among the items at hand."""

    def __init__(self, items: Mapping[str, Item], sources: Mapping[str, Source]) -> None:
        self._items, self._sources = items, sources

    def of(self, one: PersonalWarning) -> dict[str, str]:
        """Give the names that belong to a warning; empty where there is none."""
        source = self._sources.get(one.warning.source_id)
        step = self._items.get(one.step_id or "")
        job = self._items.get(step.fields["job_id"]) if step else None
        zone_id = (source.zone_id if source else None) or (
            job.fields.get("zone_id") if job else None
        )
        product_id = (
            source.product_id if source else step.fields.get("product_id") if step else None
        )
        zone, product = self._items.get(zone_id or ""), self._items.get(product_id or "")
        return {
            "step": str(step.fields.get("title") or "") if step else "",
            "step_id": one.step_id or "",
            "step_kind": str(step.fields.get("kind") or "") if step else "",
            "job": str(job.fields["title"]) if job else "",
            "job_id": job.id if job else "",
            "zone": str(zone.fields["name"]) if zone else "",
            "product": str(product.fields["name"]) if product else "",
        }

    def member(self, id_: str) -> str:
        """Give a person's name."""
        member = self._items.get(id_)
        return str(member.fields["name"]) if member else ""

    def handed(self, one: HandedOn) -> dict[str, str | float]:
        """Give whose alarm it was, and after how long it goes on."""
        return {
            "handed_from": one.from_member_id,
            "handed_name": self.member(one.from_member_id),
            "handed_after_s": one.after_s,
        }
