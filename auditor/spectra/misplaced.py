"""Passages of a line that sound earlier or later than the rest, or whose notes are cut short.

A run of neighbouring notes must agree: the notes' evidence, less what one note must bring,
is summed along the line and the heaviest stretch is taken (Bentley's maximum subarray). What
an attack or an uncertain alignment can explain is no fault.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.sound.spectrum import HOP, RATE_HZ
from auditor.spectra.explained import Floats, Ints
from auditor.spectra.timing import SHIFTS, STOPS, Timing

# Shifts from 93 ms on are looked at: half of all entries are placed within 15 ms and nearly
# all within 60, and slow strings take up to 70 ms more to speak (docs/alignment.md).
_LEAST_S = 0.09
# A note says at most this for or against, and must bring this much to count for.
_MOST, _AGAINST, _NEEDED = 15.0, -10.0, 4.0
# An early note's own ring fills the time it has left, so that half says little.
_RINGS = 0.25
# The sum of a run from which it is said, and in how many places, so many seconds apart.
SHIFTED, SHORT = 22.0, 22.0
_NOTES, _PLACES, _APART_S = 3, 3, 1.0
# Shares of a note after which a note that stops is cut short.
_STOP, _STOP_APART = 0.45, 0.2


@dataclass(frozen=True, slots=True)
class Misplaced:
    """A run of notes that sound elsewhere than written.

    Parameters
    ----------
    line
        Its row.
    notes : ndarray of int, shape (notes,)
        Positions in the played notes.
    seconds
        How much later (earlier below 0) they sound; 0 for notes cut short.
    kept
        Share of their length after which they end; 1 for notes that are only moved.
    strength
        Sum of the evidence.
    span_s
        Onsets of the first and the last of them.
    """

    line: int
    notes: Ints
    seconds: float
    kept: float
    strength: float
    span_s: tuple[float, float]


def best_run(worth: Floats) -> tuple[int, int, float]:
    """First, last + 1 and sum of the heaviest stretch."""
    best, start, total = (0, 0, 0.0), 0, 0.0
    for k, value in enumerate(worth.tolist()):
        if total <= 0:
            start, total = k, 0.0
        total += value
        if total > best[2]:
            best = (start, k + 1, total)
    return best


def of_lines(timings: Sequence[Timing]) -> list[Misplaced]:
    """Find the misplaced runs of all lines.

    Of lines that seem cut short together the plainest is named: its partials, once gone,
    are missed in the lines whose partials they share.
    """
    runs = [run for timing in timings for run in misplaced(timing)]
    kept: list[Misplaced] = []
    for run in sorted(runs, key=lambda r: -r.strength):
        beside = any(r.kept < 1.0 and _together(r, run) for r in kept)
        if run.kept == 1.0 or not beside:
            kept.append(run)
    return sorted(kept, key=lambda r: (r.line, r.span_s))


def _together(a: Misplaced, b: Misplaced) -> bool:
    return a.span_s[0] <= b.span_s[1] and b.span_s[0] <= a.span_s[1]


def misplaced(timing: Timing) -> list[Misplaced]:
    """Runs of a line that are shifted, and runs whose notes are cut short; no weaker ones."""
    moved = _shifted(timing)
    early = {int(n) for run in moved if run.seconds < 0 for n in run.notes}
    # What comes early also ends early.
    return [*moved, *(c for c in _cut(timing) if not early & set(c.notes.tolist()))]


def shift_worth(timing: Timing, k: int) -> Floats:
    """What each note says for the shift at place `k` of `SHIFTS`, less what it must bring."""
    least = int(np.flatnonzero(np.sign(SHIFTS[k]) * 2 == SHIFTS)[0])
    # What the least shift explains already, an attack or the alignment may be the cause of.
    gain = _gain(timing, k) - np.maximum(_gain(timing, least), 0.0)
    out: Floats = np.clip(gain, _AGAINST, _MOST) - _NEEDED
    return out


def _gain(timing: Timing, k: int) -> Floats:
    """Evidence for a shift: time left empty counts only where other time is filled instead."""
    left = timing.left[:, k] * (1.0 if SHIFTS[k] > 0 else _RINGS)
    taken = timing.taken[:, k]
    gain: Floats = np.minimum(left, 2.0 * np.maximum(taken, 0.0)) + taken
    return gain


def _shifted(timing: Timing) -> list[Misplaced]:
    found: list[Misplaced] = []
    seconds = SHIFTS * HOP / RATE_HZ
    tried = [int(k) for k in np.flatnonzero(np.abs(seconds) >= _LEAST_S)]
    worth = {k: shift_worth(timing, k) for k in tried}
    open_ = np.ones(timing.notes.size, bool)
    while True:
        runs = {k: best_run(np.where(open_, w, -np.inf)) for k, w in worth.items()}
        k = max(runs, key=lambda k: runs[k][2])
        a, b, total = runs[k]
        if total < SHIFTED:
            return found
        open_[a:b] = False
        if _placed(timing, a, b, worth[k]):
            # Which shift it is tells the evidence in full; above, a note's say is bounded.
            way = [j for j in worth if np.sign(SHIFTS[j]) == np.sign(SHIFTS[k])]
            best = float(seconds[max(way, key=lambda j: _gain(timing, j)[a:b].sum())])
            span = (float(timing.onset_s[a]), float(timing.onset_s[b - 1]))
            found.append(Misplaced(timing.line, timing.notes[a:b], best, 1.0, total, span))


def _cut(timing: Timing) -> list[Misplaced]:
    long = np.flatnonzero(timing.stopped.any(axis=1))
    if not long.size:
        return []
    found: list[Misplaced] = []
    inside = np.flatnonzero(np.abs(STOPS - _STOP) <= _STOP_APART)
    gain = timing.stopped[long][:, inside]
    worth = np.clip(gain.max(axis=1), _AGAINST, _MOST) - _NEEDED
    a, b, total = best_run(worth)
    if total >= SHORT and _placed(timing, a, b, worth, long):
        kept = float(STOPS[inside][gain[a:b].sum(axis=0).argmax()])
        span = (float(timing.onset_s[long[a]]), float(timing.onset_s[long[b - 1]]))
        found.append(Misplaced(timing.line, timing.notes[long[a:b]], 0.0, kept, total, span))
    return found


def _placed(timing: Timing, a: int, b: int, worth: Floats, which: Ints | None = None) -> bool:
    """Whether notes enough in places enough speak for it."""
    at = np.arange(a, b)[worth[a:b] > 0]
    onset = timing.onset_s[at if which is None else which[at]]
    places, last = 0, -np.inf
    for second in np.sort(onset):
        if second - last >= _APART_S:
            places, last = places + 1, second
    return at.size >= _NOTES and places >= _PLACES
