"""What is relied upon, bar by bar: how it fares, and the runs of bars in which it fares ill."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from auditor.intent.reliance import BROUGHT_OUT
from auditor.intent.roles import Strand
from auditor.judging.scene import UNKNOWN, FloatArray, IntArray, Scene, middle

# From this reliance on a line is worth a remark of its own.
RELIED = 0.35
# A line outside the foreground's strands needs more: an ordinary bass is not enough.
ALONE = 0.45
# A bass is missed only when it is gone for this long, in quarters (our choice).
BASS_GONE = 8.0
# Roles that stand in the foreground, or hold everything up.
FOREGROUND: tuple[str, ...] = ("leading", "answer", "bass")
# A group's figure may lift its members' by at most this factor: beyond, they differ in kind.
MOST_LIFT = 20.0
# A line carries a strand if it has this share of what its fullest carrier plays.
CARRIES = 0.4
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
    notes : ndarray of int, shape (m,)
        Positions of its notes in ``score.notes``.
    bars : ndarray of int, shape (n,)
        Bars on the played axis in which it has notes and is relied upon.
    ratio : ndarray, shape (n,)
        How much of it is left there; NaN where the sound cannot tell.
    reliance : ndarray, shape (n,)
        How much the score relies on it there.
    """

    strand: str
    lines: tuple[int, ...]
    notes: IntArray
    bars: IntArray
    ratio: FloatArray
    reliance: FloatArray


def carrying(s: Scene, unit: Unit, first: int, last: int) -> tuple[int, ...]:
    """Lines that carry most of a unit in these bars, the one most relied upon first."""
    share = dict.fromkeys(unit.lines, 0.0)
    for n in unit.notes.tolist():
        note = s.score.notes[n]
        if first <= note.bar <= last:
            share[note.line] += float(s.quarters[n])
    there = [n for n, q in share.items() if q > 0 and q >= CARRIES * max(share.values())]
    weight = {n: float(s.intent.reliance[s.row[n], first : last + 1].sum()) for n in there}
    return tuple(sorted(there, key=lambda n: (-weight[n], n)))


def _partners(s: Scene, lines: tuple[int, ...], bar: int) -> set[int]:
    """Lines outside that carry the same notes in a bar: they are heard for it."""
    out: set[int] = set()
    for d in s.doubled.get(bar, ()):
        if len({d.line, d.of} & set(lines)) == 1:
            out |= {d.line, d.of} - set(lines)
    return out


def _known(s: Scene, notes: IntArray) -> IntArray:
    return np.array([n for n in notes if s.heard.note_state[n] not in UNKNOWN], np.int64)


def line_ratio(s: Scene, number: int, bar: int, figure: FloatArray) -> float:
    """Median of a figure over a line's notes of a bar that the sound can tell."""
    notes = _known(s, s.notes((number,), bar, bar))
    return middle(figure[notes], s.quarters[notes])


def _excuse(s: Scene, lines: Iterable[int], bar: int) -> list[float]:
    """What is left of lines of which the sound cannot tell how much is whose.

    Two horns in unison are undecided each, but what both carry is heard all the same: such
    lines may excuse their company, and are judged only as one strand.
    """
    out = []
    for number in lines:
        notes = s.notes((number,), bar, bar)
        told = np.array([n for n in notes if s.heard.note_state[n] == "undecided"], np.int64)
        out.append(middle(s.heard.notes.loudness_ratio[told], s.quarters[told]))
    return [r for r in out if np.isfinite(r)]


