"""The warnings of coats and pots, each for one person.

Rules
-----
- A coat's warnings go to who logged it and to who has the steps that wait for it (its own step, where none do); a pot's
  to who mixed it; both to who asked for them (``ring_rules``).
- A recoat warning is wanted while a step that follows by cure has not begun, and where nothing follows at all; that a
  window was missed only where something waits for it.
- ``sandable`` is wanted where sanding waits for it; the water's windows where a step waits for the water, or on the
  last coat.
- Where the next coat is planned to take longer than the one below took, it must start by as much earlier.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from tackwatch.merge.state import Item
from tackwatch.trade.steps import StepState
from tackwatch.trade.warning_kinds import WarningKind
from tackwatch.trade.warnings import Leads, Warning, warnings_of
from tackwatch.work.reckoning.ring_rules import RingRules
from tackwatch.work.reckoning.rows import Link, RefitRows
from tackwatch.work.reckoning.sources import Source
from tackwatch.work.reckoning.step_states import window_stages

_SANDING = ("sand", "grind")
BEGUN = ("finished", "signed_off", "under_way", "curing")


@dataclass(frozen=True, slots=True)
class Audience:
    """A coat or pot with those whom it concerns, and the steps by which they may have said how it rings."""

    source: Source
    members: tuple[Item, ...]
    steps: frozenset[str]
    waiting: tuple[str, ...]
    followed: bool


class CoatWarnings:
    """Gives the warnings of all sources."""

    def __init__(
        self,
        refit: RefitRows,
        sources: Sequence[Source],
        by_step: Mapping[str, Sequence[Source]],
        steps: Mapping[str, StepState],
        rules: RingRules,
    ) -> None:
        self._refit, self._by_step, self._steps, self._rules = refit, by_step, steps, rules
        self._members = refit.live("member")
        self._following: dict[str, list[Link]] = defaultdict(list)
        for link in refit.links:
            if link.by_cure and link.step_id in steps:
                self._following[link.after_id].append(link)
        self.audiences = [self._audience(source) for source in sources]

    def of(self, audience: Audience, member: Item) -> Iterable[Warning]:
        """Give a member's warnings of one source, wanted or switched off by nobody."""
        kinds = {str(self._refit.items["step"][id_].fields["kind"]) for id_ in audience.waiting}
        for warning in warnings_of(audience.source.clocks, self._leads(audience, member)):
            if _wanted(warning.kind, audience, kinds):
                yield warning

    def _audience(self, source: Source) -> Audience:
        after = self._following.get(source.step_id or "", [])
        waiting = tuple(one.step_id for one in after if not self._begun(one.step_id, source))
        steps = frozenset((*waiting, *([source.step_id] if source.step_id else ())))
        people = [*self._people(source, waiting), *self._rules.followers(steps)]
        members = [self._members[id_] for id_ in dict.fromkeys(people) if id_ in self._members]
        return Audience(source, tuple(members), steps, waiting, bool(after))

    def _begun(self, id_: str, source: Source) -> bool:
        if self._steps[id_].state in BEGUN:
            return True
        return any(one.start_at >= source.start_at for one in self._by_step.get(id_, ()))

    def _people(self, source: Source, waiting: Sequence[str]) -> list[str]:
        people = list(source.authors)
        if not source.is_pot:
            steps = self._refit.items["step"]
            for id_ in waiting or ([source.step_id] if source.step_id else []):
                if id_ in steps and not steps[id_].gone:
                    people += sorted(steps[id_].sets.get("assignees", {}))
        return people

    def _leads(self, audience: Audience, member: Item) -> Leads:
        def lead_s(kind: WarningKind) -> float:
            ring = self._rules.ring(member, kind, audience.steps)
            return (ring.lead_s or 0.0) + ring.walk_s

        return Leads(
            pot_life_ending_s=lead_s("pot_life_ending"),
            recoat_closing_s=lead_s("recoat_closing"),
            immerse_closing_s=lead_s("immerse_closing"),
            next_longer_s=self._next_longer_s(audience),
        )

    def _next_longer_s(self, audience: Audience) -> float:
        source = audience.source
        if source.end_at is None or source.open:
            return 0.0
        own_s = (source.end_at - source.start_at).total_seconds()
        steps = [self._refit.items["step"][id_] for id_ in audience.waiting]
        coats = [
            step for step in steps if window_stages(str(step.fields["kind"]))[0] == "recoat_opens"
        ]
        return max([0.0, *(coat_s(step) - own_s for step in coats)])


def coat_s(step: Item) -> float:
    """Give how long a step is planned to take, in seconds; 0 where nobody said."""
    fields = step.fields
    return 3600.0 * (fields.get("labour_h") or 0.0) / (fields.get("crew_size") or 1)


def _wanted(kind: str, audience: Audience, waiting_kinds: set[str]) -> bool:
    """Say whether a kind of warning helps anybody, given what still waits for this coat."""
    if audience.source.is_pot:
        return True
    coats = {k for k in waiting_kinds if window_stages(k)[0] == "recoat_opens"}
    if kind == "sandable":
        return any(k in _SANDING for k in waiting_kinds)
    if kind.startswith("immerse"):
        return "wait" in waiting_kinds or not audience.followed
    if kind == "recoat_missed":
        return bool(coats)
    return bool(coats) or not audience.followed
