"""Windows and drying as tables: by the slot at which a coat ends, when the next thing may and must begin.

Theory
------
`trade.cure` answers for one coat when its stages come. Here the answers of a product are worked out
for paint laid at every slot at once (`DoseCurve`, `closes_by_hot_hours`), and a coat that takes so
many slots reads its own from them: with O(p) the opening of paint laid at p, a path from S to E opens
at the latest of O(p) - (p - S), which is a running maximum. Coats of one product and one length share
a table.

Rules
-----
* What opens follows the slow edge and is rounded up to a slot; what closes follows the fast edge, and
  the last slot before it is the last start.
* recoat_opens follows the path. sandable, touch_dry and immerse_opens wait for the last paint.
* recoat_closes is the last start that all paint on the path allows, less what the next coat takes
  longer than this one; immerse_closes is that of the first paint.
* Between two slots of a path a turning point may lie higher than both. A third of the second
  difference is added there (a parabola stands at most an eighth above), so that nothing opens early.
* The table of the hottest hour closes as well: the earlier counts.
* Tables reach past the horizon, since the curves do: a window never closes because the grid ends.
* Past the forecast's first run each day is like the one before, so that the answers of one day are
  carried on to the horizon.

Source
------
`trade.cure`, `trade.edges`, to which tests hold this.
"""

import numpy as np

from tackwatch.plan.build.dose_curve import DoseCurve, Floats
from tackwatch.plan.build.grid import SLOT_S, TOUCH, SlotClock
from tackwatch.plan.build.hot_hours import closes_by_hot_hours
from tackwatch.plan.model import NEVER, Slot, Table
from tackwatch.trade.arrhenius import law_of
from tackwatch.trade.dose import period_s
from tackwatch.trade.edges import FAST, SLOW, stage_known
from tackwatch.trade.types import Band, Profile, Stage, Track

FOLLOWS_PATH: tuple[Stage, ...] = ("recoat_opens", "recoat_closes")


