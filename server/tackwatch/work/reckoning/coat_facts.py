"""What is true of a step that is to lay a coat: gathered from the rows for the question whether it may begin.

Rules
-----
- What lies below is the coat that began last among the steps before this one (through any number of links), else the
  last coat on the same zone or on one around it; all applications of that step count, careful side first. Where nothing
  was laid it is the zone's ground, which has no window.
- Sanding, grinding, cleaning and trying a patch that were finished since that coat ended have changed its surface;
  cleaning within the window has not. Of a ground each such step before this one counts.
- Owed is each step right before this one that is not finished, unless it is only curing: a coat by its window, another
  step until it is through.
- A product without a profile that can be read has no limits, no drying time and no known material.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from tackwatch.merge.state import Item
from tackwatch.trade.compatibility import material_of
from tackwatch.trade.compatibility_table import Material
from tackwatch.trade.cure import clocks_of_group
from tackwatch.trade.dose import HORIZON_S
from tackwatch.trade.errors import TradeError
from tackwatch.trade.job_order import Surface, after_step
from tackwatch.trade.laminating_air import laminating_air
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.readiness import Below, CoatFacts, Owed
from tackwatch.trade.readiness_air import latest_air
from tackwatch.trade.readiness_laminating import LAMINATES
from tackwatch.trade.steps import StepState
from tackwatch.trade.temperature import track_of
from tackwatch.trade.types import Clock, Limits, Profile, Stage, Track
from tackwatch.work.reckoning.ground import ground_of, zones_around
from tackwatch.work.reckoning.rows import Link, RefitRows, at_of
from tackwatch.work.reckoning.sources import Source, curve_of, readings_of

_PREPARES = ("sand", "grind", "clean", "inspect")
_NEVER = timedelta(seconds=HORIZON_S)


@dataclass(frozen=True, slots=True)
class CoatQuestion:
    """The facts, the temperature, and which coat lies below."""

    facts: CoatFacts
    track: Track
    below_step_id: str | None


class CoatFactsOf:
    """Gathers the facts of one step."""

    def __init__(
        self,
        refit: RefitRows,
        sources: Sequence[Source],
        states: dict[str, StepState],
        now: datetime,
    ) -> None:
        self.refit = refit
        self.steps = refit.live("step")
        self.coats = [one for one in sources if not one.is_pot and one.start_at <= now]
        self.states = states
        self.now = now
        self.profiles = {
            one.root.id: _profile(one.record.body["profile"])
            for one in refit.standing("application")
        }

    def question(self, id_: str) -> CoatQuestion:
        """Give all that the question about a step needs."""
        step = self.steps[id_]
        product = self.refit.items["product"].get(step.fields.get("product_id") or "")
        profile = _profile(product.fields["profile"]) if product else None
        below_step = self._below_step(id_)
        zone = self.refit.items["zone"].get(self._zone_id(id_) or "")
        known = [one for one in readings_of(self.refit) if one.at <= self.now]
        owner = next(iter(self.refit.items["refit"].values()))
        facts = CoatFacts(
            now_at=self.now,
            over=_material(profile),
            limits=profile.limits if profile else Limits(),
            touch_dry=tuple(profile.stages.get("touch_dry", ())) if profile else (),
            air=latest_air(known),
            below=self._below(below_step, id_) if below_step else self._ground(id_),
            owed=tuple(self._owed(id_)),
            held_reason=step.fields.get("held"),
            tack=bool(step.fields.get("tack")),
            coat_s=3600.0
            * (step.fields.get("labour_h") or 0.0)
            / (step.fields.get("crew_size") or 1),
            area_m2=zone.fields.get("area_m2") if zone else None,
            laminating=laminating_air(known, self.now)
            if step.fields["kind"] in LAMINATES
            else None,
        )
        return CoatQuestion(facts, track_of(known, curve_of(owner, self.now), self.now), below_step)

    def _before(self, id_: str) -> set[str]:
        """Give every step before this one, through any number of links."""
        found: set[str] = set()
        ask = [id_]
        while ask:
            at = ask.pop()
            for link in self._links(at):
                if link.after_id not in found:
                    found.add(link.after_id)
                    ask.append(link.after_id)
        return found - {id_}

    def _links(self, id_: str) -> list[Link]:
        return [
            one for one in self.refit.links if one.step_id == id_ and one.after_id in self.steps
        ]

    def _below_step(self, id_: str) -> str | None:
        before = self._before(id_)
        coats = [one for one in self.coats if one.step_id in before]
        if not coats:
            zones = zones_around(self.refit, self._zone_id(id_))
            coats = [
                one
                for one in self.coats
                if one.step_id != id_ and (one.zone_id or self._zone_id(one.step_id or "")) in zones
            ]
        last = max(coats, key=lambda one: (one.start_at, one.id), default=None)
        return last.step_id if last else None

    def _zone_id(self, id_: str) -> str | None:
        step = self.refit.items["step"].get(id_)
        job = self.refit.items["job"].get(step.fields["job_id"]) if step else None
        return job.fields.get("zone_id") if job else None

    def _below(self, step_id: str, id_: str) -> Below:
        coats = [one for one in self.coats if one.step_id == step_id]
        last = max(coats, key=lambda one: (one.start_at, one.id))
        profile = self.profiles.get(last.id)
        clocks = {
            one.stage: one for one in clocks_of_group(step_id, [coat.clocks for coat in coats])
        }
        closes = clocks.get("recoat_closes")
        closes_at = closes.last_start_at if closes else None
        ended = all(not one.open for one in coats)
        surface = self._surface(profile, coats, id_, closes_at) if ended else None
        return Below(
            material=surface.under if surface else _material(profile),
            state=surface.state if surface else None,
            ended=ended,
            touch_dry_at=self._at(clocks, "touch_dry"),
            opens_at=self._at(clocks, "recoat_opens"),
            closes_at=closes_at,
            sand_minutes_per_m2=profile.sanding_after_missed_minutes_per_m2 if profile else None,
        )

    def _ground(self, id_: str) -> Below | None:
        """Give the zone's ground as the finished steps before this one have left it."""
        surface = ground_of(self.refit, self._zone_id(id_))
        if surface is None:
            return None
        for _, kind in sorted(self._done(self._before(id_), None)):
            surface = after_step(surface, kind)  # type: ignore[arg-type]
        return Below(material=surface.under, state=surface.state)

    def _at(self, clocks: dict[Stage, Clock], stage: Stage) -> datetime | None:
        """Give when a stage is reached: far off where the clock never gets there."""
        clock = clocks.get(stage)
        return None if clock is None else clock.governing_at or self.now + _NEVER

    def _surface(
        self, profile: Profile | None, coats: Sequence[Source], id_: str, closes_at: datetime | None
    ) -> Surface | None:
        """Give the surface when something was done to it since; None when nothing was."""
        material = _material(profile)
        ends = [one.end_at for one in coats if one.end_at is not None]
        if material is None or not ends:
            return None
        first = surface = Surface(material, "tacky", fresh=True)
        for at, kind in sorted(self._done(self._before(id_), max(ends))):
            in_window = closes_at is None or at < closes_at
            surface = after_step(surface, kind, in_window)  # type: ignore[arg-type]
        return None if surface == first else surface

    def _done(self, ids: Iterable[str], since: datetime | None) -> list[tuple[datetime, str]]:
        """Give when which preparation was finished, since an instant or at all."""
        done = {
            id_
            for id_ in ids
            if self.steps[id_].fields["kind"] in _PREPARES
            and self.states[id_].state in ("finished", "signed_off")
        }
        last: dict[str, datetime] = {}
        for one in self.refit.standing("mark"):
            body = one.record.body
            if body["step_id"] in done and body["mark"] in ("finished", "signed_off"):
                at = at_of(body["marked_at"])
                last[body["step_id"]] = max(at, last.get(body["step_id"], at))
        return [
            (at, str(self.steps[id_].fields["kind"]))
            for id_, at in last.items()
            if at <= self.now and (since is None or since <= at)
        ]

    def _owed(self, id_: str) -> Iterable[Owed]:
        for link in sorted(self._links(id_), key=lambda one: one.after_id):
            kind = str(self.steps[link.after_id].fields["kind"])
            state = self.states[link.after_id]
            if state.state not in ("finished", "signed_off", "curing"):
                yield Owed(link.after_id, kind)
            elif state.state == "curing" and not link.by_cure and state.until_at is not None:
                yield Owed(link.after_id, kind, state.until_at)
            elif link.min_gap_s > 0.0:
                ended_at = self._ended_at(link.after_id)
                gap = timedelta(seconds=link.min_gap_s)
                yield Owed(link.after_id, kind, ended_at + gap if ended_at else None)

    def _ended_at(self, id_: str) -> datetime | None:
        ends = [one.end_at for one in self.coats if one.step_id == id_ and one.end_at is not None]
        if ends:
            return max(ends)
        marks = [one.record.body for one in self.refit.standing("mark")]
        return max(
            (
                at_of(body["marked_at"])
                for body in marks
                if body["step_id"] == id_ and body["mark"] == "finished"
            ),
            default=None,
        )


def lays(step: Item) -> bool:
    """Say whether a step lays something."""
    return str(step.fields["kind"]) in ("coat", "laminate", "fillet", "fair", "bed")


def _profile(data: Any) -> Profile | None:
    try:
        return parse_profile(data)
    except TradeError:
        return None


def _material(profile: Profile | None) -> Material | None:
    return material_of(profile.product_class, profile.compatibility) if profile else None
