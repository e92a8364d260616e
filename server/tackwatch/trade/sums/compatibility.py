"""The sums of what may go over what: one question, a thinner, and a whole job in its order.

Source
------
See `trade.compatibility_table` and `trade.job_order`.
"""

from dataclasses import dataclass, field
from typing import Final

from tackwatch.trade.compatibility import GoesOver, Thinner, goes_over, may_be_thinned
from tackwatch.trade.compatibility_table import Ground, Material, SurfaceState
from tackwatch.trade.job_order import STEPS_MAX_N, Finding, JobStep, StepKind, check_order
from tackwatch.trade.sums.described import described
from tackwatch.trade.sums.sum import Sum, note

TACK_WORDS: Final = {
    "tack": "How a tack coat is laid, null for any other step",
    "wet_film_min_um": "Least wet film of the tack coat",
    "wet_film_max_um": "Most wet film of the tack coat",
    "thinning_pct": "Thinner in the tack coat, by volume of paint",
    "wait_h": "Wait before the full coat",
}
WORDS: Final = {
    "verdict": "yes, only_if the mends are done first, or no",
    "mends": "What to do first, one after the other",
    "or_else": "Another way to the same end",
    "reasons": "The rows of the table that decided",
    "code": "Name of the row",
    "source": "Where the row comes from",
    "status": "Published, common practice, from memory, or our own",
    "contested": "Who says otherwise; empty when nobody is known to",
    "step_id": "The step",
    "over": "What is to go on",
    "under": "What lies below",
    "state": "State of what lies below",
    "proposals": "Steps to put before it, in order",
    "kind": "Kind of the step",
    "title_key": "Key of the step's title",
    "material": "What the step lays, null when it lays nothing",
    "labour_h": "Labour, null when it is not known",
    **TACK_WORDS,
    "findings": "Steps that would be wrong, in order; none when all is well",
}
TABLE: Final = "A table with a source in each row: handbooks, and common practice where so marked"


@dataclass(frozen=True, slots=True)
class GoesOverTakes:
    """A material that is to go over what lies below."""

    over: Material = field(metadata=note(WORDS["over"]))
    under: Ground = field(metadata=note(WORDS["under"]))
    state: SurfaceState = field(metadata=note(WORDS["state"]))


@dataclass(frozen=True, slots=True)
class ThinnedTakes:
    """A thinner that is to go into a material."""

    over: Material = field(metadata=note("What is to be thinned"))
    thinner: Thinner = field(metadata=note("What is to be added"))


@dataclass(frozen=True, slots=True)
class OrderedStep:
    """A step of a job."""

    step_id: str = field(metadata=note(WORDS["step_id"]))
    kind: StepKind = field(metadata=note(WORDS["kind"]))
    material: Material | None = field(default=None, metadata=note(WORDS["material"]))
    in_window: bool = field(
        default=False, metadata=note("Whether it follows in the window of the coat before")
    )
    tack: bool = field(default=False, metadata=note("Whether it is a tack coat"))


@dataclass(frozen=True, slots=True)
class OrderTakes:
    """The steps of a job in their order."""

    steps: tuple[OrderedStep, ...] = field(
        metadata=note("Steps in their order", at_most=STEPS_MAX_N)
    )
    under: Ground | None = field(default=None, metadata=note("What lies below at first"))
    state: SurfaceState | None = field(default=None, metadata=note("Its state"))


@dataclass(frozen=True, slots=True)
class OrderGives:
    """What was found."""

    findings: tuple[Finding, ...]


def _order(given: OrderTakes) -> OrderGives:
    steps = [
        JobStep(one.step_id, one.kind, one.material, one.in_window, one.tack) for one in given.steps
    ]
    return OrderGives(check_order(steps, given.under, given.state))


SUMS: Final = (
    Sum(
        "may_go_over",
        "compatibility",
        "Whether a material may go over what lies below, and what to do first.",
        GoesOverTakes,
        described(GoesOver, WORDS),
        lambda given: goes_over(given.over, given.under, given.state),
        TABLE,
        ("solvents", "dust"),
    ),
    Sum(
        "may_be_thinned",
        "compatibility",
        "Whether a thinner may go into a material.",
        ThinnedTakes,
        described(GoesOver, WORDS),
        lambda given: may_be_thinned(given.over, given.thinner),
        "Composites trade association magazine, Repair best practices, 2015; common practice",
        ("solvents",),
    ),
    Sum(
        "job_order",
        "compatibility",
        "Which steps of a job would go over what they must not, and what mends it.",
        OrderTakes,
        described(OrderGives, WORDS),
        _order,
        TABLE,
        ("dust",),
    ),
)
