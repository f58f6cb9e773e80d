"""What the score lets us expect to hear: the same features, made from notes alone.

Nothing is rendered. A note is a stack of partials in semitone bins, smeared as the
analysis smears a sine; its time comes from whatever estimate is at hand.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache

import numpy as np
from numba import njit
from numpy.typing import NDArray

from auditor.alignment.attack import kind_of, usual_lag_s
from auditor.score.notes import Score
from auditor.sound.features import (
    BINS,
    COMPRESSION,
    HIGHEST,
    LOWEST,
    flux_response,
    pitch_response,
)
from auditor.units import db_to_power

# Power of partials 1 to 10 falls by 12 dB an octave from the third: between the
# spectra of strings and of winds. Found on made performances; the pitch term of the
# warping moves little with it.
_PARTIALS = 10
_SLOPE_DB = 9.0
# One dynamic step in a mix. Libraries span less than players do, and recordings are levelled.
_STEP_DB = 3.0
# Power of a struck or plucked note falls by 60 dB in about this time.
_DECAY_60_S = 3.0
# A held note keeps sounding this long after its end (release and room).
_RELEASE_S = 0.1
# ... and then falls by this many nepers of power a second in a dry room.
_DRY_FALL = 40.0

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Events:
    """Notes as arrays on one rising axis of quarters, sorted by onset.

    Parameters
    ----------
    onset, offset : ndarray, shape (notes,)
        Quarters.
    pitch : ndarray of int, shape (notes,)
        Bin from `LOWEST`; -1 when unpitched or outside.
    power : ndarray, shape (notes,)
        Relative power.
    decays : ndarray of bool, shape (notes,)
        True for struck and plucked notes.
    kind : ndarray of int, shape (notes,)
        How the note begins, an index of `attack.KINDS`.
    lag_s : ndarray, shape (notes,)
        Seconds from the note's start to the middle of its rise, as the analysis sees it.
    """

    onset: F64
    offset: F64
    pitch: NDArray[np.int64]
    power: F64
    decays: NDArray[np.bool_]
    kind: NDArray[np.int64]
    lag_s: F64

    def chosen(self, which: NDArray[np.bool_]) -> Events:
        """Keep the notes where `which` is true."""
        return Events(*(getattr(self, field.name)[which] for field in fields(self)))


def events(score: Score) -> Events:
    """All notes of a score but the grace notes, whose place no page fixes."""
    instruments = {line.number: line.instrument for line in score.lines}
    notes = [n for n in score.notes if not n.grace]
    pitch = np.array([-1 if n.unpitched else n.pitch - LOWEST for n in notes], dtype=np.int64)
    pitch[(pitch < 0) | (pitch > HIGHEST - LOWEST)] = -1
    dynamic = np.array([n.dynamic for n in notes])
    players = np.array([max(n.players, 0.5) for n in notes])
    onset = np.array([n.onset for n in notes], dtype=np.float64)
    kind = np.array([kind_of(n, instruments[n.line]) for n in notes], dtype=np.int64)
    return Events(
        onset=onset,
        offset=onset + np.array([n.duration for n in notes], dtype=np.float64),
        pitch=pitch,
        power=np.sqrt(players) * db_to_power(_STEP_DB * (dynamic - 3.0)),
        decays=np.array(
            [instruments[n.line].kind != "sustained" or "pizz" in n.techniques for n in notes],
            dtype=np.bool_,
        ),
        kind=kind,
        lag_s=usual_lag_s(kind),
    )


def pitch_rows(
    notes: Events,
    onset_s: F64,
    offset_s: F64,
    frames: int,
    fps: float,
    fall: float = _DRY_FALL,
) -> F32:
    """Make expected pitch bins, shape (frames, 85), compressed as the heard ones are.

    `fall` says how fast the room lets notes fade, in nepers of power a second.
    """
    out = np.zeros((frames, BINS), np.float32)
    _sustain(
        out,
        _stack("pitch"),
        notes.pitch,
        notes.power,
        notes.decays,
        onset_s,
        offset_s,
        fps,
        fall,
    )
    np.power(out, np.float32(COMPRESSION), out=out)
    return out


def chroma_rows(pitch: F32) -> F32:
    """Fold pitch bins into twelve classes, shape (frames, 12), class 0 is C."""
    power = pitch.astype(np.float64) ** (1 / COMPRESSION)
    out = np.zeros((len(pitch), 12))
    for k in range(BINS):
        out[:, (LOWEST + k) % 12] += power[:, k]
    return (out**COMPRESSION).astype(np.float32)


def flux_rows(notes: Events, onset_s: F64, frames: int, fps: float) -> F32:
    """Make expected rises, shape (frames, 86); the last column is the broadband one."""
    out = np.zeros((frames, BINS + 1), np.float32)
    _strike(out, np.sqrt(_stack("flux")), notes.pitch, notes.power, onset_s, fps)
    return out


@cache
def _stack(which: str) -> F32:
    """Power in all bins of a note with its partials, shape (85 notes, 85 bins)."""
    response = pitch_response() if which == "pitch" else flux_response()
    out = np.zeros((BINS, BINS), np.float32)
    for partial in range(1, _PARTIALS + 1):
        step = 12.0 * np.log2(partial)
        share = db_to_power(-_SLOPE_DB * np.log2(partial))
        low = int(np.floor(step + 1e-9))
        rest = step - low
        for shift, part in ((low, 1 - rest), (low + 1, rest)):
            if part > 1e-6 and shift < BINS:
                out[: BINS - shift] += np.float32(share * part) * response[shift:]
    return out


@njit(cache=True)
def _sustain(
    out: F32,
    stack: F32,
    pitch: NDArray[np.int64],
    power: F64,
    decays: NDArray[np.bool_],
    onset_s: F64,
    offset_s: F64,
    fps: float,
    room: float,
) -> None:
    frames, bins = out.shape
    longest = _RELEASE_S if room >= _DRY_FALL else 6.0 / room
    fall = np.log(1e6) / _DECAY_60_S
    for n in range(pitch.size):
        if pitch[n] < 0 or not np.isfinite(onset_s[n]):
            continue
        first = max(0, int(np.ceil(onset_s[n] * fps - 0.5)))
        last = min(frames, int(np.ceil((offset_s[n] + longest) * fps)))
        last = max(last, min(frames, first + 1))
        for t in range(first, last):
            gain = power[n]
            age = t / fps - onset_s[n]
            if decays[n] and age > 0:
                gain *= np.exp(-fall * age)
            late = t / fps - offset_s[n]
            if late > 0:
                gain *= np.exp(-room * late)
            for k in range(bins):
                out[t, k] += gain * stack[pitch[n], k]


@njit(cache=True)
def _strike(
    out: F32,
    stack: F32,
    pitch: NDArray[np.int64],
    power: F64,
    onset_s: F64,
    fps: float,
) -> None:
    frames, columns = out.shape
    for n in range(pitch.size):
        if not np.isfinite(onset_s[n]):
            continue
        t = int(np.rint(onset_s[n] * fps))
        if t < 0 or t >= frames:
            continue
        gain = power[n] ** 0.25
        out[t, columns - 1] += gain * gain
        if pitch[n] >= 0:
            for k in range(columns - 1):
                out[t, k] += gain * stack[pitch[n], k]
