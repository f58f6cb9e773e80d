"""Which notehead of an excerpt sounds when in its clip: what playback walks along."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass

from auditor.auditing import Audit
from auditor.findings.finding import Finding
from auditor.report.clips import LONGEST_S
from auditor.report.passages import MOST_COVERERS, Passage


@dataclass(frozen=True, slots=True)
class Cues:
    """Times in seconds from the start of a clip.

    Parameters
    ----------
    bars
        Index on the played axis, number as printed, start.
    line, covers
        Identifier of the notehead in the page, start and end.
    """

    bars: tuple[tuple[int, str, float], ...]
    line: tuple[tuple[str, float, float], ...]
    covers: tuple[tuple[str, float, float], ...]

    def as_json(self) -> str:
        """Cues as JSON text for the page's script."""
        record = {"bars": self.bars, "line": self.line, "covers": self.covers}
        return json.dumps(record, separators=(",", ":"), ensure_ascii=False)


def cues(audit: Audit, finding: Finding, shown: Passage, *, prefix: str) -> Cues:
    """Say when the marked noteheads and the bars of a passage come.

    Parameters
    ----------
    audit, finding
        What is heard.
    shown
        The bars shown and heard.
    prefix
        Put before every identifier in the page.
    """
    span = range(shown.first_bar, shown.last_bar + 1)
    zero = max(0.0, audit.timeline.bars[shown.first_bar].start_s)
    times = ((i, audit.timeline.bars[i].start_s - zero) for i in span)
    bars = tuple(
        (i, audit.score.bars[i].number, round(max(0.0, at), 2))
        for i, at in times
        if math.isfinite(at) and at < LONGEST_S
    )
    coverers = {c.line for c in finding.covers[:MOST_COVERERS]} - set(finding.lines)
    return Cues(
        bars,
        _heads(audit, set(finding.lines), span, zero, prefix),
        _heads(audit, coverers, span, zero, prefix),
    )


def _heads(
    audit: Audit, lines: set[int], bars: range, zero: float, prefix: str
) -> tuple[tuple[str, float, float], ...]:
    found = []
    windows = audit.windows
    for i, note in enumerate(audit.score.notes):
        if note.line not in lines or note.bar not in bars:
            continue
        start, end = float(windows.onset_s[i]) - zero, float(windows.offset_s[i]) - zero
        if math.isfinite(start) and math.isfinite(end) and start < LONGEST_S:
            found.append((prefix + note.element, round(max(0.0, start), 2), round(end, 2)))
    return tuple(sorted(found, key=lambda head: head[1]))
