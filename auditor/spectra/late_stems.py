"""Passages of a stem that sound earlier or later than the rest of it, told from its attacks.

In a stem every rise of the spectrum is an attack of its own lines, repeated notes included,
which a search for held pitches (misplaced.py) cannot tell apart. Over some notes in a row the
rises are summed at every shift from the written places: where they come late, the sum stands
at that shift and is gone from the usual one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.sound.spectrum import HOP, RATE_HZ, pooled_power
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.explained import F32, POOLS, Floats, Ints

# Frames of 23 ms by which notes are shifted either way: half a second.
REACH = 22
# Shifts from 0.16 s on count: slow strings take up to 0.1 s to speak, and a place may be found
# as far from its true one (docs/alignment.md).
LEAST = 7
# Places of attack in a passage, seconds it lasts, and attacks a stem needs for a usual shift.
PASSAGE, _LASTS_S, _ENOUGH = 6, 2.0, 24
# Of what attacks show at the usual shift, the middle one of a shifted passage shows so much at
# its own, of that no more than so much at the usual one, and so many of its attacks show twice
# as much there (our choice; docs/evaluation.md).
_THERE, _GONE, _AGREE = 0.2, 0.25, 0.75
# Shifts that show nearly as much as the best one.
_ALIKE = 0.75
# Notes this close begin together, seconds.
_TOGETHER_S = 0.05
_FLOOR = 1e-4


@dataclass(frozen=True, slots=True)
class LateRun:
    """A passage that sounds elsewhere than written.

    Parameters
    ----------
    notes : ndarray of int, shape (notes,)
        Positions in the played notes.
    seconds
        How much later they sound than the rest, earlier below 0.
    strength
        What its middle attack shows at its own shift beyond what it shows at the usual one,
        as a share of what attacks usually show, 0 to 1.
    """

    notes: Ints
    seconds: float
    strength: float


def rises(samples: F32) -> Floats:
    """How much the spectrum rises in each frame, less its local mean, shape (frames,)."""
    power = pooled_power(samples)[:, :POOLS].astype(np.float64)
    level = np.log(power + _FLOOR * power.mean() + 1e-20)
    rise = np.zeros(len(level))
    rise[1:] = np.maximum(np.diff(level, axis=0), 0.0).mean(axis=1)
    around = np.ones(2 * REACH + 1) / (2 * REACH + 1)
    out: Floats = rise - np.convolve(rise, around, "same")
    return out


def late_runs(samples: F32, notes: PlayedNotes, own: Ints) -> list[LateRun]:
    """Find the passages of a stem that come early or late.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    notes
        All notes.
    own : ndarray of int, shape (notes,)
        Positions of those in the stem.
    """
    ordered = own[np.argsort(notes.onset_s[own], kind="stable")]
    onset_s = notes.onset_s[ordered]
    first = np.flatnonzero(np.diff(onset_s, prepend=-np.inf) > _TOGETHER_S)
    if first.size < _ENOUGH:
        return []
    rise = rises(samples)
    frame = np.round(onset_s[first] * RATE_HZ / HOP).astype(np.int64)
    at = np.clip(frame[:, None] + np.arange(-REACH, REACH + 1), 0, rise.size - 1)
    shown = rise[at]
    whole = shown.mean(axis=0)
    usual = int(np.argmax(whole[1:-1])) + 1
    # An attack is as wide as three frames, and a single strong one must not speak for many.
    wide = np.maximum(np.maximum(shown[:, :-2], shown[:, 1:-1]), shown[:, 2:])
    told: Floats = np.clip(wide / whole[usual], 0.0, 1.0)
    usual -= 1
    shifted: dict[int, int] = {}
    for k in range(first.size - PASSAGE + 1):
        by = _shift(told[k : k + PASSAGE], usual)
        lasts = onset_s[first[k + PASSAGE - 1]] - onset_s[first[k]] >= _LASTS_S
        if by and lasts:
            shifted.update(dict.fromkeys(range(k, k + PASSAGE), by))
    ends = np.append(first, ordered.size)
    out: list[LateRun] = []
    for g in _groups(shifted):
        run = _run(ordered[ends[g[0]] : ends[g[-1] + 1]], told[g], usual)
        if abs(run.seconds) >= LEAST * HOP / RATE_HZ:
            out.append(run)
    return out


def _best(middle: Floats, usual: int) -> int:
    """Least shift that shows nearly the most: even notes show as much one note further."""
    alike = np.flatnonzero(middle >= _ALIKE * middle.max())
    blocks = np.split(alike, np.flatnonzero(np.diff(alike) > 1) + 1)
    return min((round(float(b.mean())) for b in blocks), key=lambda k: abs(k - usual))


def _shift(told: Floats, usual: int) -> int:
    """Frames by which all attacks of a passage lie off, 0 for none; told (attacks, shifts)."""
    middle = np.median(told, axis=0)
    best = _best(middle, usual)
    there = middle[best] >= _THERE and middle[usual] <= _GONE * middle[best]
    agree = np.mean(told[:, best] > 2.0 * told[:, usual]) >= _AGREE
    return best - usual if there and agree and abs(best - usual) >= LEAST else 0


def _groups(shifted: dict[int, int]) -> list[list[int]]:
    """Neighbouring places that lie off the same way."""
    out: list[list[int]] = []
    for place, by in sorted(shifted.items()):
        if out and out[-1][-1] == place - 1 and by * shifted[place - 1] > 0:
            out[-1].append(place)
        else:
            out.append([place])
    return out


def _run(notes: Ints, told: Floats, usual: int) -> LateRun:
    middle = np.median(told, axis=0)
    best = _best(middle, usual)
    seconds = (best - usual) * HOP / RATE_HZ
    return LateRun(notes, seconds, float(middle[best] - middle[usual]))
