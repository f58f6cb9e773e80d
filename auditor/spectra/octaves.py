"""Notes of a line alone in its stem that sound an octave from where they are written.

Alone, a note tells its octave by itself. An octave higher, the odd partials of the written
pitch are gone; an octave lower, partials stand halfway between the written ones. So a few long
notes among right ones can be told, of which a trial of their whole passage says too little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.sound.spectrum import RATE_HZ
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.explained import F32, Floats, Ints
from auditor.spectra.misplaced import best_run
from auditor.units import midi_to_hz

# Partials of the written pitch looked at, and how far from their places, in semitones: a player
# is less than a quarter tone out of tune, and half-way partials must stay apart.
PARTIALS, _AROUND = 8, 0.3
# Seconds of a note left to its attack, and looked at at most; periods of the lower octave that
# are needed for its partials to part.
_ATTACK_S, _LONGEST_S, _PERIODS = 0.05, 0.5, 8.0
# dB, of the sum and of the middle of the partials: odd ones this far under the even ones speak
# for the octave above, halfway ones no further under the written than this for the octave
# below. Two figures, as one strong partial may be weak in an instrument, and one halfway place
# may hold the room's memory of the note before.
_GONE_DB, _THERE_DB = (-15.0, -12.0), (-12.0, -15.0)
# What a note says at most for and against, dB beyond those limits; what a run of notes must
# say together, in how many notes, the first and last so many seconds apart. In 16 parts of a
# movement as written, 3800 notes, no longer run said more than 13; one an octave off said 95.
_FOR, _AGAINST, _SAID = 10.0, -15.0, 30.0
_NOTES, _APART_S = 4, 2.0


@dataclass(frozen=True, slots=True)
class OctaveRun:
    """A run of neighbouring notes an octave off.

    Parameters
    ----------
    line
        Its row.
    notes : ndarray of int, shape (notes,)
        Positions in the played notes.
    interval
        12 or -12.
    strength
        Sum of the evidence, dB.
    """

    line: int
    notes: Ints
    interval: int
    strength: float


def octave_runs(samples: F32, notes: PlayedNotes, own: Ints, tuning: float) -> list[OctaveRun]:
    """Find runs of each line's notes that sound an octave off in its stem.

    Only notes that sound by themselves there are asked.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        The stem, mono at 44.1 kHz.
    notes
        All notes.
    own : ndarray of int, shape (notes,)
        Positions of those in the stem.
    tuning
        Offset from A4 = 440 Hz in semitones.
    """
    ordered = own[np.argsort(notes.onset_s[own], kind="stable")]
    told = [n for n in _alone(notes, ordered).tolist() if notes.pitch[n] > 0]
    by_line = {int(k): [n for n in told if notes.line[n] == k] for k in notes.line[told]}
    return [
        run
        for line, mine in sorted(by_line.items())
        for run in _runs(samples, notes, line, mine, tuning)
    ]


def _runs(
    samples: F32, notes: PlayedNotes, line: int, told: list[int], tuning: float
) -> list[OctaveRun]:
    worth = np.array([note_octaves(samples, notes, n, tuning) for n in told]).reshape(-1, 2)
    known = np.flatnonzero(np.isfinite(worth).all(axis=1))
    kept = np.array(told, np.int64)[known]
    out: list[OctaveRun] = []
    for interval, each in zip((12, -12), worth[known].T, strict=True):
        open_ = each.copy()
        while True:
            a, b, total = best_run(open_)
            if total < _SAID:
                break
            open_[a:b] = -np.inf
            run = kept[a:b][each[a:b] > 0]
            if run.size >= _NOTES and np.ptp(notes.onset_s[run]) >= _APART_S:
                out.append(OctaveRun(line, kept[a:b], interval, total))
    return out


def _alone(notes: PlayedNotes, ordered: Ints) -> Ints:
    """Notes that no other of them sounds along with."""
    on, off = notes.onset_s[ordered], notes.offset_s[ordered]
    middle = 0.5 * (on + off)
    beside = (on[None] <= middle[:, None]) & (off[None] > middle[:, None])
    alone: Ints = ordered[beside.sum(axis=1) == 1]
    return alone


def note_octaves(
    samples: F32, notes: PlayedNotes, note: int, tuning: float
) -> tuple[float, float]:
    """What a note says for the octave above and below, dB; NaN where it is too short.

    Parameters
    ----------
    samples, notes, tuning
        As in `octave_runs`.
    note
        Its position.
    """
    hz = float(midi_to_hz(float(notes.pitch[note]) + tuning))
    start = float(notes.onset_s[note]) + _ATTACK_S
    stop = min(float(notes.offset_s[note]), start + _LONGEST_S)
    piece = samples[max(int(start * RATE_HZ), 0) : max(int(stop * RATE_HZ), 0)]
    if piece.size < _PERIODS * 2 * RATE_HZ / hz or not piece.any():
        return float("nan"), float("nan")
    size = 1 << int(np.ceil(np.log2(piece.size)) + 1)
    power = np.abs(np.fft.rfft(piece * np.hanning(piece.size), size)) ** 2
    whole = np.array([_partial(power, size, hz, k) for k in range(1, PARTIALS + 1)])
    half = np.array([_partial(power, size, hz, k - 0.5) for k in range(1, PARTIALS + 1)])
    least = 1e-12 * whole.sum() + 1e-30
    whole, half = whole + least, half + least
    up = min(
        limit - (figure(whole[::2]) - figure(whole[1::2]))
        for limit, figure in zip(_GONE_DB, _FIGURES, strict=True)
    )
    down = min(
        figure(half) - figure(whole) - limit
        for limit, figure in zip(_THERE_DB, _FIGURES, strict=True)
    )
    return float(np.clip(up, _AGAINST, _FOR)), float(np.clip(down, _AGAINST, _FOR))


def _sum_db(partials: Floats) -> float:
    return float(10 * np.log10(partials.sum()))


def _middle_db(partials: Floats) -> float:
    return float(10 * np.log10(np.median(partials)))


_FIGURES = (_sum_db, _middle_db)


def _partial(power: Floats, size: int, hz: float, number: float) -> float:
    """Highest power near a partial."""
    place = number * hz * size / RATE_HZ
    reach = (2 ** (_AROUND / 12) - 1) * place
    first, last = round(place - reach), round(place + reach) + 1
    piece = power[min(first, power.size) : min(last, power.size)]
    return float(piece.max()) if piece.size else 0.0
