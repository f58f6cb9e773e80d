"""What works well is said too: lines that are relied upon and come through."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.ranking import finding_id, length_factor
from auditor.findings.wording import bars_named, works_sentence
from auditor.judging.covered import why_relied
from auditor.judging.passages import Unit, carrying, units
from auditor.judging.scene import IntArray, Scene, middle

# Remarks of praise at most, and the shortest passage worth one, in quarters.
MOST, SHORTEST = 4, 8.0
# Reliance from which on a line that carries is worth a word.
RELIED = 0.5
# Ratio at which a line counts as fully clear: twice the limit of clear (our choice).
FULL = 2.0


def _good_runs(s: Scene, unit: Unit) -> list[IntArray]:
    """Find runs in ``unit.bars`` of bars that are clear, long enough and relied upon."""
    clear = np.flatnonzero(np.nan_to_num(unit.ratio) >= s.limits.clear)
    runs = np.split(clear, np.flatnonzero(np.diff(unit.bars[clear]) > 1) + 1)
    return [
        run
        for run in runs
        if sum(s.score.bars[int(b)].duration for b in unit.bars[run]) >= SHORTEST
        and unit.reliance[run].mean() >= RELIED
    ]


def _finding(s: Scene, unit: Unit, run: IntArray) -> Finding:
    first, last = int(unit.bars[run[0]]), int(unit.bars[run[-1]])
    lines = carrying(s, unit, first, last)
    notes = s.notes(lines, first, last)
    start, end = s.seconds(first, last, notes)
    ratio = float(np.median(unit.ratio[run]))
    reliance = float(unit.reliance[run].mean())
    solo = s.marked_solo(lines, first, last)
    others = len(set(s.sounding(first, last)) - set(lines))
    well = min(1.0, ratio / (FULL * s.limits.clear))
    return Finding(
        id=finding_id("works", s.parts(lines), (first, last)),
        kind="works",
        weight=reliance * well * length_factor(s.length(first, last)),
        lines=lines,
        parts=s.parts(lines),
        strand=unit.strand,
        first_bar=first,
        last_bar=last,
        start_s=start,
        end_s=end,
        state="clear",
        distinct_ratio=ratio,
        margin_db=middle(s.heard.notes.margin_db[notes], s.quarters[notes]),
        covers=(),
        register_share=(0.0,) * 5,
        reliance=reliance,
        why=why_relied(s, lines, first, last),
        cause="",
        remedies=(),
        confidence=float(np.nan_to_num(np.nanmean(s.heard.note_confidence[notes]))),
        sentence=works_sentence(
            bars_named(s.score.bars, first, last), s.names(lines), others, solo
        ),
    )


def contradicts(praise: Finding, faults: Sequence[Finding]) -> bool:
    """Whether a fault was found in the same lines and bars."""
    return any(
        # Of an idle doubling only the one who doubles is blamed.
        set(f.lines[:1] if f.kind == "idle-doubling" else f.lines) & set(praise.lines)
        and f.first_bar <= praise.last_bar
        and f.last_bar >= praise.first_bar
        for f in faults
        if f.kind not in ("climax", "tempo", "repetition")
    )


def find_works(s: Scene, faults: Sequence[Finding] = ()) -> list[Finding]:
    """Find the best passages, each leading line once."""
    good = [_finding(s, u, run) for u in units(s) for run in _good_runs(s, u)]
    good.sort(key=lambda f: (-f.weight, f.first_bar))
    out: list[Finding] = []
    for finding in good:
        if contradicts(finding, faults):
            continue
        if finding.lines[0] not in {f.lines[0] for f in out}:
            out.append(finding)
    return out[:MOST]
