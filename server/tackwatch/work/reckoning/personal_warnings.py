"""Who is to be warned of what, when, and how.

Rules
-----
- The warnings of coats and pots, of planned steps, and of the refit; each goes to those whom it concerns.
- What a person switched off is not among them. Viewers are rung where they asked for it.
- What falls into a person's quiet hours and can wait is due when they end. A pot, a window that closes and dew on wet
  paint do not wait; the latest time into the water does, unless the person chose how long before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from tackwatch.merge.state import Item
from tackwatch.trade.steps import StepState
from tackwatch.trade.warning_kinds import MANNERS
from tackwatch.trade.warnings import Warning, iso_of
from tackwatch.work.reckoning.coat_warnings import Audience, CoatWarnings
from tackwatch.work.reckoning.quiet import held_until
from tackwatch.work.reckoning.refit_warnings import launch_warnings, stale_warning
from tackwatch.work.reckoning.ring_rules import Ring, RingRules
from tackwatch.work.reckoning.rows import RefitRows
from tackwatch.work.reckoning.sources import Source
from tackwatch.work.reckoning.step_warnings import StepWarnings
from tackwatch.work.reckoning.weather import Weather


@dataclass(frozen=True, slots=True)
class PersonalWarning:
    """A warning with whom it is for, how it rings for them, and the step that it is about."""

    member_id: str
    warning: Warning
    ring: Ring
    step_id: str | None


class PersonalWarnings:
    """Works out every warning with the person it is for."""

    def __init__(
        self,
        refit: RefitRows,
        sources: Sequence[Source],
        by_step: Mapping[str, Sequence[Source]],
        steps: Mapping[str, StepState],
        now: datetime,
    ) -> None:
        self._refit = refit
        self.rules = RingRules(refit)
        self._weather = Weather(refit, now)
        self._coats = CoatWarnings(refit, sources, by_step, steps, self.rules)
        self._steps = StepWarnings(refit, steps, self.rules, self._weather)

    def all(self) -> Iterable[PersonalWarning]:
        """Give them all."""
        by_member: dict[str, list[tuple[datetime, list[Warning]]]] = defaultdict(list)
        for audience in self._coats.audiences:
            for member in audience.members:
                warnings = list(self._coats.of(audience, member))
                if not audience.source.is_pot:
                    by_member[member.id].append((audience.source.start_at, warnings))
                for warning in [*warnings, *self._edge(audience, member)]:
                    yield from self._for(member, warning, audience.steps, audience.source.step_id)
        for planned in self._steps.planned:
            for member in self._steps.members(planned.step):
                for warning in self._steps.of(planned, member):
                    yield from self._for(member, warning, {planned.step.id}, planned.step.id)
        yield from self._of_the_refit(by_member)

    def _of_the_refit(
        self, coats: Mapping[str, Sequence[tuple[datetime, Sequence[Warning]]]]
    ) -> Iterable[PersonalWarning]:
        refit = next(iter(self._refit.items["refit"].values()), None)
        if refit is None:
            return
        for member in self._refit.live("member").values():
            stale = stale_warning(refit, self._weather.last_at, coats.get(member.id, ()))
            for warning in [*launch_warnings(refit), *([stale] if stale else [])]:
                yield from self._for(member, warning, (), None)

    def _edge(self, audience: Audience, member: Item) -> Iterable[Warning]:
        """Give the warning that a coat that is drying will lose its margin above the dew point."""
        source = audience.source
        dry_at = next((one.governing_at for one in source.clocks if one.stage == "touch_dry"), None)
        if source.dew_margin_k is None:
            return
        edge = self._weather.edge(source.dew_margin_k, source.start_at, dry_at)
        if edge is None:
            return
        ring = self.rules.ring(member, "weather_edge", audience.steps)
        ahead = timedelta(seconds=(ring.lead_s or 0.0) + ring.walk_s)
        yield Warning(
            f"{source.id}.weather_edge",
            "weather_edge",
            source.id,
            max(edge.known_at, edge.lost_at - ahead),
            edge.dry_at,
            {"lost_at": iso_of(edge.lost_at), "dry_at": iso_of(edge.dry_at)},
        )

    def _for(
        self, member: Item, warning: Warning, steps: Collection[str], step_id: str | None
    ) -> Iterable[PersonalWarning]:
        ring = self.rules.ring(member, warning.kind, steps)
        if not ring.off:
            yield PersonalWarning(member.id, held(warning, ring), ring, step_id)


def held(warning: Warning, ring: Ring) -> Warning:
    """Give a warning as a person's quiet hours let it ring."""
    waits = MANNERS[warning.kind].waits or (warning.kind == "immerse_closing" and not ring.asked)
    if not waits:
        return warning
    until = held_until(warning.due_at, ring.quiet_from, ring.quiet_to, ring.zone)
    if until == warning.due_at:
        return warning
    return replace(
        warning, due_at=until, params={**warning.params, "held_from": iso_of(warning.due_at)}
    )
