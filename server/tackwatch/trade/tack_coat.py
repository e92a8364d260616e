"""A tack coat: the thin coat that lets the next one hold where the window was missed.

Theory
------
A thin, thinned coat of epoxy wets a cured face that a full coat would only lie on. While it is still
tacky the full coat goes on it and cures together with it.

Rules
-----
* Film, thinner and wait are told with every proposal that is a tack coat. Those of the product's
  sheet count before these.
* The wait is from the end of the tack coat to the full coat.
* A tack coat of epoxy is right on epoxy that would only want its gloss sanded off, or a tack coat: it is the
  mend itself. What must be washed, stripped or waited for first comes first for it too.

Source
------
Film 25 to 50 um wet, 25 % thinner by volume: UFGS-09971, 3.7.1.4. 1 to 2 mil wet and 4 h: TB 43-0144,
part 3, and NAVFAC MO-124.
"""

from dataclasses import dataclass
from typing import Final

from tackwatch.trade.compatibility import GoesOver
from tackwatch.trade.compatibility_table import EPOXY

SOURCE: Final = "UFGS-09971, 3.7.1.4; TB 43-0144, part 3; NAVFAC MO-124"
STANDS_FOR: Final = frozenset({"sand", "tack_coat"})


@dataclass(frozen=True, slots=True)
class TackCoat:
    """How thick it is laid, how far it is thinned, and how long the full coat waits."""

    wet_film_min_um: float
    wet_film_max_um: float
    thinning_pct: float
    wait_h: float


TACK_COAT: Final = TackCoat(25.0, 50.0, 25.0, 4.0)


def is_the_mend(over: str | None, under: str | None, answer: GoesOver) -> bool:
    """Say whether a tack coat is itself what the table asks for before a coat goes on."""
    epoxy = over in EPOXY and under in EPOXY
    return epoxy and answer.verdict == "only_if" and STANDS_FOR.issuperset(answer.mends)
