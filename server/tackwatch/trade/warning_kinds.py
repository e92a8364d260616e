"""The kinds of warnings, and how each rings where nobody said otherwise.

Rules
-----
* `lead_min` is how long before its instant a warning is due; for `step_late` it is how long after. None
  where there is nothing to lead: it is told when it happens.
* What `waits` may be held back until quiet hours end. A pot, a window that closes and dew on wet
  paint do not wait.
* `unseen_min` is after how long an unseen warning goes to the next person; None: it stays where it is.
* What has a `walk` is told earlier by the way to the boat: something must be begun there.

Source
------
Our own choices; that a pot and a window do not wait is common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, get_args

WarningKind = Literal[
    "pot_life_ending",
    "pot_life_over",
    "gel",
    "recoat_open",
    "recoat_closing",
    "recoat_missed",
    "sandable",
    "immerse_open",
    "immerse_closing",
    "step_due",
    "step_late",
    "launch_countdown",
    "reading_stale",
    "weather_edge",
]

ALARM_KINDS: Final[tuple[WarningKind, ...]] = get_args(WarningKind)


@dataclass(frozen=True, slots=True)
class Manner:
    """How a kind rings by itself."""

    lead_min: float | None = None
    waits: bool = True
    unseen_min: float | None = None
    walk: bool = False


DAY_MIN: Final = 24.0 * 60.0

MANNERS: Final[Mapping[WarningKind, Manner]] = {
    "pot_life_ending": Manner(lead_min=5.0, waits=False),
    "pot_life_over": Manner(waits=False, unseen_min=5.0),
    "gel": Manner(waits=False),
    "recoat_open": Manner(),
    "recoat_closing": Manner(lead_min=60.0, waits=False, unseen_min=15.0, walk=True),
    "recoat_missed": Manner(unseen_min=60.0),
    "sandable": Manner(),
    "immerse_open": Manner(),
    "immerse_closing": Manner(lead_min=7.0 * DAY_MIN, waits=False, unseen_min=DAY_MIN),
    "step_due": Manner(lead_min=15.0, walk=True),
    "step_late": Manner(lead_min=15.0, unseen_min=60.0),
    "launch_countdown": Manner(),
    "reading_stale": Manner(),
    "weather_edge": Manner(lead_min=60.0, waits=False, unseen_min=15.0, walk=True),
}
WALK_MIN: Final = 10.0
