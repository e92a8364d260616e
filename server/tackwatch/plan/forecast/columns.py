"""Where things stand in the arrays of the dispatch; a pair of columns points into `Net.flat`."""

from typing import Final

WORK: Final = 0  # slots it is reckoned to take
NEED: Final = 1  # open slots that must be left of a span to begin it
CALENDAR: Final = 2
EARLIEST: Final = 3  # or where it began, when fixed
FIXED: Final = 4
FIXED_END: Final = 5  # where it ends by the plan
FIXED_LEFT: Final = 6  # slots from now until then
PLANNED: Final = 7  # start in the plan
OUTDOORS: Final = 8
COUNTS: Final = 9  # must be done by the launch
JOB: Final = 10
DRY: Final = 11  # row of `tables` or -1
GOOD: Final = 12  # row of `tables` or -1: the next end from which the window after it can be met
WINDOW: Final = 13  # whether a window of it can be missed
PEOPLE: Final = 14
OTHER: Final = 16  # who else may do it alone
LINK: Final = 18
USE: Final = 20
DUST: Final = 22
WET: Final = 24
COLUMNS: Final = 26

# a link in `flat`; a use is a place and its units
BEFORE, MIN_GAP, MAX_GAP, READY, LAST, MISSED_WORK = range(6)
LINK_N: Final = 6
# of `hours`
LEFT, NEXT, WORKED = range(3)
# of spans: in the way with so many units, or of a person with so much room after it
START, END, WHO, UNITS = range(4)
ROOM: Final = UNITS
# entries of `scale`
NOW, PIECE, PATIENCE, HOLD, WAYS = range(5)
