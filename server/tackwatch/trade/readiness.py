"""May I coat now? Every rule is asked, and each says its outcome, why, and where it comes from.

Theory
------
A coat may go on when nothing is owed before it, when air and surface suit the product and keep the
water off the paint until it is touch-dry, when what lies below is in its window or was prepared, and
when the two go together at all.

Rules
-----
* `no`: something must be done first, told in `do_first`. `not_yet`: nothing but waiting or a reading
  is lacking; `until_at` is the first instant at which every rule is expected to hold, None when that
  cannot be said. `yes`: `until_at` is the last good instant, None when nothing closes.
* Now counts by what was measured, at most `FRESH_S` ago; without air, surface and humidity the answer
  is `not_yet`, never yes. Later counts by the track of the cure clock, with the dew point held.
* The margin above the dew point is asked now and over the time until the coat is touch-dry, which is
  taken on the slow edge, from the end of the coat. The lowest temperature on the way counts.
* Temperatures and humidity go by the product's limits. Where the sheet gives none, temperature goes
  by what most paints allow, and humidity is not judged. Before it is dry no paint is to get colder
  than 4.4 degC (or than the product's own limit when that is lower).
* A window that is not open yet is waited for; one that was missed asks for its steps first; what was
  prepared since (washed, keyed, bare) has no window, and the table alone judges it. A ground on which
  nothing was laid has none either. A coat below that nobody ended is not waited out: its end must be
  logged.
* A tack coat is what a missed window asks for, and is not held up by it (`tack_coat`).
* What lies below and what goes over are held against the table where both are known, else the rule
  says `not_checked`.
* Before glass or a fillet is laid, the air of the day before is told as `advice` where the sheet gives no
  limits: it changes no answer.
* Instants ahead are looked at each half hour, up to `AHEAD_S`.

Source
------
Named in each outcome: the data sheet, ISO 8502-4 (from memory), MIL-HDBK-1110, the table's rows,
`laminating_air`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import inf
from typing import Final, Literal

from tackwatch.trade.arrhenius import law_of
from tackwatch.trade.compatibility import goes_over
from tackwatch.trade.compatibility_table import MATERIALS, Ground, Material, SurfaceState
from tackwatch.trade.dose import DoseLine
from tackwatch.trade.edges import SLOW
from tackwatch.trade.instants import instant_of, seconds_of
from tackwatch.trade.job_order import ProposedStep, steps_of
from tackwatch.trade.laminating_air import LaminatingAir
from tackwatch.trade.missed_window import missed_window
from tackwatch.trade.readiness_air import (
    AIR_RULES,
    SHEET,
    AirFacts,
    AirRules,
    Outcome,
    Rule,
    RuleOutcome,
)
from tackwatch.trade.readiness_laminating import laminating_rules
from tackwatch.trade.tack_coat import SOURCE as TACK_SOURCE
from tackwatch.trade.tack_coat import is_the_mend
from tackwatch.trade.types import Band, Limits, StagePoint, Track
from tackwatch.trade.warnings import iso_of

Answer = Literal["yes", "not_yet", "no"]
Steps = tuple[ProposedStep, ...]

AHEAD_S: Final = 48.0 * 3600.0
LOOK_S: Final = 1800.0
PREPARATION: Final = frozenset(
    {"survey", "open_up", "dry_out", "grind", "sand", "clean", "mask", "inspect"}
)
PREPARED: Final = frozenset({"washed", "keyed", "keyed_unwashed", "bare"})


@dataclass(frozen=True, slots=True)
class Owed:
    """A step that must come before and is not done; `until_at` when only waiting is lacking."""

    step_id: str
    kind: str
    until_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Below:
    """What lies below: material, its state where it was prepared, and its window.

    `closes_at` is the latest start of the next coat. A state that is None is worked out.
    """

    material: Ground | None = None
    state: SurfaceState | None = None
    ended: bool = True
    touch_dry_at: datetime | None = None
    opens_at: datetime | None = None
    closes_at: datetime | None = None
    sand_minutes_per_m2: float | None = None


@dataclass(frozen=True, slots=True)
class CoatFacts:
    """All that the question needs: what is to go on, what was measured, what lies below."""

    now_at: datetime
    over: Material | None
    limits: Limits
    touch_dry: tuple[StagePoint, ...]
    air: AirFacts
    below: Below | None = None
    owed: tuple[Owed, ...] = ()
    held_reason: str | None = None
    coat_s: float = 0.0
    area_m2: float | None = None
    laminating: LaminatingAir | None = None
    tack: bool = False


@dataclass(frozen=True, slots=True)
class Readiness:
    """The answer, until when, each rule with its outcome, and what to do first."""

    answer: Answer
    until_at: datetime | None
    rules: tuple[RuleOutcome, ...]
    do_first: Steps = ()
    or_else: Steps = ()


@dataclass(frozen=True, slots=True)
class _Told:
    """A rule's outcome with what it waits for and what it asks for."""

    rule: RuleOutcome
    wait_at: datetime | None = None
    steps: Steps = ()
    or_else: Steps = ()


