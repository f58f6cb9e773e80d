"""How much surer the result would be with the user's own library, or with stems."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.hearing.measures import Heard
from auditor.intent.roles import Intent
from auditor.score.notes import Score

# A line matters where the score relies on it; the median over lines of real scores is near
# this. A verdict is doubtful below this confidence.
_RELIED, _SURE = 0.5, 0.8
_NAMED = 4
# Lines of made mixes that were told with less than that confidence: the share of states that
# were wrong, heard against covered, and the mean error of their level in dB with the shipped
# templates and with learned ones (tests/bench/library_bench.py, true note times, 22 lines of
# 151 in 14 mixes). Learned templates left 27 in 100 of these states wrong.
WRONG = 0.23
LEVEL_DB = {"shipped": 1.4, "learned": 0.9}


def doubtful_lines(score: Score, intent: Intent, heard: Heard) -> tuple[int, ...]:
    """Rows of lines that the score relies on and whose state is not sure, least sure first."""
    relied = intent.reliance.max(axis=1) >= _RELIED if intent.reliance.size else np.zeros(0)
    rows = [
        k
        for k, state in enumerate(heard.line_state)
        if k < len(relied)
        and relied[k]
        and state not in ("silent", "not judged")
        and (state == "undecided" or heard.line_confidence[k] < _SURE)
    ]
    return tuple(sorted(rows, key=lambda k: (float(heard.line_confidence[k]), k)))


def better_known(
    score: Score, intent: Intent, heard: Heard, *, learned: bool, exact: Sequence[int]
) -> str:
    """A sentence on what a library or stems would settle, empty where nothing would change.

    Parameters
    ----------
    learned
        True if the timbres are the user's own.
    exact
        Rows of lines that have a stem.
    """
    rows = [k for k in doubtful_lines(score, intent, heard) if k not in exact]
    if not rows:
        return ""
    names = [score.lines[k].name for k in rows[:_NAMED]]
    more = f" and {len(rows) - _NAMED} more" if len(rows) > _NAMED else ""
    lines = "line" if len(rows) == 1 else "lines"
    library = (
        ""
        if learned
        else f"templates learned from your own library (auditor kit, auditor learn) brought "
        f"the mean error of their level from {LEVEL_DB['shipped']:g} to "
        f"{LEVEL_DB['learned']:g} dB, but left about as many states wrong; "
    )
    return (
        f"From this mix the state of {len(rows)} {lines} the score relies on is not sure "
        f"({', '.join(names)}{more}). Of lines of made mixes that were told with such doubt "
        f"{100 * WRONG:.0f} in 100 had the wrong state; {library}with a stem of its own a "
        f"line's level is exact."
    )
