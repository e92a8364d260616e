"""Who is to be warned of what.

Rules
-----
- A coat's warnings go to who logged it and to who has the steps that wait for it (its own step, where none do); a pot's
  to who mixed it. Viewers are not rung.
- A recoat warning is wanted while a step that follows by cure has not begun, and where nothing follows at all; that a
  window was missed only where something waits for it.
- ``sandable`` is wanted where sanding waits for it; the water's windows where a step waits for the water, or on the
  last coat.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from tackwatch.merge.state import Item
from tackwatch.trade.steps import StepState
from tackwatch.trade.warnings import Leads, Warning, warnings_of
from tackwatch.work.reckoning.rows import Link, RefitRows
from tackwatch.work.reckoning.sources import Source
from tackwatch.work.reckoning.step_states import window_stages

_SANDING = ("sand", "grind")


@dataclass(frozen=True, slots=True)
class PersonalWarning:
    """A warning with whom it is for."""

    member_id: str
    warning: Warning


def personal_warnings(
    refit: RefitRows,
    sources: Sequence[Source],
    by_step: Mapping[str, Sequence[Source]],
    steps: Mapping[str, StepState],
) -> Iterable[PersonalWarning]:
    """Give every warning with the person it is for, each person's leads applied."""
    members = refit.live("member")
    following: dict[str, list[Link]] = defaultdict(list)
    for link in refit.links:
        if link.by_cure and link.step_id in steps:
            following[link.after_id].append(link)
    for source in sources:
        after = following.get(source.step_id or "", [])
        waiting = [
            link.step_id for link in after if not _begun(link.step_id, source, by_step, steps)
        ]
        people = _people(refit, source, waiting)
        kinds = {str(refit.items["step"][id_].fields["kind"]) for id_ in waiting}
        for member_id in people:
            member = members.get(member_id)
            if member is None or member.fields.get("role") == "viewer":
                continue
            for warning in warnings_of(source.clocks, _leads(member)):
                if _wanted(warning.kind, source, bool(after), kinds):
                    yield PersonalWarning(member_id, warning)


def _begun(
    id_: str,
    source: Source,
    by_step: Mapping[str, Sequence[Source]],
    steps: Mapping[str, StepState],
) -> bool:
    if steps[id_].state in ("finished", "signed_off", "under_way", "curing"):
        return True
    return any(one.start_at >= source.start_at for one in by_step.get(id_, ()))


def _wanted(kind: str, source: Source, followed: bool, waiting_kinds: set[str]) -> bool:
    """Say whether a kind of warning helps anybody, given what still waits for this coat."""
    if source.is_pot:
        return True
    coats = {k for k in waiting_kinds if window_stages(k)[0] == "recoat_opens"}
    if kind == "sandable":
        return any(k in _SANDING for k in waiting_kinds)
    if kind.startswith("immerse"):
        return "wait" in waiting_kinds or not followed
    if kind == "recoat_missed":
        return bool(coats)
    return bool(coats) or not followed


def _people(refit: RefitRows, source: Source, waiting: Sequence[str]) -> list[str]:
    people = list(source.authors)
    if not source.is_pot:
        steps = refit.items["step"]
        for id_ in waiting or ([source.step_id] if source.step_id else []):
            if id_ in steps:
                people += sorted(steps[id_].sets.get("assignees", {}))
    return list(dict.fromkeys(people))


def _leads(member: Item) -> Leads:
    return Leads(
        pot_life_ending_s=60.0 * member.fields.get("pot_lead_min", 5),
        recoat_closing_s=60.0 * member.fields.get("recoat_lead_min", 60),
    )
