"""Which stages of a coat the steps after it wait for: the same that phones show.

Rules
-----
* A step that follows by cure waits, by its kind: sanding and grinding for `sandable`; waiting (for the
  water) for `immerse_opens`, until `immerse_closes`; all else for `recoat_opens`, until `recoat_closes`.
* Where a profile does not know what a sander waits for, the coat's opening to the next coat stands in,
  then touch dry, which may be too early, and is told.
* A step that follows without asking for the cure waits until the coat is no longer curing: until the
  first of the stages for which others wait by cure, else until the first known of `CURE_ENDS`.

Source
------
Common practice, no source.
"""

from collections.abc import Iterable
from typing import Final

from tackwatch.trade.edges import stage_known
from tackwatch.trade.types import Profile, Stage

SANDING: Final = ("sand", "grind")
CURE_ENDS: Final[tuple[Stage, ...]] = ("immerse_opens", "sandable", "touch_dry", "recoat_opens")
STAND_INS: Final[tuple[Stage, ...]] = ("recoat_opens", "touch_dry")


def window_stages(kind: str) -> tuple[Stage, Stage | None]:
    """Give the stages between which a step of this kind follows a coat by its cure."""
    if kind in SANDING:
        return "sandable", None
    if kind == "wait":
        return "immerse_opens", "immerse_closes"
    return "recoat_opens", "recoat_closes"


def opening_of(profile: Profile, kind: str) -> Stage | None:
    """Give the stage that a step of this kind waits for, or what stands in; None when nothing is known."""
    wanted, _ = window_stages(kind)
    return next((one for one in (wanted, *STAND_INS) if stage_known(profile, one)), None)


def closing_of(profile: Profile, kind: str) -> Stage | None:
    """Give the stage before which a step of this kind must begin; None when it never closes."""
    _, closes = window_stages(kind)
    return closes if closes is not None and stage_known(profile, closes) else None


def cure_ends(profile: Profile, kinds_by_cure: Iterable[str]) -> tuple[Stage, ...]:
    """Give the stages of which the first to come ends the curing, for steps that do not ask for it.

    Parameters
    ----------
    profile : Profile
        The product that cures.
    kinds_by_cure : iterable of str
        The kinds of the steps that follow by its cure.
    """
    waited = tuple(
        dict.fromkeys(
            stage for kind in kinds_by_cure if stage_known(profile, stage := window_stages(kind)[0])
        )
    )
    return waited or tuple(one for one in CURE_ENDS if stage_known(profile, one))[:1]
