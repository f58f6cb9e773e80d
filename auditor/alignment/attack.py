"""How late notes are heard: by what starts them, and by how their rise looks in the sound.

A bowed note takes a tenth of a second to reach its strength, a plucked one no time, so
the middle of a rise lies later than the note's start by an amount that depends on the
players. What is usual for a kind is known; how wide the rises are tells about this sound.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.score.notes import Instrument, Note
from auditor.sound.features import BINS, ONSET_FPS

F64 = NDArray[np.float64]
I64 = NDArray[np.int64]

KINDS = ("struck", "reed", "flute", "brass", "bowed", "section", "voice")
# Milliseconds from note-on to the middle of the rise, as `sound.features` sees single dry
# notes; means of two sound fonts by `tests/bench/alignment_lag.py`. What begins at once is
# seen early, because half the analysis window looks ahead.
_USUAL_MS = np.array([-17.0, 1.0, 18.0, 5.0, 12.0, 33.0, 22.0])
_FLUTES = ("piccolo", "flute", "recorder", "organ")
_SECTION = 3.0  # players

# Frames around the placed onset that are averaged, and those that count as the attack.
_LAGS = np.arange(-25, 36)
_ATTACK = (_LAGS >= -14) & (_LAGS <= 24)
_FEWEST = 30
_OCTAVE = 12
# Lag in ms against the width of the rise (tenth percentile to middle), over all instruments
# of the same two fonts: a rise of 22 ms is a struck one, each further one adds two. Players
# are not quite together (8 ms), which widens their mean rise by three more.
_SLOPE, _STRUCK_WIDTH_MS, _STRUCK_LAG_MS = 2.0, 25.0, -17.0
_RANGE_MS = (-25.0, 70.0)
# Weight of what is measured, against what is usual for the kind.
_TRUST = 0.75


def kind_of(note: Note, instrument: Instrument) -> int:
    """Index in `KINDS` of the way a note begins."""
    if instrument.kind != "sustained" or "pizz" in note.techniques or note.unpitched:
        return 0
    if instrument.family == "strings":
        return KINDS.index("section" if note.players >= _SECTION else "bowed")
    if instrument.family == "brass":
        return KINDS.index("brass")
    if instrument.family == "voice":
        return KINDS.index("voice")
    airy = any(word in instrument.key for word in _FLUTES)
    return KINDS.index("flute" if airy else "reed")


def usual_lag_s(kind: I64) -> F64:
    """Seconds from a note's start to the middle of its rise, shape as `kind`."""
    return _USUAL_MS[kind] / 1000


def lags_s(flux: NDArray[np.floating], onset_s: F64, pitch: I64, kind: I64) -> F64:
    """Lag of each note: of its kind in this sound as far as its rises tell, else the usual.

    Parameters
    ----------
    flux : ndarray, shape (frames, 86)
        Rises, as heard.
    onset_s : ndarray, shape (notes,)
        Where onsets were placed.
    pitch : ndarray of int, shape (notes,)
        Bin of each note, -1 if none.
    kind : ndarray of int, shape (notes,)
        Index in `KINDS`.
    """
    lag_ms = _USUAL_MS.copy()
    for k in np.unique(kind):
        rise = average_rise(flux, onset_s[kind == k], pitch[kind == k])
        if rise is not None:
            seen = _STRUCK_LAG_MS + _SLOPE * (width_ms(rise) - _STRUCK_WIDTH_MS)
            lag_ms[k] += _TRUST * (float(np.clip(seen, *_RANGE_MS)) - lag_ms[k])
    out: F64 = lag_ms[kind] / 1000
    return out


def width_ms(rise: F64) -> float:
    """Milliseconds from the tenth percentile of a rise to its middle."""
    share = np.cumsum(rise) / rise.sum()
    low, middle = np.interp([0.1, 0.5], share, np.arange(rise.size))
    return float(middle - low) * 1000 / ONSET_FPS


def average_rise(flux: NDArray[np.floating], onset_s: F64, pitch: I64) -> F64 | None:
    """Mean rise in the bins of fundamental and octave, above the usual, shape (lags,)."""
    frame = np.rint(onset_s * ONSET_FPS).astype(np.int64)
    inside = (pitch >= 0) & (pitch < BINS - _OCTAVE)
    inside &= (frame + _LAGS[0] >= 0) & (frame + _LAGS[-1] < len(flux))
    if inside.sum() < _FEWEST:
        return None
    rows = frame[inside][:, None] + _LAGS
    column = pitch[inside][:, None]
    both = flux[rows, column].astype(np.float64) + flux[rows, column + _OCTAVE]
    mean = both.mean(axis=0)
    usual = np.median(np.concatenate([mean[:8], mean[-10:]]))
    rise: F64 = np.maximum(mean - usual, 0.0) * _ATTACK
    rise[: _foot(rise)] = 0.0
    return rise if rise.sum() > 0 else None


def _foot(rise: F64) -> int:
    """Where the main rise begins; what stands before it is the end of earlier notes."""
    peak = int(np.argmax(rise))
    at = peak
    while at > 0 and rise[at - 1] > 0.03 * rise[peak]:
        if rise[at] < 0.3 * rise[peak] and rise[at - 1] > rise[at]:
            break
        at -= 1
    return at
