"""Handing on: who is told of what somebody else was told and has not seen.

Rules
-----
- Counted from when the first person was told (or was to be told, if nobody could): after so many minutes unseen it goes
  to whom that person named, after as many again to the owners; where nobody is named, to the owners at once.
- What anybody has seen goes no further. Nor does what is of no use now, or would be by then.
- Who gets the warning anyhow is not told a second time; who switched the kind off is passed over.
- The other person's quiet hours hold it back where it can wait.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from tackwatch.merge.state import Item
from tackwatch.work.reckoning.personal_warnings import PersonalWarning, held
from tackwatch.work.reckoning.ring_rules import RingRules
from tackwatch.work.reckoning.rows import RefitRows
from tackwatch.work.reckoning.standing_marks import Key, covers

WIDEST = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class HandedOn:
    """A warning for the next person: whose it was, and so long after that one was told."""

    warning: PersonalWarning
    from_member_id: str
    after_s: float


class HandOn:
    """Works out who is next."""

    def __init__(
        self,
        refit: RefitRows,
        rules: RingRules,
        told: Mapping[Key, datetime],
        seen: Mapping[Key, datetime],
        now: datetime,
    ) -> None:
        self._rules, self._told, self._seen, self._now = rules, told, seen, now
        self._members = refit.live("member")
        self._owners = sorted(
            id_ for id_, one in self._members.items() if one.fields.get("role") == "owner"
        )

    def all(self, warnings: Iterable[PersonalWarning]) -> list[HandedOn]:
        """Give every handing on that these warnings may come to."""
        by_id: dict[str, list[PersonalWarning]] = defaultdict(list)
        for one in warnings:
            by_id[one.warning.id].append(one)
        return [handed for group in by_id.values() for handed in self._of(group)]

    def _of(self, group: Sequence[PersonalWarning]) -> Iterable[HandedOn]:
        due_at = min(one.warning.due_at for one in group)
        alarm_id = group[0].warning.id
        if any(covers(self._seen.get((id_, alarm_id)), due_at) for id_ in self._members):
            return
        have = {one.member_id for one in group}
        earliest: dict[str, HandedOn] = {}
        for one in group:
            for handed in self._from(one, have):
                before = earliest.get(handed.warning.member_id)
                at = handed.warning.warning.due_at
                if before is None or at < before.warning.warning.due_at:
                    earliest[handed.warning.member_id] = handed
        yield from earliest.values()

    def _from(self, one: PersonalWarning, have: set[str]) -> Iterable[HandedOn]:
        unseen_s = one.ring.unseen_s
        if unseen_s is None:
            return
        told_at = self._told.get((one.member_id, one.warning.id), one.warning.due_at)
        from_at = max(one.warning.due_at, told_at)
        useless = one.warning.useless_after or one.warning.due_at + WIDEST
        for place, members in enumerate(self._stages(one, have), start=1):
            after_s = place * unseen_s
            due_at = from_at + timedelta(seconds=after_s)
            if max(due_at, self._now) > useless:
                return
            for member in members:
                steps = [one.step_id] if one.step_id else []
                ring = self._rules.ring(member, one.warning.kind, steps)
                named = member.id == one.ring.next_member_id
                if ring.off and not (named and member.fields.get("role") == "viewer"):
                    continue
                later = held(replace(one.warning, due_at=due_at), ring)
                yield HandedOn(
                    PersonalWarning(member.id, later, ring, one.step_id), one.member_id, after_s
                )

    def _stages(self, one: PersonalWarning, have: set[str]) -> list[list[Item]]:
        """Give those who come next, and those after them."""
        named = one.ring.next_member_id
        first = [named] if named in self._members and named not in have else []
        last = [id_ for id_ in self._owners if id_ not in have and id_ not in first]
        return [[self._members[id_] for id_ in stage] for stage in (first, last) if stage]
