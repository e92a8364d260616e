"""Wet and dry film, and how far a litre goes.

Theory
------
Of a wet film the solvent leaves and the solids stay: dry = wet * solids. Thinner adds wet film and
no solids. A litre spread one micrometre thick covers 1000 m2, so that it covers 10 * solids_pct /
dry_um square metres (the handbook's 1604 * solids / mils square feet a US gallon).

Rules
-----
* Thinning is the volume of thinner for 100 volumes of paint. Spreading rates are per litre from the
  tin, which thinner does not change.
* Loss is the part of the paint that never becomes film: practical = theoretical * (1 - loss), and
  what is needed is divided by (1 - loss), never multiplied by (1 + loss).
* Loss by method is common practice, no source: weather, shape and hand decide.

Source
------
MIL-HDBK-1110 (1995), adopted as UFC 3-190-06 (2004), 2.1.5 (coverage). Loss by method: common
practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from typing import Final, Literal

from tackwatch.trade.errors import TradeError

Method = Literal["brush", "roller", "airless_spray", "air_spray"]

UM_M2_PER_L: Final = 1000.0
COMB_UM: Final = tuple(float(tooth) for tooth in (*range(25, 300, 25), *range(300, 1050, 50)))
EDGE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Loss:
    """Loss by a method in percent: the least, the usual, the most."""

    low_pct: float
    usual_pct: float
    high_pct: float


LOSS_BY_METHOD: Final[Mapping[Method, Loss]] = {
    "brush": Loss(5.0, 8.0, 15.0),
    "roller": Loss(5.0, 10.0, 20.0),
    "airless_spray": Loss(20.0, 30.0, 40.0),
    "air_spray": Loss(35.0, 45.0, 60.0),
}


def solids_thinned_pct(solids_by_volume_pct: float, thinning_pct: float) -> float:
    """Give the solids by volume of paint after thinning."""
    return solids_by_volume_pct / (1.0 + thinning_pct / 100.0)


def wet_film_um(dry_film_um: float, solids_by_volume_pct: float, thinning_pct: float) -> float:
    """Give the wet film that dries to a dry film."""
    return dry_film_um * 100.0 / solids_thinned_pct(solids_by_volume_pct, thinning_pct)


def dry_film_um(wet_film_um: float, solids_by_volume_pct: float, thinning_pct: float) -> float:
    """Give the dry film that a wet film leaves."""
    return wet_film_um * solids_thinned_pct(solids_by_volume_pct, thinning_pct) / 100.0


def theoretical_m2_per_l(dry_film_um: float, solids_by_volume_pct: float) -> float:
    """Give the square metres that a litre from the tin covers when nothing is lost."""
    return UM_M2_PER_L * solids_by_volume_pct / 100.0 / dry_film_um


def loss_pct_of(loss_pct: float | None, method: Method | None) -> float:
    """Give the loss that is meant: the one that is given, or the usual one of the method.

    Raises
    ------
    TradeError
        When both are given, for then it is not clear which is meant.
    """
    if loss_pct is not None and method is not None:
        raise TradeError("loss_pct", "give the loss or the method, not both")
    if method is not None:
        return LOSS_BY_METHOD[method].usual_pct
    return 0.0 if loss_pct is None else loss_pct


def after_loss(amount: float, loss_pct: float) -> float:
    """Give what is left of an amount after the loss."""
    return amount * (1.0 - loss_pct / 100.0)


def before_loss(amount: float, loss_pct: float) -> float:
    """Give what must be there so that an amount is left after the loss."""
    return amount / (1.0 - loss_pct / 100.0)


def coats_to(total_um: float, coat_um: float) -> int:
    """Give the number of coats that reach a total dry film."""
    return max(1, ceil(total_um / coat_um - EDGE))


@dataclass(frozen=True, slots=True)
class Teeth:
    """Two teeth of a wet-film comb: the one that the paint must reach, and the next above."""

    must_be_wet_um: float
    should_stay_dry_um: float | None


def comb_teeth(wet_um: float, teeth_um: Sequence[float]) -> Teeth:
    """Give the tooth that shows that the wet film is thick enough, and the one above it.

    Raises
    ------
    TradeError
        When the comb does not reach so far, or its teeth do not rise.
    """
    if any(not low < high for low, high in pairwise(teeth_um)):
        raise TradeError("teeth_um", "must rise from tooth to tooth")
    above = [tooth for tooth in teeth_um if tooth >= wet_um - EDGE * wet_um]
    if not above:
        raise TradeError("teeth_um", f"no tooth reaches {wet_um:.0f} um")
    return Teeth(above[0], above[1] if len(above) > 1 else None)
