"""What to show of a finding: which bars, which parts, whose notes, and in what words."""

from __future__ import annotations

import logging
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from auditor.auditing import Audit
from auditor.findings.finding import Finding
from auditor.report.engraving import Marks, engrave
from auditor.report.places import bars_in_words, line_of, listed, part_name
from auditor.score.engraved import stamped_excerpt
from auditor.score.reading import Page

logger = logging.getLogger(__name__)

# Six bars of six staves can still be read at arm's length on a page.
MOST_BARS = 6
MOST_COVERERS = 4

# First and last bar of the page (0-based), part numbers -> MusicXML with element identifiers.
ExcerptSource = Callable[[int, int, tuple[int, ...]], str]


@dataclass(frozen=True, slots=True)
class Passage:
    """The bars of a finding that are shown and heard.

    Parameters
    ----------
    first_bar, last_bar
        Indices on the played axis, at most six bars, neighbours on the page too.
    parts
        Part numbers: the line first, then its coverers, most first.
    svg
        Engraved excerpt, empty if there is none.
    """

    first_bar: int
    last_bar: int
    parts: tuple[int, ...]
    svg: str = ""


def choose_bars(audit: Audit, finding: Finding) -> tuple[int, int]:
    """Bars to show: all of them, or the six in which the line fares worst.

    For a finding that praises, the six in which it fares best.
    """
    first, last = finding.first_bar, finding.last_bar
    if last - first >= MOST_BARS:
        first = _telling_start(audit, finding)
        last = first + MOST_BARS - 1
    bars = audit.score.bars
    for i in range(first, last):  # a repeat or a jump ends the excerpt
        if bars[i + 1].written_index != bars[i].written_index + 1:
            return first, i
    return first, last


def _telling_start(audit: Audit, finding: Finding) -> int:
    count = finding.last_bar - finding.first_bar + 1
    total, notes = np.zeros(count), np.zeros(count)
    for i, note in enumerate(audit.score.notes):
        ratio = float(audit.heard.notes.distinct_ratio[i])
        if note.line in finding.lines and math.isfinite(ratio):
            place = note.bar - finding.first_bar
            if 0 <= place < count:
                total[place] += ratio
                notes[place] += 1
    window = np.ones(MOST_BARS)
    heard = np.convolve(notes, window, "valid")
    mean = np.convolve(total, window, "valid") / np.maximum(heard, 1)
    if finding.kind == "works":
        return finding.first_bar + int(np.argmax(np.where(heard > 0, mean, -np.inf)))
    return finding.first_bar + int(np.argmin(np.where(heard > 0, mean, np.inf)))


def _parts(audit: Audit, finding: Finding) -> tuple[int, ...]:
    lines = [*finding.lines, *(c.line for c in finding.covers[:MOST_COVERERS])]
    return tuple(dict.fromkeys(line_of(audit.score, n).part for n in lines))


def _label(audit: Audit, finding: Finding, part: int) -> str:
    """Words before a staff: its name and what it does here."""
    name = part_name(audit.score, part)
    jobs = []
    if part in {line_of(audit.score, n).part for n in finding.lines[:1]}:
        jobs.append("the line")
    elif part in {line_of(audit.score, n).part for n in finding.lines}:
        jobs.append("with it")
    share = sum(c.share for c in finding.covers if line_of(audit.score, c.line).part == part)
    if share > 0:
        jobs.append(f"covers {share:.0%}".replace("%", " %"))
    return f"{name} — {', '.join(jobs)}" if jobs else name


def _elements(audit: Audit, lines: set[int], first: int, last: int) -> tuple[str, ...]:
    return tuple(
        note.element
        for note in audit.score.notes
        if note.line in lines and first <= note.bar <= last
    )


def passage_sentence(audit: Audit, finding: Finding, first: int, last: int) -> str:
    """Say in one sentence what the excerpt shows, for those who cannot see it."""
    where = bars_in_words(audit.score, first, last)
    line = listed([line_of(audit.score, n).name for n in finding.lines])
    covers = listed([line_of(audit.score, c.line).name for c in finding.covers[:MOST_COVERERS]])
    return f"Score excerpt, {where}: {line}" + (f", with {covers}." if covers else ".")


def passage(
    audit: Audit, finding: Finding, source: ExcerptSource | None, *, prefix: str
) -> Passage:
    """Choose the bars of a finding and engrave them if there is a page to engrave from.

    Parameters
    ----------
    audit, finding
        What to show.
    source
        Gives MusicXML of some bars and parts; None to leave the excerpt out.
    prefix
        Makes identifiers of this excerpt unique in the page.
    """
    first, last = choose_bars(audit, finding)
    parts = _parts(audit, finding)
    if source is None:
        return Passage(first, last, parts)
    bars = audit.score.bars
    in_order = tuple(sorted(parts))
    marks = Marks(
        line=_elements(audit, set(finding.lines), first, last),
        covers=_elements(audit, {c.line for c in finding.covers[:MOST_COVERERS]}, first, last),
        labels=tuple(
            (part_name(audit.score, part), _label(audit, finding, part)) for part in in_order
        ),
    )
    sentence = passage_sentence(audit, finding, first, last)
    try:
        xml = source(bars[first].written_index, bars[last].written_index, in_order)
        svg = engrave(xml, marks, prefix=prefix, sentence=sentence)
    except Exception:  # the report stands without a picture; any engraver's fault is logged
        logger.warning("no excerpt for %s", finding.id, exc_info=True)
        return Passage(first, last, parts)
    return Passage(first, last, parts, svg)


def sounding_span(audit: Audit, first: int, last: int) -> tuple[float, float]:
    """Seconds from the start of one played bar to the end of another; NaN if not played."""
    return audit.timeline.bars[first].start_s, audit.timeline.bars[last].end_s


def source_from(page: Page) -> ExcerptSource:
    """Excerpts of a score as `auditor.score.reading.open_score` gives it."""

    def excerpt(first: int, last: int, parts: tuple[int, ...]) -> str:
        return stamped_excerpt(page, parts, first, last)

    return excerpt
