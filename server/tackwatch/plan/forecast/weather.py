"""Days on which nothing can be done outdoors.

Rules
-----
* A day is wet with a chance that has a beta prior and is learned from the days so far.
* Wet days come in rows: tomorrow is like today with the weight `PERSISTENCE`. Days so far tell
  accordingly less.
* Each sample draws its own chance, and its days.

Source
------
A two-state Markov chain is common practice for wet days; the prior and the persistence are our own.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast.record import Weather

PRIOR_WET: Final = 1.5
PRIOR_DRY: Final = 4.5
PERSISTENCE: Final = 0.3


def draw_wet_days(
    seen: Weather, rng: np.random.Generator, samples: int, days: int
) -> NDArray[np.bool_]:
    """Draw which days are wet; shape (samples, days)."""
    telling = (1 - PERSISTENCE) / (1 + PERSISTENCE)
    wet_n, dry_n = seen.wet * telling, (seen.days - seen.wet) * telling
    p_wet = rng.beta(PRIOR_WET + wet_n, PRIOR_DRY + dry_n, samples)
    luck = rng.random((days, samples), dtype=np.float32)
    wet = np.empty((days, samples), dtype=np.bool_)
    wet[0] = luck[0] < p_wet
    for day in range(1, days):
        wet[day] = luck[day] < (1 - PERSISTENCE) * p_wet + PERSISTENCE * wet[day - 1]
    return np.ascontiguousarray(wet.T)
