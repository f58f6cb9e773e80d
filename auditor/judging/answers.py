"""A figure stated by one line and answered by another, much weaker to the ear."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.ranking import length_factor
from auditor.findings.wording import bars_named, change_of_marks, opening
from auditor.intent.recurrence import COMMON, figures_stated
from auditor.intent.texture import CELL, Texture
from auditor.judging.saying import remark
from auditor.judging.scene import IntArray, Scene

# An answer follows within so many quarters, and shares so many notes with its statement.
SOON, NOTES = 16.0, 6
# To the ear, an answer of less than this share of its statement's loudness is much weaker.
WEAKER = 1 / 3
# An answer that keeps this share of its own loudness, in clear limits, is well heard all the
# same: a softer voice that stands free needs no remark (our choice).
FREE = 2.0
# Marks this many steps apart ask for different loudness.
SAME_MARK = 0.75
MOST = 2


@dataclass(frozen=True, slots=True)
class Answer:
    """Notes of a statement and of its answer, positions in ``score.notes``."""

    said: IntArray
    answered: IntArray


def find_answers(s: Scene, texture: Texture) -> list[Answer]:
    """Find figures that another line takes up soon after, at any pitch."""
    shared: dict[tuple[int, int, int], set[int]] = defaultdict(set)
    for stated in figures_stated(texture):
        if len(stated) > COMMON:
            continue
        order = sorted(stated, key=lambda place: int(place[1][0]))
        for k, (row, at) in enumerate(order[:-1]):
            other, there = order[k + 1]
            lag = int(there[0] - at[0])
            if other != row and at[-1] < there[0] and lag * CELL <= SOON:
                shared[row, other, lag] |= {int(c) for c in at}
    out = []
    for (row, other, lag), cells in sorted(shared.items()):
        here = np.array(sorted(cells))
        for run in np.split(here, np.flatnonzero(np.diff(here) * CELL > 2.0) + 1):
            if run.size >= NOTES:
                out.append(Answer(texture.note[row, run], texture.note[other, run + lag]))
    return out


def _foreground(s: Scene, notes: IntArray) -> bool:
    """Whether the line leads or answers in most of these notes' bars."""
    roles = [s.intent.role[s.row[s.score.notes[int(n)].line]][s.score.notes[int(n)].bar]
             for n in notes]  # fmt: skip
    return 2 * sum(r in ("leading", "answer") for r in roles) >= len(roles)


def _loudness(s: Scene, notes: IntArray) -> float:
    """Mean loudness of a figure, with whoever doubles it; NaN where the sound cannot tell."""
    sone = s.heard.notes.partial_sone
    line = s.score.notes[int(notes[0])].line
    first, last = (s.score.notes[int(notes[k])].bar for k in (0, -1))
    with_it = {
        n
        for bar in range(first, last + 1)
        for d in s.doubled.get(bar, ())
        if line in (d.line, d.of)
        for n in (d.line, d.of)
    } - {line}
    parts = [sone[notes]] + [sone[s.notes((n,), first, last)] for n in sorted(with_it)]
    known = [float(np.nanmean(x)) for x in parts if np.isfinite(x).any()]
    return sum(known) if np.isfinite(sone[notes]).any() else float("nan")


def _finding(s: Scene, a: Answer) -> Finding | None:
    loud = [_loudness(s, x) for x in (a.said, a.answered)]
    if not np.isfinite(loud).all():
        return None
    level = [float(np.mean([s.score.notes[int(n)].dynamic for n in x]))
             for x in (a.said, a.answered)]  # fmt: skip
    if loud[1] >= WEAKER * loud[0]:
        return None
    left = float(np.nanmedian(s.heard.notes.distinct_ratio[a.answered]))
    if abs(level[0] - level[1]) > SAME_MARK or not left < FREE * s.limits.clear:
        return None
    first, last = (s.score.notes[int(a.answered[k])].bar for k in (0, -1))
    line, of = (s.score.notes[int(x[0])].line for x in (a.answered, a.said))
    name, stated = s.line(line).name, s.line(of).name
    up = change_of_marks(s.players((line,), first, last), 1)
    where = bars_named(s.score.bars, first, last)
    return remark(
        s, "weak-answer", (line, of), (first, last), state="faint",
        weight=0.4 * length_factor(s.length(first, last)),
        why=f"it answers {stated} with the same figure at the same mark",
        cause=f"it is less than a third as loud to the ear as {stated} before",
        remedies=(up, f"thin out around {name}", f"let {stated} state it a little softer"),
        sentence=(
            f"{opening(where)}: {name} answers {stated} with the same figure "
            f"at the same mark, but is less than a third as loud to the ear. To begin with, "
            f"{up}, or thin out around it."
        ),
    )  # fmt: skip


def _said(finding: Finding, faults: Sequence[Finding]) -> bool:
    """Whether the answering line is already said to be covered or faint there."""
    return any(
        f.kind in ("covered", "faint")
        and finding.lines[0] in f.lines
        and f.first_bar <= finding.last_bar
        and f.last_bar >= finding.first_bar
        for f in faults
    )


def find_weak_answers(
    s: Scene, texture: Texture, faults: Sequence[Finding] = ()
) -> list[Finding]:
    """Find answers much weaker than what they answer, in the foreground."""
    found: dict[tuple[int, int], Finding] = {}
    for answer in find_answers(s, texture):
        if not (_foreground(s, answer.said) and _foreground(s, answer.answered)):
            continue
        finding = _finding(s, answer)
        if finding is None or _said(finding, faults):
            continue
        key = (finding.lines[0], finding.first_bar)
        if key not in found or found[key].weight < finding.weight:
            found[key] = finding
    return sorted(found.values(), key=lambda f: -f.weight)[:MOST]