class CureTables:
    """The tables of all products on one temperature track.

    Parameters
    ----------
    track : Track
        The temperature.
    band : Band
        Its half widths.
    clock : SlotClock
        The slots.
    slots : int
        The horizon; tables have one entry more.
    back : int
        Slots before slot 0 at which the first paint of a path may have been laid.
    """

    def __init__(self, track: Track, band: Band, clock: SlotClock, slots: Slot, back: Slot) -> None:
        self._track = track
        self._band = band
        self._clock = clock
        self._slots = slots
        self._back = back
        self._day = round(period_s(track) / SLOT_S)
        repeats = max(0, clock.up_s(track.knots[track.repeats_from].at_s))
        self._head = min(slots, repeats + back + self._day)
        if self._day * SLOT_S != period_s(track):  # no day of whole slots: nothing is carried on
            self._head = slots
        laid = np.arange(-back, self._head + 3, dtype=np.float64)
        self._laid_s = clock.origin_s + SLOT_S * laid
        self._profiles: list[Profile] = []
        self._number_of: dict[int, int] = {}
        self._asked: list[Profile] = []  # kept, so that no other profile gets its address
        self._after: dict[tuple[int, Stage, float], Floats] = {}
        self._tables: dict[str, Table] = {}

    @property
    def tables(self) -> dict[str, Table]:
        """All tables that were asked for, by id."""
        return self._tables

    def opens(self, profile: Profile, stage: Stage, path: Slot) -> str:
        """Give the id of the table of an opening, for coats that take so many slots."""
        path = path if stage in FOLLOWS_PATH else 0
        id_ = f"{self._number(profile)}.{stage}.{path}"
        if id_ not in self._tables:
            after_s = self._after_s(profile, stage, SLOW)
            worst_s = after_s + bump(after_s) if path else after_s
            begin_s = _running_max(worst_s, path)[self._of_paths(path)] - SLOT_S * path
            self._tables[id_] = self._slots_of(begin_s)
        return id_

    def opens_first(self, profile: Profile, stages: tuple[Stage, ...], path: Slot) -> str:
        """Give the id of the table of the first of several openings; of none: at the end itself."""
        ids = [self.opens(profile, stage, path) for stage in stages]
        if len(ids) == 1:
            return ids[0]
        id_ = " or ".join(ids) or "end"
        if id_ not in self._tables:
            tables = [self._tables[one] for one in ids]
            ends = np.arange(self._slots + 1, dtype=np.int64)
            self._tables[id_] = np.minimum.reduce(tables) if tables else ends
        return id_

    def closes(self, profile: Profile, stage: Stage, path: Slot, longer: Slot = 0) -> str:
        """Give the id of the table of the last starts, the next coat taking so many slots longer."""
        id_ = f"{self._number(profile)}.{stage}.{path}.{longer}"
        if id_ not in self._tables:
            after_s = -self._last_after_s(profile, stage, path)
            along_s = _running_max(after_s, path) if stage in FOLLOWS_PATH else after_s
            last_s = -along_s[self._of_paths(path)] - SLOT_S * path
            self._tables[id_] = self._slots_of(last_s) - 1 - longer
        return id_

    def latest_gap(self, profile: Profile, stage: Stage, day: Slot) -> Slot:
        """Give the longest that the paint of the first day takes to a stage, in slots."""
        after_s = self._after_s(profile, stage, SLOW)[: self._back + day + 1]
        longest_s = float(after_s.max())
        return NEVER if np.isinf(longest_s) else round(longest_s / SLOT_S) + 1

    def _of_paths(self, path: Slot) -> slice:
        """Give where the paths stand that end at 0 and later, by their first paint."""
        return slice(self._back - path, self._back - path + self._head + 1)

    def _last_after_s(self, profile: Profile, stage: Stage, path: Slot) -> Floats:
        """Give how long after being laid paint must be covered, at each slot."""
        by_dose = np.full_like(self._laid_s, np.inf)
        if profile.stages.get(stage):
            by_dose = self._after_s(profile, stage, FAST)
            if path and stage in FOLLOWS_PATH:
                by_dose = by_dose - bump(by_dose)
        if stage != "recoat_closes" or not profile.closes_by_hottest_hour:
            return by_dose
        return np.minimum(by_dose, self._by_hot_hours(profile))

    def _after_s(self, profile: Profile, stage: Stage, edge: float) -> Floats:
        """Give how long after being laid at each slot paint reaches a stage by its dose."""
        key = (self._number(profile), stage, edge)
        if key not in self._after:
            law = law_of(profile.stages[stage])
            curve = DoseCurve(law, self._track, float(self._laid_s[0]), edge, self._band)
            self._after[key] = curve.reached(self._laid_s) - self._laid_s
        return self._after[key]

    def _by_hot_hours(self, profile: Profile) -> Floats:
        key: tuple[int, Stage, float] = (self._number(profile), "recoat_closes", np.inf)
        if key not in self._after:
            rows = profile.closes_by_hottest_hour
            closes_s = closes_by_hot_hours(rows, self._track, self._laid_s, FAST, self._band)
            self._after[key] = closes_s - self._laid_s
        return self._after[key]

    def _slots_of(self, after_end_s: Floats) -> Table:
        """Give the slots of instants that are told from the first ends, and from all like them."""
        after = np.ceil(after_end_s / SLOT_S - TOUCH)
        ends = np.arange(self._slots + 1)
        like = np.where(ends <= self._head, ends, self._head - (self._head - ends) % self._day)
        slots = ends + after[like]
        return np.where(slots < NEVER, slots, NEVER).astype(np.int64)

    def _number(self, profile: Profile) -> int:
        """Give the number of a product: equal profiles share one."""
        number = self._number_of.get(id(profile))
        if number is None:
            if profile not in self._profiles:
                self._profiles.append(profile)
            number = self._number_of[id(profile)] = self._profiles.index(profile)
            self._asked.append(profile)
        return number


def window_known(profile: Profile, stage: Stage | None) -> bool:
    """Say whether a profile knows a stage that may be None."""
    return stage is not None and stage_known(profile, stage)


def bump(values: Floats) -> Floats:
    """Give how much higher than at two neighbouring places a smooth curve may stand between them.

    Parameters
    ----------
    values : array
        The curve at even places; what is not finite counts as 0.
    """
    finite = np.where(np.isfinite(values), values, 0.0)
    bent = np.abs(np.diff(finite, 2)) / 3.0
    padded = np.concatenate(([0.0], bent, [0.0]))
    return np.asarray(np.maximum(padded, np.maximum(np.roll(padded, 1), np.roll(padded, -1))))


def _running_max(values: Floats, path: Slot) -> Floats:
    """Give, at each place, the largest of the values from it on over so many steps, by spans that double."""
    span = 1
    while 2 * span <= path + 1:
        values = np.maximum(values[:-span], values[span:])
        span *= 2
    rest = path + 1 - span
    return np.maximum(values[:-rest], values[rest:]) if rest else values
