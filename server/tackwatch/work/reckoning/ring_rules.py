"""How a warning rings for one person: what the person, or the owner for them, said about it.

Rules
-----
- Each field is taken from the most specific rule that says something about it: for this step and this kind, for this
  step, for this kind, for everything; then from how the kind rings by itself (``trade.warning_kinds``).
- The leads of older phones (``recoat_lead_min``, ``pot_lead_min`` of a member) stand between a rule for the kind and
  one for everything.
- Of two rules for the same thing the one that was made later counts.
- Who looks on is rung only where a rule says ``off: false``; a hand so for the countdown to the launch. Such a rule for
  a step also rings who has nothing to do with it.
- Quiet hours are wall times in the person's own zone, where they have given one, else in the refit's.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from tackwatch.merge.state import Item
from tackwatch.trade.warning_kinds import MANNERS, WALK_MIN, WarningKind
from tackwatch.work.reckoning.rows import RefitRows

_OLD_LEADS = {"pot_life_ending": "pot_lead_min", "recoat_closing": "recoat_lead_min"}
_STEP, _KIND = 2, 1


@dataclass(frozen=True, slots=True)
class Ring:
    """How one kind of warning rings for one person. ``asked``: the lead is the person's own choice."""

    off: bool
    lead_s: float | None
    asked: bool
    walk_s: float
    by_push: bool
    by_mail: bool
    by_webhook: bool
    quiet_from: str | None
    quiet_to: str | None
    zone: str
    next_member_id: str | None
    unseen_s: float | None


class RingRules:
    """Answers for each person, kind and step."""

    def __init__(self, refit: RefitRows) -> None:
        owner = next(iter(refit.items["refit"].values()), None)
        self._zone = str(owner.fields["time_zone"]) if owner else "UTC"
        self._rules: dict[str, list[Item]] = defaultdict(list)
        for rule in refit.live("ring_rule").values():
            self._rules[str(rule.fields["member_id"])].append(rule)
        for rules in self._rules.values():
            rules.sort(key=lambda rule: (rule.at, rule.id), reverse=True)
        self._known: dict[tuple[str, WarningKind, frozenset[str]], Ring] = {}

    def ring(self, member: Item, kind: WarningKind, steps: Collection[str] = ()) -> Ring:
        """Give how a kind rings for a member, about some steps."""
        named = {str(rule.fields.get("step_id")) for rule in self._rules.get(member.id, ())}
        key = (member.id, kind, frozenset(named & set(steps)))
        if key not in self._known:
            self._known[key] = self._made(member, kind, key[2])
        return self._known[key]

    def followers(self, steps: Collection[str]) -> list[str]:
        """Give who asked to be rung about one of these steps."""
        return sorted(
            member_id
            for member_id, rules in self._rules.items()
            if any(
                rule.fields.get("step_id") in steps and rule.fields.get("off") is False
                for rule in rules
            )
        )

    def _made(self, member: Item, kind: WarningKind, steps: Collection[str]) -> Ring:
        layers = self._layers(member, kind, steps)
        manner = MANNERS[kind]

        def said(name: str, otherwise: Any) -> Any:
            values = (layer.get(name) for layer in layers)
            return next((value for value in values if value is not None), otherwise)

        own_lead, unseen_min = said("lead_min", None), said("unseen_min", manner.unseen_min)
        lead_min = manner.lead_min if own_lead is None else own_lead
        role = member.fields.get("role")
        silent = role == "viewer" or (kind == "launch_countdown" and role != "owner")
        return Ring(
            off=said("off", silent),
            lead_s=None if lead_min is None else 60.0 * lead_min,
            asked=own_lead is not None,
            walk_s=60.0 * said("walk_min", WALK_MIN) if manner.walk else 0.0,
            by_push=said("by_push", True),
            by_mail=said("by_mail", False),
            by_webhook=said("by_webhook", False),
            quiet_from=said("quiet_from", None),
            quiet_to=said("quiet_to", None),
            zone=str(member.fields.get("time_zone") or self._zone),
            next_member_id=said("next_member_id", None),
            unseen_s=60.0 * unseen_min if unseen_min else None,
        )

    def _layers(
        self, member: Item, kind: WarningKind, steps: Collection[str]
    ) -> list[Mapping[str, Any]]:
        """Give what was said, the most specific first."""
        found: dict[int, list[Mapping[str, Any]]] = defaultdict(list)
        for rule in self._rules.get(member.id, ()):
            step_id, of_kind = rule.fields.get("step_id"), rule.fields.get("kind")
            if (step_id is None or step_id in steps) and of_kind in (None, kind):
                rank = _STEP * (step_id is not None) + _KIND * (of_kind is not None)
                found[rank].append(rule.fields)
        old = member.fields.get(_OLD_LEADS.get(kind, ""))
        older = [] if old is None else [{"lead_min": old}]
        return [*found[_STEP + _KIND], *found[_STEP], *found[_KIND], *older, *found[0]]
