"""What comes after what, and how long after: links of the refit as links of the model.

Rules
-----
* From what is done the clocks that phones show count, as gaps from a milestone at slot 0. What opened
  long ago and never closes leaves no link.
* From what is still to be laid a window counts, by the slot at which it will end (`CureTables`).
* Coats that are both cut into as many pieces follow one another piece by piece, as the path goes. Else
  the next step waits for all pieces, and must begin before the first of them closes (what lies already
  before all others).
* A step that follows without asking for the cure waits until the coat is no longer curing; one that does
  not follow a coat waits for the end alone. The link's own gaps count besides, from the last piece's end.
* A missed upper side costs the work of `missed`, shared among pieces that follow one another, and cut to
  what fits into the day beside the work.
* Into what is done, being laid or begun no link leads: what somebody does, they may do.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from tackwatch.plan.build.grid import SLOT_S, SlotClock, slots_within
from tackwatch.plan.build.missed import missed_labour_h, missed_slots
from tackwatch.plan.build.parts import Note, Part
from tackwatch.plan.build.stages import closing_of, cure_ends, opening_of, window_stages
from tackwatch.plan.build.windows import CureTables
from tackwatch.plan.build.work import lays
from tackwatch.plan.facts import Facts, RefitLink, RefitStep
from tackwatch.plan.model import NEVER, Link, Slot, Window
from tackwatch.trade.types import Clock, Profile, Stage

LinkKey = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Gap:
    """Slots from a milestone at slot 0: not before, and (None: never closes) not after."""

    opens: Slot
    closes: Slot | None


def missed_of_links(facts: Facts) -> tuple[dict[LinkKey, Slot], list[Note]]:
    """Give what missing the upper side of each link costs the step after, and where that is not known."""
    steps = {step.id: step for step in facts.steps}
    areas = {zone.id: zone.area_m2 for zone in facts.zones}
    costs: dict[LinkKey, Slot] = {}
    notes: list[Note] = []
    known: dict[tuple[int, int, float | None], float | None] = {}
    for link in facts.links:
        before, after = steps.get(link.after_id), steps.get(link.step_id)
        if before is None or after is None or not _may_close(link, before, after):
            continue
        area_m2 = before.area_m2 if before.area_m2 is not None else areas.get(before.zone_id or "")
        under = before.profile if lays(before) else None
        key = (id(under), id(after.profile), area_m2)
        if key not in known:
            known[key] = missed_labour_h(under, after.profile, area_m2)
        if known[key] is None:
            notes.append(Note(after.id, "missed_labour_unknown"))
        costs[link.after_id, link.step_id] = missed_slots(after, known[key])
    return costs, notes


def _may_close(link: RefitLink, before: RefitStep, after: RefitStep) -> bool:
    by_cure = link.by_cure and lays(before) and before.profile is not None
    closes = by_cure and closing_of(before.profile, after.kind) is not None  # type: ignore[arg-type]
    return closes or link.max_gap_s is not None


class Links:
    """Turns the links of a refit into those of the model, and collects the windows they need."""

    def __init__(
        self,
        facts: Facts,
        parts: Mapping[str, Part],
        tables: CureTables,
        clock: SlotClock,
        costs: Mapping[LinkKey, Slot],
    ) -> None:
        self._facts = facts
        self._parts = parts
        self._tables = tables
        self._clock = clock
        self._costs = costs
        self._kinds_by_cure: dict[str, list[str]] = defaultdict(list)
        for link in facts.links:
            if link.by_cure and link.step_id in parts:
                self._kinds_by_cure[link.after_id].append(parts[link.step_id].step.kind)
        self.windows: dict[str, Window] = {}
        self.notes: list[Note] = []

    def all(self) -> Iterator[Link]:
        """Give all links of the model."""
        for part in self._parts.values():
            for left, right in zip(part.ids, part.ids[1:], strict=False):
                yield Link(left, right)
        into: dict[str, list[Link]] = defaultdict(list)
        for link in self._between():
            into[link.after].append(link)
        for part in self._parts.values():
            for piece in part.pieces:
                yield from self._fitted(into[piece.id], part, max(1, part.day - piece.work))

    def _between(self) -> Iterator[Link]:
        for link in self._facts.links:
            before, after = self._parts.get(link.after_id), self._parts.get(link.step_id)
            if before is not None and after is not None and after.standing == "ahead":
                yield from self._of(link, before, after)

    def _of(self, link: RefitLink, before: Part, after: Part) -> Iterator[Link]:
        cost = self._costs.get((link.after_id, link.step_id))
        if before.standing == "done":
            yield from self._from_done(before.ids[0], link, before, after, cost)
            return
        laid = [] if before.laid_id is None else [before.laid_id]
        for milestone in laid:
            yield from self._from_done(milestone, link, before, after, cost)
        gaps = Link(
            before.ids[-1],
            after.ids[0],
            min_gap=self._up(link.min_gap_s),
            max_gap=None if link.max_gap_s is None else slots_within(link.max_gap_s),
            missed_work=None if link.max_gap_s is None else cost,
        )
        profile = before.step.profile
        if profile is None or not lays(before.step):
            yield gaps
            return
        windows = list(self._windows(link, before, after, profile, cost))
        if (windows[-1].before, windows[-1].after) == (gaps.before, gaps.after):
            yield from windows[:-1]
            missed = windows[-1].missed_work or gaps.missed_work
            window_id = windows[-1].window_id
            yield replace(gaps, window_id=window_id, missed_work=missed)
            return
        yield from windows
        if gaps.min_gap or gaps.max_gap is not None:
            yield gaps

    def _windows(
        self, link: RefitLink, before: Part, after: Part, profile: Profile, cost: Slot | None
    ) -> Iterator[Link]:
        """Give a link with a window for each piece that is to be laid."""
        stages, closing = self._stages(link, before, after, profile)
        n = len(before.ids)
        abreast = link.by_cure and n == len(after.ids) and lays(after.step)
        share = None if cost is None else -(-cost // n) if abreast else cost
        for i, (id_, path) in enumerate(zip(before.ids, before.paths, strict=True)):
            j = i if abreast else 0
            # What was laid first closes first: where all must be covered by one step, its window is all.
            closes = closing if abreast or (i == 0 and before.laid_id is None) else None
            longer = max(0, after.pieces[j].work - path) if closes == "recoat_closes" else 0
            yield Link(
                id_,
                after.ids[j],
                window_id=self._window(profile, stages, closes, path, longer),
                missed_work=None if closes is None else share,
            )

    def _stages(
        self, link: RefitLink, before: Part, after: Part, profile: Profile
    ) -> tuple[tuple[Stage, ...], Stage | None]:
        """Give the stages of which the first opens, and the one that closes."""
        if not link.by_cure:
            return cure_ends(profile, self._kinds_by_cure[before.step.id]), None
        opening = opening_of(profile, after.step.kind)
        if opening != window_stages(after.step.kind)[0]:
            self.notes.append(Note(before.step.id, "stage_unknown"))
        return (() if opening is None else (opening,)), closing_of(profile, after.step.kind)

    def _fitted(self, links: list[Link], part: Part, room: Slot) -> Iterator[Link]:
        """Cut what missed windows cost a piece to what fits into the day beside its work."""
        whole = sum(link.missed_work or 0 for link in links)
        if whole > room:
            self.notes.append(Note(part.step.id, "missed_work_cut"))
        for link in links:
            if link.missed_work is None or whole <= room:
                yield link
            else:
                yield replace(link, missed_work=max(1, link.missed_work * room // whole))

    def _window(
        self,
        profile: Profile,
        stages: tuple[Stage, ...],
        closing: Stage | None,
        path: Slot,
        longer: Slot,
    ) -> str | None:
        if not stages and closing is None:
            return None
        ready = self._tables.opens_first(profile, stages, path)
        last = None if closing is None else self._tables.closes(profile, closing, path, longer)
        id_ = f"{ready} {last or ''}".strip()
        if id_ not in self.windows:
            tables = self._tables.tables
            self.windows[id_] = Window(tables[ready], None if last is None else tables[last])
        return id_

    def _from_done(
        self, milestone: str, link: RefitLink, before: Part, after: Part, cost: Slot | None
    ) -> Iterator[Link]:
        gap = self._gap(link, before, after)
        if gap.opens > 0 or gap.closes is not None or before.standing != "done":
            missed = None if gap.closes is None else cost
            if (
                gap.closes is not None and cost is None
            ):  # what was laid is another product than was planned
                self.notes.append(Note(after.step.id, "missed_labour_unknown"))
                missed = missed_slots(after.step, None)
            yield Link(milestone, after.ids[0], max(0, gap.opens), gap.closes, missed_work=missed)

    def _gap(self, link: RefitLink, before: Part, after: Part) -> Gap:
        """Give when the step after may begin by what phones show of the coat, and must by it."""
        clocks = (
            {clock.stage: clock for clock in before.step.laid.clocks} if before.step.laid else {}
        )
        opens, closes = [0], []
        if link.by_cure:
            opening, closing = window_stages(after.step.kind)
            if opening in clocks:
                opens.append(self._opens(clocks[opening]))
            if closing in clocks:
                closes += self._last_start(clocks[closing], before, after)
        elif before.step.profile is not None and clocks:
            ends = cure_ends(before.step.profile, self._kinds_by_cure[before.step.id])
            opens.append(
                min((self._opens(clocks[one]) for one in ends if one in clocks), default=0)
            )
        finished = 0
        if before.step.finished_at is not None:
            finished = self._clock.up(before.step.finished_at)
        opens.append(finished + self._up(link.min_gap_s) if link.min_gap_s else 0)
        if link.max_gap_s is not None and before.standing == "done":
            closes.append(finished + slots_within(link.max_gap_s))
        return Gap(max(opens), min(closes, default=None))

    def _opens(self, clock: Clock) -> Slot:
        return NEVER if clock.governing_at is None else self._clock.up(clock.governing_at)

    def _last_start(self, clock: Clock, before: Part, after: Part) -> list[Slot]:
        """Give the last start by a clock that closes, less what the next coat takes longer."""
        laid = before.step.laid
        if clock.last_start_at is None or laid is None:
            return []
        longer = 0
        if clock.stage == "recoat_closes" and laid.end_at is not None:
            path = self._up((laid.end_at - laid.start_at).total_seconds())
            longer = max(0, after.pieces[0].work - path)
        return [self._clock.before(clock.last_start_at) - longer]

    @staticmethod
    def _up(gap_s: float) -> Slot:
        return -int(-gap_s // SLOT_S)
