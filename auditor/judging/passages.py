"""What is relied upon, bar by bar: how it fares, and the runs of bars in which it fares ill."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.intent.roles import Strand
from auditor.judging.scene import UNKNOWN, FloatArray, IntArray, Scene, middle

# From this reliance on a line is worth a remark of its own.
RELIED = 0.35
# Roles that stand in the foreground, or hold everything up.
FOREGROUND: tuple[str, ...] = ("leading", "answer", "bass")
# A group's figure may lift its members' by at most this factor: beyond, they differ in kind.
MOST_LIFT = 20.0
# A single good bar inside a bad passage does not end it.
BREATH = 1


@dataclass(frozen=True, slots=True)
class Unit:
    """Something to judge: a strand, or one line that matters by itself.

    Parameters
    ----------
    strand
        Identifier, empty for a line by itself.
    lines
        Numbers.
    bars : ndarray of int, shape (n,)
        Bars on the played axis in which it has notes and is relied upon.
    ratio : ndarray, shape (n,)
        How much of it is left there; NaN where the sound cannot tell.
    reliance : ndarray, shape (n,)
        How much the score relies on it there.
    """

    strand: str
    lines: tuple[int, ...]
    bars: IntArray
    ratio: FloatArray
    reliance: FloatArray


def carrying(s: Scene, unit_lines: tuple[int, ...], first: int, last: int) -> tuple[int, ...]:
    """Lines of a unit that have notes in these bars, the one most relied upon first."""
    there = [n for n in unit_lines if s.notes((n,), first, last).size]
    weight = {n: float(s.intent.reliance[s.row[n], first : last + 1].sum()) for n in there}
    return tuple(sorted(there, key=lambda n: (-weight[n], n)))


def _known(s: Scene, notes: IntArray) -> IntArray:
    return np.array([n for n in notes if s.heard.note_state[n] not in UNKNOWN], np.int64)


def line_ratio(s: Scene, number: int, bar: int, figure: FloatArray) -> float:
    """Median of a figure over a line's notes of a bar that the sound can tell."""
    notes = _known(s, s.notes((number,), bar, bar))
    return middle(figure[notes], s.quarters[notes])


def _strand_ratios(s: Scene, strand: Strand, bars: IntArray) -> FloatArray:
    """Best member in each bar, lifted to what the members are worth together."""
    energetic = s.heard.notes.loudness_ratio
    best = np.full(bars.size, np.nan)
    notes = np.asarray(strand.notes, np.int64)
    members = {(s.score.notes[n].line, s.score.notes[n].bar) for n in notes}
    for k, bar in enumerate(bars.tolist()):
        own = [line_ratio(s, n, bar, energetic) for n in strand.lines if (n, bar) in members]
        known = [r for r in own if np.isfinite(r)]
        best[k] = max(known) if known else np.nan
    at = s.group.get(strand.id)
    whole = float(s.heard.groups.distinct_ratio[at]) if at is not None else float("nan")
    if at is not None and s.heard.group_state[at] in UNKNOWN:
        return np.full(bars.size, np.nan)
    middle_bar = float(np.nanmedian(best)) if np.isfinite(best).any() else float("nan")
    if np.isfinite(whole) and np.isfinite(middle_bar):
        if middle_bar <= 1e-6:
            best = np.where(np.isfinite(best), np.maximum(best, whole), best)
        else:
            best = best * float(np.clip(whole / middle_bar, 1.0, MOST_LIFT))
    return best


def _of_strand(s: Scene, strand: Strand) -> Unit:
    held = sorted({s.score.notes[n].bar for n in strand.notes})
    relied = [b for b in held if s.reliance(strand.lines, b) >= RELIED]
    bars = np.array(relied, np.int64)
    if len(strand.lines) == 1:
        figure = s.heard.notes.distinct_ratio
        ratio = np.array([line_ratio(s, strand.lines[0], b, figure) for b in relied])
    else:
        ratio = _strand_ratios(s, strand, bars)
    reliance = np.array([s.reliance(strand.lines, b) for b in relied])
    return Unit(strand.id, strand.lines, bars, ratio, reliance)


def units(s: Scene) -> list[Unit]:
    """Every strand of the foreground and the bass, and other lines relied upon."""
    out: list[Unit] = []
    taken: set[tuple[int, int]] = set()
    for strand in s.intent.strands:
        if strand.kind != "strand" or strand.role not in FOREGROUND:
            continue
        out.append(_of_strand(s, strand))
        taken |= {(s.score.notes[n].line, s.score.notes[n].bar) for n in strand.notes}
    for i, line in enumerate(s.score.lines):
        alone = [
            b
            for b in range(len(s.score.bars))
            if (i, b) in s.places
            and (line.number, b) not in taken
            and s.intent.reliance[i, b] >= RELIED
            and not _is_blended(s, line.number, b)
        ]
        if alone:
            figure = s.heard.notes.distinct_ratio
            ratio = np.array([line_ratio(s, line.number, b, figure) for b in alone])
            relied = s.intent.reliance[i, alone]
            out.append(Unit("", (line.number,), np.array(alone, np.int64), ratio, relied))
    return [u for u in out if u.bars.size]


def _is_blended(s: Scene, number: int, bar: int) -> bool:
    """Whether most of a line's time there only adds to a strand or layer that is heard."""
    notes = s.notes((number,), bar, bar)
    blended = np.array([s.heard.note_state[n] == "blended" for n in notes])
    weight = s.quarters[notes]
    return bool(weight[blended].sum() > 0.5 * weight.sum())


def bad_runs(unit: Unit, clear: float) -> list[IntArray]:
    """Runs of places in ``unit.bars`` that fall below `clear`; one good bar may lie inside."""
    bad = np.flatnonzero(np.isfinite(unit.ratio) & (unit.ratio < clear))
    if not bad.size:
        return []
    far = np.diff(unit.bars[bad]) > 1 + BREATH
    return [np.asarray(run, np.int64) for run in np.split(bad, np.flatnonzero(far) + 1)]
