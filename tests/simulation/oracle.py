"""Judges a history after it came to rest, from what was done and seen; no merge is asked.

What must hold
--------------
- Every copy whose key works equals the server, and shows what it holds.
- Every entry has one fate: filed once on the server, taken or refused with its text, and the phone says the same.
- Every record that was taken exists once, as it was entered; no row is there that nobody entered.
- Every value that was taken stands, was seen by whoever replaced it, or is kept as a difference.
- What was deleted unseen is kept with a question; who was put on a step is on it until who saw that took them off.
- Numbers are unique; the alarms are those that the clocks ask for; the other refit is as it was.
"""

from __future__ import annotations

from tests.simulation import copies, deletions, fates, server_side, values
from tests.simulation.history import History
from tests.simulation.quiet import Rest
from tests.simulation.truth import read


def judge(history: History, rests: list[Rest]) -> None:
    """Check everything; raises the first violation found."""
    truth = read(history)
    for rest in rests:
        if rest.alive:
            copies.check_drained(rest)
            copies.check_copy(rest, truth)
        copies.check_shown(rest)
    fates.check_fates(history, rests, truth)
    fates.check_records(history, truth)
    values.check_values(truth)
    if not history.books.restores:
        values.check_questions(truth)
    deletions.check_deletions(truth)
    deletions.check_crews(truth)
    server_side.check_numbers(history)
    server_side.check_photos(history, rests)
    server_side.check_alarms(history, rests)
    server_side.check_history_api(history, rests, truth)
    server_side.check_other_refit(history)
