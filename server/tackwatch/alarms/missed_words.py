"""The notice of missed alarms in words: what each was, when it had been due, and what to do about it now.

Rules
-----
- One line for each, the first due first; what there is no room for is counted.
- What to do now is of the kind: the instant is past, so it is another deed than the alarm's own.

Source
------
What helps after a missed window or a forgotten pot: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

MOST_LINES = 6


def missed_words(
    params: Mapping[str, Any], phrases: Mapping[str, Any], say: Callable[[datetime], str]
) -> tuple[str, str]:
    """Give title and body.

    Parameters
    ----------
    params
        ``missed``: entries with kind, ``due_at`` and names; ``missed_n``: how many there are in all.
    phrases
        A language's phrases.
    say
        Says an instant.
    """
    words = phrases["missed"]
    entries: Sequence[Mapping[str, str]] = params["missed"]
    total = int(params["missed_n"])
    title = words["title_one"] if total == 1 else words["title"].format(missed_n=total)
    lines = [_line(one, words, phrases["subject"], say) for one in entries[:MOST_LINES]]
    left = total - len(lines)
    more = [words["more"].format(left_n=left)] if left > 0 else []
    return title, "\n".join([words["why"], *lines, *more])


def _line(
    entry: Mapping[str, str],
    words: Mapping[str, Any],
    subject: Mapping[str, str],
    say: Callable[[datetime], str],
) -> str:
    said = words["kinds"][entry["kind"]]
    names = ("step", "job", "zone", "product")
    place = ", ".join(entry[name] for name in names if entry.get(name)) or subject["nothing_named"]
    due = say(datetime.fromisoformat(entry["due_at"]))
    return str(words["line"].format(what=said["what"], place=place, due=due, now=said["now"]))
