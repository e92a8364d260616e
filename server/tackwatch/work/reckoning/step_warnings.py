"""The warnings of steps that were given a time, each for one person.

Rules
-----
- They go to who has the step, and where nobody has it to the owners; also to who asked for them.
- ``step_due``: a lead and the way to the boat before the planned start, while the step has not begun. A start that was
  planned later than that is told at the start itself; one that was written down when it had passed is not.
- ``step_late``: so long after the planned start while the step has not begun; once it has, so long after the planned
  end. A step that somebody holds is late for a reason that is known, and rings nobody.
- ``weather_edge``: a lead before a planned coat that would lose its margin above the dew point before it is dry.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from tackwatch.merge.hlc import parse
from tackwatch.merge.state import Item
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.errors import TradeError
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.steps import StepState
from tackwatch.trade.types import Coat
from tackwatch.trade.warnings import Warning, iso_of
from tackwatch.trade.weather_edge import WeatherEdge
from tackwatch.work.reckoning.coat_warnings import BEGUN, coat_s
from tackwatch.work.reckoning.ring_rules import RingRules
from tackwatch.work.reckoning.rows import RefitRows, at_of
from tackwatch.work.reckoning.sources import margin_of
from tackwatch.work.reckoning.weather import Weather

_SETTLED = ("finished", "signed_off", "held")
_LAYS = ("coat", "laminate", "fillet", "fair", "bed")
DUE_USEFUL = timedelta(hours=4)


def written_at(item: Item, name: str) -> datetime:
    """Give when a field was written, by its stamp."""
    return datetime.fromtimestamp(parse(item.stamp(name)).ms / 1000, UTC)


@dataclass(frozen=True, slots=True)
class Planned:
    """A step with its planned instants and how it stands."""

    step: Item
    state: str
    start_at: datetime
    end_at: datetime | None

    @property
    def begun(self) -> bool:
        """Say whether somebody is at it or was."""
        return self.state in BEGUN

    def warning(
        self, kind: str, due_at: datetime, useless: datetime | None, **more: datetime
    ) -> Warning:
        """Make a warning about this step."""
        known = {"planned_start_at": self.start_at, "planned_end_at": self.end_at, **more}
        told = {name: iso_of(at) for name, at in known.items() if at is not None}
        id_ = self.step.id
        return Warning(f"{id_}.{kind}", kind, id_, due_at, useless, {"state": self.state, **told})  # type: ignore[arg-type]


class StepWarnings:
    """Gives the warnings of all planned steps."""

    def __init__(
        self,
        refit: RefitRows,
        steps: Mapping[str, StepState],
        rules: RingRules,
        weather: Weather,
    ) -> None:
        self._refit, self._rules, self._weather = refit, rules, weather
        self._members = refit.live("member")
        self._known: dict[str, WeatherEdge | None] = {}
        self.planned = list(self._planned(steps))

    def members(self, step: Item) -> list[Item]:
        """Give whom a step concerns."""
        people = sorted(id_ for id_ in step.sets.get("assignees", {}) if id_ in self._members)
        if not people:
            people = sorted(
                id_ for id_, one in self._members.items() if one.fields.get("role") == "owner"
            )
        people += [id_ for id_ in self._rules.followers({step.id}) if id_ in self._members]
        return [self._members[id_] for id_ in dict.fromkeys(people)]

    def of(self, planned: Planned, member: Item) -> Iterable[Warning]:
        """Give a member's warnings of one step."""
        if not planned.begun:
            yield from self._due(planned, member)
        late = self._rules.ring(member, "step_late", {planned.step.id})
        after = timedelta(seconds=late.lead_s or 0.0)
        late_from = planned.end_at if planned.begun else planned.start_at
        if late_from is not None:
            yield planned.warning("step_late", late_from + after, None)
        if not planned.begun:
            yield from self._edge(planned, member)

    def _planned(self, steps: Mapping[str, StepState]) -> Iterable[Planned]:
        jobs = self._refit.items["job"]
        for id_, step in self._refit.live("step").items():
            start, end = step.fields.get("planned_start_at"), step.fields.get("planned_end_at")
            job = jobs.get(step.fields["job_id"])
            if start and not (job and job.gone) and steps[id_].state not in _SETTLED:
                yield Planned(step, steps[id_].state, at_of(start), at_of(end) if end else None)

    def _due(self, planned: Planned, member: Item) -> Iterable[Warning]:
        ring = self._rules.ring(member, "step_due", {planned.step.id})
        due_at = planned.start_at - timedelta(seconds=(ring.lead_s or 0.0) + ring.walk_s)
        written = written_at(planned.step, "planned_start_at")
        if written > planned.start_at:
            return
        useless = max(planned.end_at or planned.start_at, planned.start_at + DUE_USEFUL)
        yield planned.warning("step_due", planned.start_at if written > due_at else due_at, useless)

    def _edge(self, planned: Planned, member: Item) -> Iterable[Warning]:
        edge = self._edges(planned)
        if edge is None:
            return
        ring = self._rules.ring(member, "weather_edge", {planned.step.id})
        ahead_at = planned.start_at - timedelta(seconds=(ring.lead_s or 0.0) + ring.walk_s)
        due_at = max(ahead_at, self._weather.measured_at or ahead_at)
        yield planned.warning(
            "weather_edge", due_at, edge.dry_at, lost_at=edge.lost_at, dry_at=edge.dry_at
        )

    def _edges(self, planned: Planned) -> WeatherEdge | None:
        """Give the weather edge of a planned coat; worked out once, whoever is warned of it."""
        id_ = planned.step.id
        if id_ not in self._known:
            self._known[id_] = self._edge_of(planned)
        return self._known[id_]

    def _edge_of(self, planned: Planned) -> WeatherEdge | None:
        step = planned.step
        product = self._refit.items["product"].get(step.fields.get("product_id") or "")
        if product is None or step.fields["kind"] not in _LAYS:
            return None
        if not self._weather.speaks_of(planned.start_at):
            return None
        try:
            profile = parse_profile(product.fields["profile"])
        except TradeError:
            return None
        end_at = planned.start_at + timedelta(seconds=coat_s(step))
        clocks = coat_clock(
            Coat(step.id, profile, planned.start_at, end_at), self._weather.track, planned.start_at
        )
        dry_at = next((one.governing_at for one in clocks if one.stage == "touch_dry"), None)
        return self._weather.edge(margin_of(profile), planned.start_at, dry_at)
