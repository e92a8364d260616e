"""How long a mix must stand in the tin before it may be used.

Theory
------
Some two-part paints must react for a while before they are spread, or their hardener sweats out of the
film. The colder they are the longer that takes; data sheets give it in bands of temperature.

Rules
-----
* The time of the band counts in which the mix lies. Where two bands meet, and in a gap between two, the
  colder one counts: too long a wait costs time, too short a one costs the coat.
* Colder than the first band, or warmer than a last band that ends, the sheet says nothing: refused.
* Without bands the one time of the sheet counts, whatever the temperature; without both there is none.
* Pot life counts from stirring, so that the time in the tin is part of it.

Source
------
Bands of a polyamide epoxy (MIL-P-24441 class): NAVFAC MO-124. That the longer time counts: our own caution.
"""

from collections.abc import Sequence

from tackwatch.trade.errors import OutOfRangeError, TradeError
from tackwatch.trade.types import InductionBand, Mix


def induction_minutes(mix: Mix, temp_c: float | None) -> float:
    """Give how long a mix stands before it may be used, 0 when the sheet asks for nothing.

    Raises
    ------
    TradeError
        When the sheet gives bands and there is no temperature.
    OutOfRangeError
        When the temperature lies beyond the bands.

    Source
    ------
    See the head of the module.
    """
    if not mix.induction_by_temp:
        return mix.induction_minutes or 0.0
    if temp_c is None:
        raise TradeError("temp_c", "is needed: the time in the tin goes by temperature")
    return in_band(mix.induction_by_temp, temp_c)


def in_band(bands: Sequence[InductionBand], temp_c: float) -> float:
    """Give the minutes of the band that counts at a temperature; the bands rise.

    Raises
    ------
    OutOfRangeError
        When the temperature lies beyond the bands.
    """
    first, last = bands[0], bands[-1]
    if temp_c < first.from_c:
        raise OutOfRangeError("temp_c", f"no time in the tin is given below {first.from_c:g} degC")
    if last.to_c is not None and temp_c > last.to_c:
        raise OutOfRangeError("temp_c", f"no time in the tin is given above {last.to_c:g} degC")
    reached = [one for one in bands if one.from_c < temp_c] or [first]
    return reached[-1].minutes


def check_bands(bands: Sequence[InductionBand], field: str) -> None:
    """Refuse bands that do not rise, overlap, or ask for more time where it is warmer.

    Raises
    ------
    TradeError
        Naming the first field that is wrong.
    """
    for i, band in enumerate(bands):
        if band.to_c is not None and band.to_c <= band.from_c:
            raise TradeError(f"{field}[{i}].to_c", "must lie above from_c")
        if band.to_c is None and i < len(bands) - 1:
            raise TradeError(f"{field}[{i}].to_c", "only the last band may be open above")
        if i and band.from_c < (bands[i - 1].to_c or 0.0):
            raise TradeError(f"{field}[{i}].from_c", "bands must follow one another upward")
        if i and band.minutes > bands[i - 1].minutes:
            raise TradeError(f"{field}[{i}].minutes", "warmer cannot take longer")