def may_coat_now(facts: CoatFacts, track: Track, band: Band | None = None) -> Readiness:
    """Say whether a coat may go on now.

    Parameters
    ----------
    facts : CoatFacts
        What is true.
    track : Track
        The temperature, as the cure clock has it, from now or earlier.
    band : Band, optional
        The half widths of the temperature band.

    Source
    ------
    See the head of the module.
    """
    now_s = seconds_of(facts.now_at, "now_at")
    line = None
    if facts.touch_dry:
        line = DoseLine(law_of(facts.touch_dry), track, now_s, SLOW, band or Band())
    air = AirRules(facts.air, facts.limits, track, line, facts.coat_s, now_s)
    told = [
        *_held(facts),
        *_owed(facts.owed, facts.now_at),
        *(_Told(rule) for rule in air.rules_now()),
        *(_Told(rule) for rule in laminating_rules(facts.laminating, facts.limits)),
        *_window(facts),
        *_compatibility(facts),
    ]
    rules = tuple(one.rule for one in told)
    outcomes = {rule.outcome for rule in rules}
    if "no" in outcomes:
        asks = next((one for one in told if one.rule.outcome == "no" and one.steps), None)
        return Readiness("no", None, rules, asks.steps, asks.or_else) if asks else _no(rules)
    if outcomes & {"wait", "unknown"}:
        return Readiness("not_yet", _ready_at(facts, told, air, now_s), rules)
    return Readiness("yes", _good_until(facts, air, now_s), rules)


def _no(rules: tuple[RuleOutcome, ...]) -> Readiness:
    return Readiness("no", None, rules)


def state_of(below: Below, now_at: datetime) -> SurfaceState:
    """Give the state of what lies below at an instant."""
    if below.state is not None:
        return below.state
    if below.closes_at is not None and below.closes_at <= now_at:
        return "waxed" if below.material == "polyester_waxed" else "glossy"
    if below.touch_dry_at is not None and below.touch_dry_at > now_at:
        return "tacky"
    return "green"


def _rule(
    rule: Rule, outcome: Outcome, code: str, source: str, **params: str | float
) -> RuleOutcome:
    return RuleOutcome(rule, outcome, code, source, params)


def _held(facts: CoatFacts) -> list[_Told]:
    if facts.held_reason is None:
        return []
    rule = _rule("held", "no", "held", "the crew", reason=facts.held_reason)
    return [_Told(rule)]


def _owed(owed: Sequence[Owed], now_at: datetime) -> list[_Told]:
    found = []
    for one in owed:
        params = {"step_id": one.step_id, "kind": one.kind}
        if one.until_at is not None:
            if one.until_at > now_at:
                until = iso_of(one.until_at)
                rule = _rule(
                    "steps_before", "wait", "before_curing", "the plan", until_at=until, **params
                )
                found.append(_Told(rule, one.until_at))
            continue
        code = "preparation_owed" if one.kind in PREPARATION else "step_owed"
        found.append(_Told(_rule("steps_before", "no", code, "the plan", **params)))
    return found or [_Told(_rule("steps_before", "ok", "nothing_owed", "the plan"))]


def _window(facts: CoatFacts) -> list[_Told]:
    below, now_at = facts.below, facts.now_at
    if below is None:
        return [_Told(_rule("window", "ok", "nothing_below", SHEET))]
    if not below.ended:
        return [_Told(_rule("window", "unknown", "coat_not_ended", SHEET))]
    if below.state in PREPARED:
        return [_Told(_rule("window", "ok", "prepared", SHEET))]
    if below.state is not None and below.opens_at is None and below.closes_at is None:
        return [_Told(_rule("window", "ok", "no_window", SHEET))]
    if below.opens_at is not None and below.opens_at > now_at:
        opens = iso_of(below.opens_at)
        rule = _rule("window", "wait", "window_not_open", SHEET, opens_at=opens)
        return [_Told(rule, below.opens_at)]
    if below.closes_at is None:
        return [_Told(_rule("window", "ok", "window_open", SHEET))]
    closes = iso_of(below.closes_at)
    if below.closes_at <= now_at and _is_tack_over(below, facts):
        return [_Told(_rule("window", "ok", "tack_coat", TACK_SOURCE, closes_at=closes))]
    if below.closes_at <= now_at:
        rule = _rule("window", "no", "window_missed", SHEET, closes_at=closes)
        return [_Told(rule, None, *_missed_steps(below, facts))]
    return [_Told(_rule("window", "ok", "window_open", SHEET, closes_at=closes))]


