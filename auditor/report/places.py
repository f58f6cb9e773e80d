"""Where things lie, in words: printed bar numbers and the clock."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.score.notes import Bar, Line, Score
from auditor.units import clock

TIMES = ("first", "second", "third", "fourth")


def line_of(score: Score, number: int) -> Line:
    """Line with this number; lines are numbered from 1 in score order."""
    return score.lines[number - 1]


def part_name(score: Score, number: int) -> str:
    """Name a part as printed, with its number where others have that name or it has none."""
    # Parts of the file without music are left out, so numbers may have gaps.
    names = {part.number: part.name.strip() for part in score.parts}
    name = names.get(number, "")
    if not name:
        return f"part {number}"
    shared = list(names.values()).count(name) > 1
    return f"{name} (part {number})" if shared else name


def bar_span(score: Score, first: int, last: int) -> str:
    """Write a run of played bars by printed number for a table: ``5-8``, or ``5`` for one."""
    a, b = score.bars[first].number, score.bars[last].number
    return a if first == last else f"{a}-{b}"


def bars_in_words(score: Score, first: int, last: int) -> str:
    """Write played bars by printed number for a sentence: ``bars 5–8, second time``."""
    start, end = score.bars[first], score.bars[last]
    if start.pass_number != end.pass_number:
        return f"bar {start.number} ({_time(start)}) to bar {end.number} ({_time(end)})"
    words = f"bar {start.number}" if first == last else f"bars {start.number}–{end.number}"
    return words if start.pass_number == 1 else f"{words}, {_time(start)}"


def _time(bar: Bar) -> str:
    number = bar.pass_number
    return f"{TIMES[number - 1]} time" if number <= len(TIMES) else f"time {number}"


def runs(indices: Sequence[int]) -> list[tuple[int, int]]:
    """Ascending indices gathered into runs of neighbours, each as (first, last)."""
    out: list[tuple[int, int]] = []
    for i in indices:
        if out and i == out[-1][1] + 1:
            out[-1] = (out[-1][0], i)
        else:
            out.append((i, i))
    return out


def clock_span(start_s: float, end_s: float) -> str:
    """Two times as ``1:05–1:12``, one when they fall on the same second."""
    a, b = clock(start_s), clock(end_s)
    return a if a == b else f"{a}–{b}"


def listed(words: Sequence[str]) -> str:
    """Words in a row as English has it: ``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
