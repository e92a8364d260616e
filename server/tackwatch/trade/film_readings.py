"""Whether measured dry film readings meet a specification.

Theory
------
A film is never even. Rules of acceptance therefore ask three things: the mean is at least what was
specified, no reading is below a share of it, and not too many lie between that share and the whole.

Rules
-----
* `iso_19840` (the "80/20 rule"): the mean reaches the specified film, no reading is below 80 % of
  it, and at most 20 % of the readings are below 100 % of it.
* `sspc_pa_2`: each reading is the mean of a spot (three gauge readings); the mean of the spots
  reaches the specified film and no spot is below 80 % of it. With a most given, the mean is not
  above it and no spot above 120 % of it.
* `imo_90_10`: no reading is below 90 % and at most 10 % of the readings are below 100 %.
* With a most given, the other two rules let no reading pass it. Too thick can crack or never cure.

Source
------
ISO 19840, SSPC-PA 2 and IMO MSC.215(82) (PSPC), all three from memory: each share, what the mean
must reach, and what a spot is. None was read in its text; the text of the contract governs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from typing import Final, Literal

FilmRule = Literal["iso_19840", "sspc_pa_2", "imo_90_10"]

EDGE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class RuleNumbers:
    """The numbers of a rule: the least share, the share of thin readings, and of the most."""

    least_share: float
    thin_share_most: float
    most_share: float
    mean_counts: bool


RULES: Final[Mapping[FilmRule, RuleNumbers]] = {
    "iso_19840": RuleNumbers(0.8, 0.2, 1.0, True),
    "sspc_pa_2": RuleNumbers(0.8, 1.0, 1.2, True),
    "imo_90_10": RuleNumbers(0.9, 0.1, 1.0, False),
}


@dataclass(frozen=True, slots=True)
class FilmJudged:
    """The readings taken together, and what they fail."""

    mean_um: float
    least_um: float
    greatest_um: float
    thin_count: int
    reasons: tuple[str, ...]


def judge(
    readings_um: Sequence[float], specified_um: float, rule: FilmRule, most_um: float | None
) -> FilmJudged:
    """Judge readings by a rule; no reasons means that they are accepted."""
    numbers = RULES[rule]
    mean_um = fsum(readings_um) / len(readings_um)
    least_um, greatest_um = min(readings_um), max(readings_um)
    thin = sum(1 for one in readings_um if one < specified_um * (1.0 - EDGE))
    fails = {
        "mean_too_thin": numbers.mean_counts and mean_um < specified_um * (1.0 - EDGE),
        "reading_too_thin": least_um < numbers.least_share * specified_um * (1.0 - EDGE),
        "too_many_thin": thin > numbers.thin_share_most * len(readings_um) * (1.0 + EDGE),
    }
    if most_um is not None:
        fails["mean_too_thick"] = mean_um > most_um * (1.0 + EDGE)
        fails["reading_too_thick"] = greatest_um > numbers.most_share * most_um * (1.0 + EDGE)
    reasons = tuple(reason for reason, failed in fails.items() if failed)
    return FilmJudged(mean_um, least_um, greatest_um, thin, reasons)