def _is_tack_over(below: Below, facts: CoatFacts) -> bool:
    """Say whether a tack coat goes on what lies below after its window."""
    if not facts.tack or facts.over is None or below.material is None:
        return False
    state = state_of(below, facts.now_at)
    answer = goes_over(facts.over, below.material, state)
    return is_the_mend(facts.over, below.material, answer)


def _missed_steps(below: Below, facts: CoatFacts) -> tuple[Steps, Steps]:
    material = next((one for one in MATERIALS if one == below.material), None)
    if material is None or facts.over is None:
        return steps_of(("clean", "sand", "clean")), ()
    missed = missed_window(material, facts.area_m2, below.sand_minutes_per_m2, facts.over)
    return missed.steps, missed.or_else


def _compatibility(facts: CoatFacts) -> list[_Told]:
    below, over = facts.below, facts.over
    if below is None or below.material is None or over is None:
        return [_Told(_rule("compatibility", "not_checked", "material_unknown", "the table"))]
    met_at = facts.now_at
    if below.opens_at is not None and below.opens_at > met_at:
        met_at = below.opens_at
    state = state_of(below, met_at)
    answer = goes_over(over, below.material, state)
    tacked = facts.tack and is_the_mend(over, below.material, answer)
    outcome: Outcome = "ok" if answer.verdict == "yes" or tacked else "no"
    rule = _rule(
        "compatibility",
        "wait" if answer.mends == ("wait",) else outcome,
        "tack_coat" if tacked else answer.reasons[0].code,
        TACK_SOURCE if tacked else answer.reasons[0].source,
        over=over,
        under=below.material,
        state=state,
        verdict=answer.verdict,
    )
    tack: Material = "epoxy_paint" if below.material == "epoxy_paint" else "epoxy_resin"
    steps, or_else = steps_of(answer.mends, tack), steps_of(answer.or_else, tack)
    return [_Told(rule, None, steps, or_else)]


def _ready_at(
    facts: CoatFacts, told: Sequence[_Told], air: AirRules, now_s: float
) -> datetime | None:
    """Give the first instant at which every rule is expected to hold; None when nobody can say."""
    waits = [one for one in told if one.rule.outcome in ("wait", "unknown")]
    if any(one.wait_at is None and one.rule.rule not in AIR_RULES for one in waits):
        return None
    if any(one.rule.outcome == "unknown" for one in waits):
        return None
    first_s = max([now_s, *(seconds_of(one.wait_at) for one in waits if one.wait_at is not None)])
    closes_s = _closes_s(facts)
    for at_s in [first_s, *_looks(now_s, first_s)]:
        if at_s >= closes_s:
            return None
        if at_s > now_s and air.holds(at_s):
            return instant_of(at_s)
    return None


def _good_until(facts: CoatFacts, air: AirRules, now_s: float) -> datetime | None:
    """Give the last instant at which the coat may still be begun; None when nothing closes."""
    closes_s = _closes_s(facts)
    good_s = now_s
    for at_s in _looks(now_s, now_s):
        if at_s >= closes_s:
            break
        if not air.holds(at_s):
            return instant_of(good_s)
        good_s = at_s
    return None if closes_s == inf else instant_of(min(closes_s, now_s + AHEAD_S))


def _closes_s(facts: CoatFacts) -> float:
    below = facts.below
    if below is None or below.closes_at is None or below.state in PREPARED:
        return inf
    if below.closes_at <= facts.now_at and _is_tack_over(below, facts):
        return inf
    return seconds_of(below.closes_at, "closes_at")


def _looks(now_s: float, after_s: float) -> list[float]:
    """Give the instants ahead that are looked at, after one of them."""
    n = int(AHEAD_S / LOOK_S)
    return [now_s + k * LOOK_S for k in range(1, n + 1) if now_s + k * LOOK_S > after_s]
