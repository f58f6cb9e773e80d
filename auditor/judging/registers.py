"""Where the weight lies to the ear: long in one register, or with a hole above the bass.

References
----------
.. [1] N. Rimsky-Korsakov, *Principles of Orchestration* (1922), ch. III: no gap in the middle
       of a chord; the bass no further than an octave below the next part.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.ranking import length_factor
from auditor.findings.wording import bars_named, listed, opening
from auditor.hearing.measures import REGISTER_EDGES_HZ, REGISTERS
from auditor.judging.saying import remark
from auditor.judging.scene import UNKNOWN, FloatArray, IntArray, Scene
from auditor.units import midi_to_hz

# A register holds the weight with this share of the loudness, for so many bars and seconds, and
# a bar counts with so many lines (our choice: printed scores hardly ever do so).
WEIGHTY, BARS, SECONDS, LINES = 0.65, 16, 40.0, 4
# Semitones from the bass, with its octave, to the next note heard that make a hole: an octave
# and a sixth, far beyond [1]; how long it lasts (quarters), with how many lines and pitches.
HOLE, HOLE_QUARTERS, HOLE_LINES, HOLE_PITCHES = 21, 8.0, 5, 4
# The bass of a chord lies below this; above it nothing misses a tenor (middle C).
BASS = 60
# States of a note that nobody hears.
LOST: tuple[str, ...] = ("covered", "silent")
MOST = 1


def register_shares(s: Scene) -> FloatArray:
    """Share of each register in what is heard of each bar, (bars, registers).

    NaN where fewer than `LINES` lines sound, or the sound cannot tell.
    """
    weight = np.zeros((len(s.score.bars), len(REGISTERS)))
    for n, note in enumerate(s.score.notes):
        sone = float(s.heard.notes.partial_sone[n])
        if note.unpitched or not np.isfinite(sone) or s.heard.note_state[n] in UNKNOWN:
            continue
        band = int(np.searchsorted(REGISTER_EDGES_HZ, float(midi_to_hz(note.pitch))))
        weight[note.bar, band] += sone * s.quarters[n]
    total = weight.sum(axis=1)
    busy = np.array([len(s.sounding(b, b)) >= LINES for b in range(len(weight))])
    out: FloatArray = np.full(weight.shape, np.nan)
    good = busy & (total > 0)
    out[good] = weight[good] / total[good, None]
    return out


def _runs(flags: list[bool]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff([False, *flags, False]))
    return [(int(a), int(z) - 1) for a, z in edges.reshape(-1, 2)]


def _held(s: Scene, band: int, first: int, last: int) -> Finding:
    where = bars_named(s.score.bars, first, last)
    name = REGISTERS[band]
    lines = s.foremost(first, last)
    return remark(
        s, "register", lines, (first, last), own=len(lines), weight=0.3,
        why=f"nearly all that is heard lies in the {name}",
        cause=f"the weight stays in the {name}",
        remedies=("give a phrase to another register", "let one octave of it rest for a while"),
        sentence=(
            f"{opening(where)}: almost all that is heard lies in the {name}, for "
            f"{_minutes(s, first, last)}. Another register for a phrase would refresh the ear, "
            f"unless the sameness is meant."
        ),
    )  # fmt: skip


def _seconds(s: Scene, first: int, last: int) -> float:
    bars = s.score.bars
    a, z = s.timeline.seconds([bars[first].onset, bars[last].onset + bars[last].duration])
    return float(z - a)


def _minutes(s: Scene, first: int, last: int) -> str:
    seconds = _seconds(s, first, last)
    return f"{seconds:.0f} seconds" if seconds < 90 else f"{seconds / 60:.0f} minutes"


def find_one_register(s: Scene) -> list[Finding]:
    """Find long stretches in which one register holds the weight."""
    shares = register_shares(s)
    found: list[Finding] = []
    for band in range(len(REGISTERS)):
        with np.errstate(invalid="ignore"):
            heavy = shares[:, band] >= WEIGHTY
        for first, last in _runs(heavy.tolist()):
            if last - first + 1 >= BARS and _seconds(s, first, last) >= SECONDS:
                found.append(_held(s, band, first, last))
    return sorted(found, key=lambda f: f.first_bar - f.last_bar)[:MOST]


@dataclass(frozen=True, slots=True)
class _Moment:
    """What sounds from one change to the next: its bar, length and hole, if any."""

    bar: int
    quarters: float
    hole: tuple[int, int] | None
    lost: tuple[int, ...] = ()


def _hole(s: Scene, notes: IntArray) -> tuple[tuple[int, int] | None, tuple[int, ...]]:
    """Pitches on both sides of a hole above the bass, and lines written in it but lost."""
    pitched = [int(n) for n in notes if not s.score.notes[int(n)].unpitched]
    lines = {s.score.notes[n].line for n in pitched}
    if len(lines) < HOLE_LINES or any(s.heard.note_state[n] in UNKNOWN for n in pitched):
        return None, ()
    heard = [n for n in pitched if s.heard.note_state[n] not in LOST]
    pitches = sorted({s.score.notes[n].pitch for n in heard})
    if len(pitches) < HOLE_PITCHES or pitches[0] >= BASS:
        return None, ()
    foot = pitches[0] + 12 if pitches[0] + 12 in pitches else pitches[0]
    above = next((p for p in pitches if p > foot), None)
    if above is None or above - foot < HOLE:
        return None, ()
    lost = {
        s.score.notes[n].line
        for n in set(pitched) - set(heard)
        if foot < s.score.notes[n].pitch < above
    }
    return (foot, above), tuple(sorted(lost))


def _moments(s: Scene) -> list[_Moment]:
    on = np.array([n.onset for n in s.score.notes])
    off = on + np.array([n.duration for n in s.score.notes])
    cuts = np.unique(np.concatenate([np.round(on, 3), np.round(off, 3)]))
    bars = np.array([bar.onset for bar in s.score.bars])
    out = []
    for a, z in pairwise(cuts.tolist()):
        notes = np.flatnonzero((on <= a + 1e-3) & (off > a + 1e-3))
        bar = max(int(np.searchsorted(bars, a + 1e-6, side="right")) - 1, 0)
        out.append(_Moment(bar, z - a, *_hole(s, notes)))
    return out


def find_holes(s: Scene) -> list[Finding]:
    """Find stretches with nothing to hear between the bass and the next note above it."""
    moments = _moments(s)
    found: list[Finding] = []
    for first, last in _runs([m.hole is not None for m in moments]):
        run = moments[first : last + 1]
        if sum(m.quarters for m in run) >= HOLE_QUARTERS:
            found.append(_hollow(s, run))
    return sorted(found, key=lambda f: (-f.weight, f.first_bar))[:MOST]


def _hollow(s: Scene, run: list[_Moment]) -> Finding:
    first, last = run[0].bar, run[-1].bar
    where = bars_named(s.score.bars, first, last)
    lost = tuple(dict.fromkeys(n for m in run for n in m.lost))
    names = listed(s.names(lost))
    if lost:
        why = f"{names} {'is' if len(lost) == 1 else 'are'} written there, but not heard"
        remedy = f"bring out {names}"
    else:
        why = "nothing is written there"
        remedy = "give an inner part the tenor"
    lines = lost or s.foremost(first, last)
    return remark(
        s, "hole", lines, (first, last), own=len(lines),
        weight=0.35 * length_factor(s.length(first, last)),
        why="a full chord wants a middle", cause=f"between bass and the next note {why}",
        remedies=(remedy, "close the chord up from above, or lift the bass"),
        sentence=(
            f"{opening(where)}: nothing is heard between the bass and the next "
            f"note, nearly two octaves and more above it; {why}. If the hollow sound is not "
            f"meant, {remedy}."
        ),
    )  # fmt: skip
