"""A finding with the figures of its passage filled in."""

from __future__ import annotations

import numpy as np

from auditor.findings.finding import Cover, Finding
from auditor.findings.ranking import finding_id
from auditor.judging.scene import IntArray, Scene, middle


def trust(s: Scene, notes: IntArray, first: int, last: int) -> float:
    """How sure the hearing and the alignment are together, 0 to 1."""
    known = s.heard.note_confidence[notes]
    known = known[np.isfinite(known)]
    ear = float(known.mean()) if known.size else 0.0
    bars = [b.confidence for b in s.timeline.bars if first <= b.bar <= last]
    place = float(np.mean(bars)) if bars else 1.0
    return float(np.clip(ear * np.nan_to_num(place), 0.0, 1.0))


def remark(
    s: Scene,
    kind: str,
    lines: tuple[int, ...],
    span: tuple[int, int],
    *,
    weight: float,
    sentence: str,
    why: str,
    cause: str = "",
    remedies: tuple[str, ...] = (),
    state: str = "",
    covers: tuple[Cover, ...] = (),
    own: int = 1,
) -> Finding:
    """Make a finding about some bars of some lines.

    Parameters
    ----------
    s
        The case.
    kind, lines, weight, sentence, why, cause, remedies, state, covers
        As in `Finding`.
    span
        First and last bar on the played axis.
    own
        How many of `lines` the figures are about, from the first on.
    """
    first, last = span
    notes = s.notes(lines[:own], first, last)
    start, end = s.seconds(first, last, notes)
    held = s.intent.reliance[[s.row[n] for n in lines[:own]], first : last + 1]
    return Finding(
        id=finding_id(kind, s.parts(lines), span),
        kind=kind,
        weight=float(np.clip(weight, 0.0, 1.0)),
        lines=lines,
        parts=s.parts(lines),
        strand="",
        first_bar=first,
        last_bar=last,
        start_s=start,
        end_s=end,
        state=state,
        distinct_ratio=middle(s.heard.notes.distinct_ratio[notes], s.quarters[notes]),
        margin_db=middle(s.heard.notes.margin_db[notes], s.quarters[notes]),
        covers=covers,
        register_share=(0.0,) * 5,
        reliance=float(held.max()) if held.size else 0.0,
        why=why,
        cause=cause,
        remedies=remedies,
        confidence=trust(s, notes, first, last),
        sentence=sentence,
    )
