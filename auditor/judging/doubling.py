"""Doublings that add nothing a listener hears."""

from __future__ import annotations

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.ranking import finding_id, length_factor
from auditor.findings.wording import bars_named, idle_sentence
from auditor.intent.roles import Doubling
from auditor.judging.causes import what_covers
from auditor.judging.scene import UNKNOWN, IntArray, Scene, middle

# An idle doubling harms nobody; it never outweighs a covered melody (our choice).
HEAVIEST = 0.4
# Remarks of this kind at most: a tutti is full of them by nature.
MOST = 3
# A doubling shorter than this in quarters, or in seconds, is no remark (our choice).
SHORTEST, SHORTEST_S = 12.0, 5.0
# In a tutti (this share of all lines sounding) doublings are there for weight, not for
# themselves (common practice, no source).
TUTTI = 0.7
# Octaves that are one bass by custom, and say nothing by being one (common practice).
BASSES = frozenset({"cello", "double-bass"})


def _custom(s: Scene, d: Doubling) -> bool:
    """Whether the pair is a section's own unison or the ordinary bass octave."""
    keys = {s.line(d.line).instrument.key, s.line(d.of).instrument.key}
    return len(keys) == 1 or keys == BASSES


def _known(s: Scene, notes: IntArray) -> IntArray:
    return np.array([n for n in notes if s.heard.note_state[n] not in UNKNOWN], np.int64)


def _is_idle(s: Scene, d: Doubling) -> bool:
    own = _known(s, np.asarray(d.notes, np.int64))
    of = _known(s, s.notes((d.of,), d.first_bar, d.last_bar))
    if own.size < 4 or not of.size or not _long_enough(s, d):
        return False
    figures = s.heard.notes
    distinct = middle(figures.distinct_ratio[own], s.quarters[own])
    energy = middle(figures.loudness_ratio[own], s.quarters[own])
    doubled = middle(figures.loudness_ratio[of], s.quarters[of])
    nothing = distinct < s.limits.covered and energy < s.limits.covered
    heard = all(s.heard.note_state[n] != "silent" for n in own)
    return bool(nothing and heard and doubled >= s.limits.clear)


def _long_enough(s: Scene, d: Doubling) -> bool:
    notes = np.asarray(d.notes, np.int64)
    start, end = s.seconds(d.first_bar, d.last_bar, notes)
    return end - start >= SHORTEST_S and float(s.quarters[notes].sum()) >= SHORTEST


def _in_tutti(s: Scene, d: Doubling) -> bool:
    busy = [len(s.sounding(b, b)) for b in range(d.first_bar, d.last_bar + 1)]
    return len(s.score.lines) > 8 and float(np.mean(busy)) >= TUTTI * len(s.score.lines)


def _finding(s: Scene, d: Doubling) -> Finding:
    notes = np.asarray(d.notes, np.int64)
    cover = what_covers(s, (d.line,), d.first_bar, d.last_bar, notes)
    start, end = s.seconds(d.first_bar, d.last_bar, notes)
    name, doubled = s.line(d.line).name, s.line(d.of).name
    ratio = middle(s.heard.notes.distinct_ratio[notes], s.quarters[notes])
    badly = 1.0 - np.clip(np.nan_to_num(ratio) / s.limits.covered, 0.0, 1.0)
    span = (d.first_bar, d.last_bar)
    return Finding(
        id=finding_id("idle-doubling", s.parts((d.line, d.of)), span),
        kind="idle-doubling",
        weight=HEAVIEST * (0.5 + 0.5 * float(badly)) * length_factor(s.length(*span)),
        lines=(d.line, d.of),
        parts=s.parts((d.line, d.of)),
        strand=_strand(s, d),
        first_bar=d.first_bar,
        last_bar=d.last_bar,
        start_s=start,
        end_s=end,
        state="covered",
        distinct_ratio=ratio,
        margin_db=middle(s.heard.notes.margin_db[notes], s.quarters[notes]),
        covers=cover.covers,
        register_share=cover.registers,
        reliance=float(s.intent.reliance[s.row[d.line], span[0] : span[1] + 1].max()),
        why=f"it carries the same notes as {doubled}",
        cause=cover.cause,
        remedies=(
            f"let {name} rest here",
            f"give {name} a note of its own, or another octave if the player finds it easy",
        ),
        confidence=float(np.nan_to_num(np.nanmean(s.heard.note_confidence[notes]))),
        sentence=idle_sentence(bars_named(s.score.bars, *span), name, doubled, d.interval),
    )


def _strand(s: Scene, d: Doubling) -> str:
    for strand in s.intent.strands:
        overlap = strand.first_bar <= d.last_bar and strand.last_bar >= d.first_bar
        if strand.kind == "strand" and overlap and {d.line, d.of} <= set(strand.lines):
            return strand.id
    return ""


def find_idle_doublings(s: Scene) -> list[Finding]:
    """Find doublings that add nothing to a line clear without them, one a line."""
    found: dict[int, Finding] = {}
    for d in s.intent.doublings:
        if _custom(s, d) or _in_tutti(s, d) or not _is_idle(s, d):
            continue
        finding = _finding(s, d)
        if d.line not in found or finding.weight > found[d.line].weight:
            found[d.line] = finding
    return sorted(found.values(), key=lambda f: -f.weight)[:MOST]
