"""The state of a step, derived from what is physically true of it.

Theory
------
Nobody keeps a state by hand. People leave marks (started, finished, reopened, signed off), log
applications and hold a step back; the cure clock says what is still hardening; links say what
comes before. The state is worked out from these facts each time it is asked for.

Marks, taken in the order of their instants, leave one of four standings:

    standing \\ mark   started    finished   signed_off   reopened
    none              started    finished   signed_off   none
    started           started    finished   signed_off   none
    finished          finished   finished   signed_off   none
    signed_off        signed_off signed_off signed_off   none

so that a late tick from a phone without signal undoes nothing: only `reopened` does. Marks of one
instant count in the order of the columns.

The first line that holds gives the state:

    1  signed_off   standing is signed_off
    2  curing       standing is finished, and the cure is still ahead
    3  finished     standing is finished
    4  under_way    an application is open: somebody is at it, whatever else is said
    5  held         somebody gave a reason to hold it
    6  curing       the last application ended, and its cure is still ahead
    7  under_way    standing is started
    8  waiting      a link before it is not met yet
    9  ready        otherwise

Rules
-----
* A link is met when the step before is finished or signed off (or is curing and says when it opens)
  and the instant of the link has come: the latest of `finished_at` + `min_gap_s` and `opens_at`.
  A step that is curing without saying when it opens does not let anybody on.
* A gap counts from `finished_at`; where that is unknown and there is a gap, the link is not met.
* A window that has closed (`closes_at`, or `finished_at` + `max_gap_s`, whichever is earlier) does
  not change the state: it is told as `window_missed`, for something else must be done first. One
  that is open is told as `window_closes`, and `until_at` is then the last good instant.
* `until_at`: while curing, when it ends; while waiting, when the last link is met (None when that
  is not known); while ready, when the first window closes.
* `why` holds codes with parameters, so that each phone says it in its own language.

Source
------
Our own: the words of the states are those of the trade, common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final, Literal

from tackwatch.trade.warnings import iso_of

State = Literal["waiting", "ready", "under_way", "curing", "held", "finished", "signed_off"]
MarkKind = Literal["started", "finished", "signed_off", "reopened"]
Standing = Literal["none", "started", "finished", "signed_off"]

MARK_ORDER: Final[tuple[MarkKind, ...]] = ("started", "finished", "signed_off", "reopened")

STANDINGS: Final[Mapping[tuple[Standing, MarkKind], Standing]] = {
    ("none", "started"): "started",
    ("none", "finished"): "finished",
    ("none", "signed_off"): "signed_off",
    ("none", "reopened"): "none",
    ("started", "started"): "started",
    ("started", "finished"): "finished",
    ("started", "signed_off"): "signed_off",
    ("started", "reopened"): "none",
    ("finished", "started"): "finished",
    ("finished", "finished"): "finished",
    ("finished", "signed_off"): "signed_off",
    ("finished", "reopened"): "none",
    ("signed_off", "started"): "signed_off",
    ("signed_off", "finished"): "signed_off",
    ("signed_off", "signed_off"): "signed_off",
    ("signed_off", "reopened"): "none",
}


@dataclass(frozen=True, slots=True)
class Mark:
    """What a person said of the step at an instant."""

    kind: MarkKind
    at: datetime


@dataclass(frozen=True, slots=True)
class LinkFacts:
    """What is true of a step that comes before, as far as this link is concerned.

    `finished_at` is the instant from which the gaps count: the end of its last application where it
    has one, else its finish. `opens_at` and `closes_at` are governing instants of its clocks.
    """

    step_id: str
    state: State
    finished_at: datetime | None = None
    min_gap_s: float = 0.0
    max_gap_s: float | None = None
    opens_at: datetime | None = None
    closes_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class StepFacts:
    """What is true of a step. `cures_until_at` is the slow edge of its governing opening."""

    id: str
    now_at: datetime
    held_reason: str | None = None
    marks: tuple[Mark, ...] = ()
    has_open_application: bool = False
    cures_until_at: datetime | None = None
    before: tuple[LinkFacts, ...] = ()


@dataclass(frozen=True, slots=True)
class Why:
    """A reason: a code, and what a sentence about it needs (instants as ISO text)."""

    code: str
    params: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StepState:
    """The state of a step, why, and until when that is expected to hold."""

    state: State
    why: tuple[Why, ...]
    until_at: datetime | None


def step_state(facts: StepFacts) -> StepState:
    """Derive the state of a step.

    Parameters
    ----------
    facts : StepFacts
        What is true of the step and of those before it.

    Source
    ------
    The tables at the head of the module.
    """
    standing = standing_of(facts.marks)
    hold = () if facts.held_reason is None else (Why("held", {"reason": facts.held_reason}),)
    curing = _curing(facts)
    if standing == "signed_off":
        return StepState("signed_off", (), None)
    if standing == "finished":
        return curing or StepState("finished", (), None)
    missed = _missed(facts)
    if facts.has_open_application:
        return StepState("under_way", (Why("application_open"), *hold, *missed), None)
    if hold:
        return StepState("held", (*hold, *(curing.why if curing else ())), None)
    if curing:
        return curing
    unmet = _unmet(facts)
    if standing == "started":
        return StepState("under_way", (Why("started"), *unmet, *missed), None)
    if unmet:
        return StepState("waiting", (*unmet, *missed), _waits_until(facts))
    return _ready(facts, missed)


def standing_of(marks: Sequence[Mark]) -> Standing:
    """Fold the marks, in the order of their instants, into where the step stands."""
    standing: Standing = "none"
    for mark in sorted(marks, key=lambda mark: (mark.at, MARK_ORDER.index(mark.kind))):
        standing = STANDINGS[standing, mark.kind]
    return standing


def _curing(facts: StepFacts) -> StepState | None:
    until_at = facts.cures_until_at
    if facts.has_open_application or until_at is None or until_at <= facts.now_at:
        return None
    return StepState("curing", (Why("curing", {"until_at": iso_of(until_at)}),), until_at)


def _unmet(facts: StepFacts) -> tuple[Why, ...]:
    return tuple(why for link in facts.before if (why := _why_unmet(link, facts.now_at)))


def _why_unmet(link: LinkFacts, now_at: datetime) -> Why | None:
    """Say why a link is not met, or None when it is."""
    meets_at, known = _meets_at(link)
    if not known:
        return Why("before_not_finished", {"step_id": link.step_id, "state": link.state})
    if meets_at is None or meets_at <= now_at:
        return None
    code = "before_curing" if link.opens_at == meets_at else "min_gap"
    return Why(code, {"step_id": link.step_id, "until_at": iso_of(meets_at)})


def _meets_at(link: LinkFacts) -> tuple[datetime | None, bool]:
    """Give when the link is met (None: at once), and whether that can be said at all."""
    done = link.state in ("finished", "signed_off")
    opening = link.state == "curing" and link.opens_at is not None
    gap = link.min_gap_s > 0.0
    if not (done or opening) or (gap and link.finished_at is None):
        return None, False
    instants = [] if link.opens_at is None else [link.opens_at]
    if gap and link.finished_at is not None:
        instants.append(link.finished_at + timedelta(seconds=link.min_gap_s))
    return max(instants, default=None), True


def _waits_until(facts: StepFacts) -> datetime | None:
    """Give when the last link is met; None when one of them cannot say."""
    answers = [_meets_at(link) for link in facts.before]
    if not all(known for _, known in answers):
        return None
    return max((at for at, _ in answers if at is not None), default=None)


def _closes_at(link: LinkFacts) -> datetime | None:
    instants = [] if link.closes_at is None else [link.closes_at]
    if link.max_gap_s is not None and link.finished_at is not None:
        instants.append(link.finished_at + timedelta(seconds=link.max_gap_s))
    return min(instants, default=None)


def _missed(facts: StepFacts) -> tuple[Why, ...]:
    return tuple(
        Why("window_missed", {"step_id": link.step_id, "closes_at": iso_of(at)})
        for link in facts.before
        if (at := _closes_at(link)) is not None and at <= facts.now_at
    )


def _ready(facts: StepFacts, missed: tuple[Why, ...]) -> StepState:
    ahead = [
        (at, link.step_id)
        for link in facts.before
        if (at := _closes_at(link)) is not None and at > facts.now_at
    ]
    closing = tuple(
        Why("window_closes", {"step_id": step_id, "closes_at": iso_of(at)}) for at, step_id in ahead
    )
    return StepState("ready", (*missed, *closing), min((at for at, _ in ahead), default=None))
