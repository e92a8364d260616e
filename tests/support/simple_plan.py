"""A plan made as simply as can be: what may begin first is taken first, at the first slot at which nothing forbids it.

It shares nothing with the engine but the model, and is slow: it is there to have a plan for small refits.
"""

import heapq
from collections import defaultdict

from tackwatch.plan.check import score
from tackwatch.plan.model import Link, Placed, Plan, Project, Step


class NoRoomError(Exception):
    """A step that has nowhere to go on the grid."""


def simple_plan(project: Project) -> Plan:
    """Place every step, one after the other."""
    return _Planner(project).plan()


class _Planner:
    def __init__(self, project: Project) -> None:
        self.project = project
        self.at: dict[str, Placed] = {}
        self.busy: dict[str, set[int]] = defaultdict(set)
        self.used: dict[str, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        self.open = {
            one.id: {slot for span in one.open for slot in range(*span)} for one in project.people
        }
        self.ends = {one.id: {end for _, end in one.open} for one in project.people}
        self.holds = {place.id: place.holds for place in project.places}
        self.into: dict[str, list[Link]] = defaultdict(list)
        for link in project.links:
            self.into[link.after].append(link)

    def plan(self) -> Plan:
        steps = self.project.steps
        for step in steps:
            if step.fixed is not None:
                start, people = step.fixed.start, step.fixed.people
                self._put(step, Placed(step.id, start, start + step.work, people))
        waiting = {step.id: step for step in steps if step.id not in self.at}
        heap: list[tuple[int, str]] = []
        while True:
            for id_, step in list(waiting.items()):
                if all(link.before in self.at for link in self.into[id_]):
                    heapq.heappush(heap, (self._opens(step), id_))
                    del waiting[id_]
            if not heap:
                break
            opens, id_ = heapq.heappop(heap)
            self._place(self.project.step_of[id_], opens)
        if waiting:
            raise NoRoomError(f"in a circle: {sorted(waiting)}")
        placed = tuple(self.at[step.id] for step in steps)
        return Plan(placed, score(self.project, placed))

    def _opens(self, step: Step) -> int:
        opens = [0, step.earliest]
        for link in self.into[step.id]:
            end = self.at[link.before].end
            opens.append(end + link.min_gap)
            if link.window_id is not None:
                opens.append(int(self.project.windows[link.window_id].ready[max(0, end)]))
        return max(opens)

    def _missed(self, step: Step, start: int) -> list[Link]:
        missed = []
        for link in self.into[step.id]:
            end = self.at[link.before].end
            last = None if link.window_id is None else self.project.windows[link.window_id].last
            late = link.max_gap is not None and start > end + link.max_gap
            if late or (last is not None and start > last[max(0, end)]):
                missed.append(link)
        return missed

    def _place(self, step: Step, opens: int) -> None:
        for start in range(opens, self.project.grid.slots + 1):
            missed = self._missed(step, start)
            if any(link.missed_work is None for link in missed):
                break
            end = start + step.work + sum(link.missed_work or 0 for link in missed)
            if end > self.project.grid.slots:
                break
            people = self._people(step, start, end)
            if people is not None and self._fits(step, start, end):
                names = tuple(dict.fromkeys(link.before for link in missed))
                self._put(step, Placed(step.id, start, end, people, names))
                return
        raise NoRoomError(step.id)

    def _people(self, step: Step, start: int, end: int) -> tuple[str, ...] | None:
        free = [
            id_
            for id_ in step.able
            if all(
                slot in self.open[id_] and slot not in self.busy[id_] for slot in range(start, end)
            )
            and not self.ends[id_] & set(range(start + 1, end))
        ]
        return tuple(free[: step.crew]) if len(free) >= step.crew else None

    def _fits(self, step: Step, start: int, end: int) -> bool:
        for use in step.uses:
            used = self.used[use.place_id]
            if any(used[slot] + use.units > self.holds[use.place_id] for slot in range(start, end)):
                return False
        for other_id, other in self.at.items():
            one = self.project.step_of[other_id]
            dust_on_it = set(step.dust_in) & set(one.wet_in) and start < self._dry(one, other.end)
            its_dust = set(step.wet_in) & set(one.dust_in) and other.start < self._dry(step, end)
            if (dust_on_it and other.start < end) or (its_dust and start < other.end):
                return False
        return True

    def _dry(self, step: Step, end: int) -> int:
        return end if step.dry_id is None else int(self.project.tables[step.dry_id][max(0, end)])

    def _put(self, step: Step, placed: Placed) -> None:
        self.at[step.id] = placed
        span = range(placed.start, placed.end)
        for id_ in placed.people:
            self.busy[id_].update(span)
        for use in step.uses:
            for slot in span:
                self.used[use.place_id][slot] += use.units
