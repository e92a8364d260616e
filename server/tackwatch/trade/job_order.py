"""The steps of a job in their order, held against the table: which would be wrong, and what mends it.

Theory
------
A job leaves a surface behind after each step. A coat leaves itself; sanding takes its gloss, washing
its blush, grinding takes off what is soft, waiting lets it cure. Before each coat the table is asked
about the surface that the steps before have left.

Rules
-----
* What lies below before the first step may be unknown to us (`under` left out): then nothing is said
  until a coat with a known material lies on it.
* A coat that follows in the window of the one before meets it tacky when that cures by chemistry,
  green when it dries. One that does not follow in the window meets it cured: glossy, or waxed.
* A step without a material (no product chosen yet) is passed over, and what it leaves is unknown.
* A tack coat is itself the mend where the table asks for no more than what it stands for (`tack_coat`).
* After a step that would be wrong the surface is taken as if it had gone well, so that one mistake
  is told once.
* A proposal holds the mends as steps, in order, to be put before the step that would be wrong.

    step                what it does to the surface
    sand                glossy (but for blush), washed, waxed become keyed; glossy resin that blushes
                        becomes keyed_unwashed; what is uncured or contaminated stays
    grind               as sand; paint, antifouling, silicone and rubber come off altogether
    clean               glossy, contaminated and unwashed resin become washed, dust comes off
    wait                uncured becomes cured; a paint that dries becomes green
    inspect             an old coat nobody knew is tried by a patch
    coat, laminate ...  leaves its material

Source
------
Our own, on the table; what each step does is common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from tackwatch.trade.compatibility import Reason, can_be, goes_over
from tackwatch.trade.compatibility_table import (
    BARE,
    DRYING,
    RESIN,
    RUBBERY,
    SILICONE,
    URETHANE,
    Ground,
    Material,
    Mend,
    SurfaceState,
    Verdict,
)
from tackwatch.trade.errors import TradeError
from tackwatch.trade.tack_coat import TACK_COAT, TackCoat, is_the_mend

StepKind = Literal[
    "survey", "open_up", "dry_out", "grind", "sand", "clean", "mask", "laminate", "fillet", "fair",
    "coat", "bed", "fit", "inspect", "wait", "trip",
]  # fmt: skip

LAYS: Final = frozenset({"laminate", "fillet", "fair", "coat", "bed"})
TAKEN_OFF: Final = SILICONE | RUBBERY | DRYING | URETHANE
STEP_OF_MEND: Final[Mapping[Mend, StepKind | None]] = {
    "wait": "wait",
    "clean": "clean",
    "sand": "sand",
    "tack_coat": "coat",
    "prime": "coat",
    "strip": "grind",
    "test_patch": "inspect",
    "other_product": None,
}
STEPS_MAX_N: Final = 500


@dataclass(frozen=True, slots=True)
class JobStep:
    """A step of a job, as far as the table is concerned."""

    step_id: str
    kind: StepKind
    material: Material | None = None
    in_window: bool = False
    tack: bool = False


@dataclass(frozen=True, slots=True)
class ProposedStep:
    """A step to put in: its kind, the key of its title, its labour where that is known.

    `tack` tells how a tack coat is laid; None for any other step.
    """

    kind: StepKind
    title_key: str
    material: Material | None = None
    labour_h: float | None = None
    tack: TackCoat | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """A step that would be wrong, on what, why, and the steps to put before it."""

    step_id: str
    over: Material
    under: Ground
    state: SurfaceState
    verdict: Verdict
    reasons: tuple[Reason, ...]
    proposals: tuple[ProposedStep, ...]
    or_else: tuple[ProposedStep, ...]


@dataclass(frozen=True, slots=True)
class Surface:
    """What lies below: the material on top, its state, what lies beneath; `fresh` is not cured."""

    under: Ground
    state: SurfaceState
    beneath: tuple[Ground, ...] = ()
    fresh: bool = False


def check_order(
    steps: Sequence[JobStep], under: Ground | None = None, state: SurfaceState | None = None
) -> tuple[Finding, ...]:
    """Find the steps of a job that would go over what they must not go over.

    Parameters
    ----------
    steps : sequence of JobStep
        In the order in which they are done.
    under, state : str, optional
        What lies below before the first step; both or neither.

    Raises
    ------
    TradeError
        When only one of the two is given, or what lies below cannot be in that state.

    Source
    ------
    See the head of the module.
    """
    if len(steps) > STEPS_MAX_N:
        raise TradeError("steps", f"at most {STEPS_MAX_N} steps")
    surface = _first(under, state)
    found: list[Finding] = []
    for step in steps:
        if step.kind not in LAYS:
            surface = None if surface is None else after_step(surface, step.kind, step.in_window)
            continue
        if surface is not None:
            surface = _met(surface, step.in_window)
            if step.material is not None:
                found += _finding(step, step.material, surface)
        surface = _laid(step, surface)
    return tuple(found)


def after_step(surface: Surface, kind: StepKind, in_window: bool = False) -> Surface:
    """Give the surface as a step that lays nothing leaves it."""
    if kind in ("sand", "grind"):
        surface = cured(surface)
        return (
            stripped(surface) if kind == "grind" and surface.under in TAKEN_OFF else sanded(surface)
        )
    if kind == "clean":
        return cleaned(surface if in_window else cured(surface))
    if kind == "wait":
        if surface.under in DRYING and surface.state == "tacky":
            return replace(surface, state="green")
        return cured(surface)
    if kind == "inspect" and surface.under == "old_unknown":
        return replace(surface, under="old_tested")
    return surface


def cured(surface: Surface) -> Surface:
    """Give the surface after its window has closed."""
    if not surface.fresh and surface.state not in ("tacky", "green"):
        return surface
    state: SurfaceState = "waxed" if surface.under == "polyester_waxed" else "glossy"
    return replace(surface, state=state, fresh=False)


def sanded(surface: Surface) -> Surface:
    """Give the surface after sanding."""
    if surface.state == "glossy" and surface.under in RESIN:
        return replace(surface, state="keyed_unwashed")
    if surface.state in ("glossy", "washed", "waxed"):
        return replace(surface, state="keyed")
    return surface


def cleaned(surface: Surface) -> Surface:
    """Give the surface after washing and wiping."""
    if surface.state == "keyed_unwashed" and surface.under not in RESIN:
        return replace(surface, state="keyed")
    if surface.state in ("glossy", "keyed_unwashed", "contaminated"):
        return replace(surface, state="washed")
    return surface


def stripped(surface: Surface) -> Surface:
    """Give the surface after the topmost coat was taken off."""
    if not surface.beneath:
        return Surface("old_unknown", "keyed")
    under = surface.beneath[-1]
    return Surface(under, "bare" if under in BARE else "keyed", surface.beneath[:-1])


def steps_of(mends: Sequence[Mend], material: Material | None = None) -> tuple[ProposedStep, ...]:
    """Give mends as steps that can be put into a job; a tack coat is of the given material."""
    return tuple(
        ProposedStep(
            kind=kind,
            title_key=f"mend.{mend}",
            material=_material_of_mend(mend, material),
            tack=TACK_COAT if mend == "tack_coat" else None,
        )
        for mend in mends
        if (kind := STEP_OF_MEND[mend]) is not None
    )


def _material_of_mend(mend: Mend, material: Material | None) -> Material | None:
    if mend == "prime":
        return "epoxy_paint"
    return material if mend == "tack_coat" else None


def _first(under: Ground | None, state: SurfaceState | None) -> Surface | None:
    if under is None and state is None:
        return None
    if under is None or state is None:
        missing = "under" if under is None else "state"
        raise TradeError(missing, "what lies below and its state are given together")
    if not can_be(under, state):
        raise TradeError("state", f"{under} cannot be {state}")
    return Surface(under, state)


def _met(surface: Surface, in_window: bool) -> Surface:
    """Give the surface as the next coat meets it."""
    if not surface.fresh:
        return surface
    if not in_window:
        return cured(surface)
    return replace(surface, state="green" if surface.under in DRYING else "tacky")


def _laid(step: JobStep, surface: Surface | None) -> Surface | None:
    if step.material is None:
        return None
    beneath = () if surface is None else (*surface.beneath, surface.under)
    return Surface(step.material, "tacky", beneath, fresh=True)


def _finding(step: JobStep, over: Material, surface: Surface) -> list[Finding]:
    answer = goes_over(over, surface.under, surface.state)
    if answer.verdict == "yes" or (step.tack and is_the_mend(over, surface.under, answer)):
        return []
    below: Material | None = "epoxy_paint" if surface.under == "epoxy_paint" else "epoxy_resin"
    return [
        Finding(
            step_id=step.step_id,
            over=over,
            under=surface.under,
            state=surface.state,
            verdict=answer.verdict,
            reasons=answer.reasons,
            proposals=steps_of(answer.mends, below),
            or_else=steps_of(answer.or_else, below),
        )
    ]
