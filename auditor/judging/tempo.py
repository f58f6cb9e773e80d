"""Faults of the rendering: a tempo far from the mark."""

from __future__ import annotations

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.wording import bars_named, opening
from auditor.judging.saying import remark
from auditor.judging.scene import Scene

# A tempo this factor off the mark, over so many quarters, is worth a word (our choice: past
# rubato, and past the difference between one conductor and the next).
FAR, SHORTEST = 1.3, 32.0
# Bars placed less surely than this say nothing about tempo.
SURE = 0.5
MOST = 2


def _factors(s: Scene) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Played tempo over marked tempo of each bar; NaN where one is not known."""
    out = np.full(len(s.score.bars), np.nan)
    for time in s.timeline.bars:
        bar = s.score.bars[time.bar]
        length = time.end_s - time.start_s
        if bar.tempo and time.confidence >= SURE and np.isfinite(length) and length > 0:
            out[time.bar] = bar.duration * 60.0 / length / bar.tempo
    return out


def _finding(s: Scene, run: list[int], factor: float) -> Finding:
    span = (run[0], run[-1])
    asked = float(np.median([s.score.bars[b].tempo or 0.0 for b in run]))
    way = "faster" if factor > 1 else "slower"
    where = bars_named(s.score.bars, *span)
    lines = s.foremost(*span)
    return remark(
        s, "tempo", lines, span, own=len(lines), weight=0.3,
        why=f"the page asks for about {asked:.0f} quarters a minute",
        cause=f"the rendering takes about {asked * factor:.0f}",
        remedies=("set the rendering's tempo to the mark, or mend the mark",),
        sentence=(
            f"{opening(where)}: the rendering is {way} than the mark, about "
            f"{asked * factor:.0f} quarters a minute instead of {asked:.0f}. That is the "
            f"rendering's doing; balance and clarity change with the tempo."
        ),
    )  # fmt: skip


def find_wrong_tempo(s: Scene) -> list[Finding]:
    """Find long stretches whose tempo is far from the mark, in one direction."""
    factor = _factors(s)
    found: list[Finding] = []
    for off in (factor >= FAR, factor <= 1 / FAR):
        bars = np.flatnonzero(off)
        for part in np.split(bars, np.flatnonzero(np.diff(bars) > 1) + 1) if bars.size else ():
            run = [int(b) for b in part]
            if s.length(run[0], run[-1]) >= SHORTEST and s.sounding(run[0], run[-1]):
                found.append(_finding(s, run, float(np.median(factor[run]))))
    return sorted(found, key=lambda f: f.first_bar - f.last_bar)[:MOST]
