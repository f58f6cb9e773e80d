"""What works well is said too: lines that are relied upon and come through."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.ranking import finding_id, length_factor
from auditor.findings.wording import bars_named, works_sentence
from auditor.judging.covered import why_relied
from auditor.judging.passages import Unit, carrying, units
from auditor.judging.scene import Scene, middle

# Remarks of praise at most, and the shortest passage worth one, in quarters.
MOST, SHORTEST = 4, 8.0
# Share of its bars that must be clear.
CLEAR_SHARE = 0.85
# Ratio at which a line counts as fully clear: twice the limit of clear (our choice).
FULL = 2.0


def _is_good(s: Scene, unit: Unit) -> bool:
    known = np.isfinite(unit.ratio)
    length = sum(s.score.bars[int(b)].duration for b in unit.bars)
    if length < SHORTEST or known.mean() < CLEAR_SHARE or unit.reliance.mean() < 0.5:
        return False
    return bool((unit.ratio[known] >= s.limits.clear).mean() >= CLEAR_SHARE)


def _finding(s: Scene, unit: Unit) -> Finding:
    first, last = int(unit.bars[0]), int(unit.bars[-1])
    lines = carrying(s, unit, first, last)
    notes = s.notes(lines, first, last)
    start, end = s.seconds(first, last, notes)
    ratio = float(np.nanmedian(unit.ratio))
    reliance = float(unit.reliance.mean())
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
    good = sorted((_finding(s, u) for u in units(s) if _is_good(s, u)), key=lambda f: -f.weight)
    out: list[Finding] = []
    for finding in good:
        if contradicts(finding, faults):
            continue
        if finding.lines[0] not in {f.lines[0] for f in out}:
            out.append(finding)
    return out[:MOST]