def _strand_ratios(s: Scene, strand: Strand, bars: IntArray) -> FloatArray:
    """Best member in each bar, lifted to what the members are worth together."""
    energetic = s.heard.notes.loudness_ratio
    best = np.full(bars.size, np.nan)
    notes = np.asarray(strand.notes, np.int64)
    members = {(s.score.notes[n].line, s.score.notes[n].bar) for n in notes}
    for k, bar in enumerate(bars.tolist()):
        here = {n for n in strand.lines if (n, bar) in members}
        here |= _partners(s, tuple(here), bar)
        own = [line_ratio(s, n, bar, energetic) for n in sorted(here)]
        known = [r for r in own if np.isfinite(r)]
        # Twins alone are judged as one: the group's figure lifts them to what they are worth.
        best[k] = max(known + _excuse(s, sorted(here), bar), default=np.nan)
    at = s.group.get(strand.id)
    whole = float(s.heard.groups.distinct_ratio[at]) if at is not None else float("nan")
    state = s.heard.group_state[at] if at is not None else "undecided"
    if state == "not judged":
        return np.full(bars.size, np.nan)
    if state == "undecided":
        # Near the limit as a whole; bar by bar its members may be plainly lost.
        return best
    middle_bar = float(np.nanmedian(best)) if np.isfinite(best).any() else float("nan")
    if np.isfinite(whole) and np.isfinite(middle_bar):
        if middle_bar <= 1e-6:
            best = np.where(np.isfinite(best), np.maximum(best, whole), best)
        else:
            best = best * float(np.clip(whole / middle_bar, 1.0, MOST_LIFT))
    return best


def _line_ratios(s: Scene, number: int, bars: list[int]) -> FloatArray:
    """Hear a line as itself, or through a partner that is heard with the same notes."""
    figures = s.heard.notes
    out = np.full(len(bars), np.nan)
    for k, bar in enumerate(bars):
        own = [line_ratio(s, number, bar, figures.distinct_ratio)]
        partners = sorted(_partners(s, (number,), bar))
        own += [line_ratio(s, n, bar, figures.loudness_ratio) for n in partners]
        if np.isfinite(own[0]):
            out[k] = max([r for r in own if np.isfinite(r)] + _excuse(s, partners, bar))
    return out


def _of_strand(s: Scene, strand: Strand) -> Unit:
    carried: dict[int, set[int]] = {}
    for n in strand.notes:
        carried.setdefault(s.score.notes[n].bar, set()).add(s.score.notes[n].line)
    # Who carries the strand somewhere may do something else here.
    worth = {b: s.reliance(tuple(lines), b) for b, lines in sorted(carried.items())}
    relied = [b for b, w in worth.items() if w >= RELIED]
    bars = np.array(relied, np.int64)
    if len(strand.lines) == 1:
        ratio = _line_ratios(s, strand.lines[0], relied)
    else:
        ratio = _strand_ratios(s, strand, bars)
    reliance = np.array([worth[b] for b in relied])
    notes = np.asarray(strand.notes, np.int64)
    return Unit(strand.id, strand.lines, notes, bars, ratio, reliance)


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
            and s.intent.reliance[i, b] >= ALONE
            and not _is_blended(s, line.number, b)
        ]
        if alone:
            ratio = _line_ratios(s, line.number, alone)
            notes = np.concatenate([s.places[(i, b)] for b in alone])
            relied, bars = s.intent.reliance[i, alone], np.array(alone, np.int64)
            out.append(Unit("", (line.number,), notes, bars, ratio, relied))
    return [u for u in out if u.bars.size]


def _is_blended(s: Scene, number: int, bar: int) -> bool:
    """Whether most of a line's time there only adds to a strand or layer that is heard.

    A line the page brings out (solo, espressivo) is not excused by its company.
    """
    if s.intent.reliance[s.row[number], bar] >= BROUGHT_OUT:
        return False
    notes = s.notes((number,), bar, bar)
    blended = np.array([s.heard.note_state[n] == "blended" for n in notes])
    weight = s.quarters[notes]
    return bool(weight[blended].sum() > 0.5 * weight.sum())


def bad_runs(unit: Unit, clear: float) -> list[IntArray]:
    """Find runs in ``unit.bars`` that fall below `clear`; one good bar may lie inside."""
    bad = np.flatnonzero(np.isfinite(unit.ratio) & (unit.ratio < clear))
    if not bad.size:
        return []
    far = np.diff(unit.bars[bad]) > 1 + BREATH
    return [np.asarray(run, np.int64) for run in np.split(bad, np.flatnonzero(far) + 1)]
