"""From what the score relies on and what was heard to what is worth saying."""

from __future__ import annotations

from auditor.alignment.timeline import Timeline
from auditor.findings.finding import Finding
from auditor.findings.ranking import folded, rank
from auditor.hearing.measures import Heard, Limits, NoteWindows
from auditor.intent.roles import Intent
from auditor.intent.texture import lay_out
from auditor.judging.answers import find_weak_answers
from auditor.judging.balance import (
    find_carrying_doublings,
    find_climax,
    find_heavy_accompaniment,
)
from auditor.judging.changes import find_flat_renderings
from auditor.judging.conformity import among_strangers, find_rendering_faults, tainted
from auditor.judging.covered import find_covered, find_silent
from auditor.judging.doubling import find_idle_doublings
from auditor.judging.levels import find_loud_renderings, find_soft_renderings
from auditor.judging.passes import said_once
from auditor.judging.registers import find_holes, find_one_register
from auditor.judging.returns import find_repetitions
from auditor.judging.scene import scene
from auditor.judging.tempo import find_wrong_tempo
from auditor.judging.works import contradicts, find_works
from auditor.score.notes import Score
from auditor.spectra.suspicions import Suspicions


def judge(
    score: Score,
    timeline: Timeline,
    windows: NoteWindows,
    intent: Intent,
    heard: Heard,
    limits: Limits,
    suspicions: Suspicions | None = None,
) -> tuple[Finding, ...]:
    """Judge a case.

    Parameters
    ----------
    score, timeline, windows, intent, heard, limits
        What each stage found; ``heard.groups`` in the order of ``intent.strands``.
    suspicions
        What the mix says of lines that are not rendered as written; None if not asked.

    Returns
    -------
    tuple of Finding
        What needs work, heaviest first, then what works.
    """
    if not score.notes:
        return ()
    s = scene(score, timeline, windows, intent, heard, limits)
    texture = lay_out(score)
    faults = find_covered(s) + find_silent(s) + find_idle_doublings(s)
    rendering = find_rendering_faults(s, suspicions, faults)
    faults = [f for f in faults if not tainted(f, rendering)] + rendering
    faults += (
        find_heavy_accompaniment(s, faults)
        + find_climax(s)
        + find_weak_answers(s, texture, faults)
    )
    faults += find_one_register(s) + find_holes(s)
    faults += find_carrying_doublings(s) + find_wrong_tempo(s)
    # Nobody is told that a line is lost and too loud in one place.
    lost = [f for f in faults if f.kind in ("covered", "faint")]
    loud = [f for f in find_loud_renderings(s) if not contradicts(f, lost)]
    faults += [
        f
        for f in loud + find_flat_renderings(s)
        if not among_strangers(f, rendering, suspicions)
    ]
    faults += find_soft_renderings(s)
    unvaried, coloured = find_repetitions(s, texture)
    coloured = [p for p in coloured if not contradicts(p, faults)]
    praise = coloured + find_works(s, [*faults, *coloured])
    told = said_once(faults + unvaried, score.bars) + said_once(praise, score.bars)
    return rank(folded(told, score.bars), len(score.bars))
