"""Old habits of clefs: horn and bass clarinet in the bass clef, cello in the treble clef.

In old scores the horn's bass clef sounds an octave higher than today's (so that a written
C below the staff is the same note in both clefs less an octave), the German bass clarinet's
bass clef sounds a tone lower where its treble clef sounds a ninth lower, and the cello's
treble clef, straight after the bass clef, sounds an octave lower [1]_.

References
----------
.. [1] C. Forsyth, *Orchestration* (1914), the horn, the bass clarinet, the violoncello.
"""

from __future__ import annotations

from collections.abc import Container, Sequence

import numpy as np
from numpy.typing import NDArray

from auditor.score.harmony import Written
from auditor.score.notes import Instrument

# Written pitches of the bass clef: below F sharp 2 today's horn has only its pedal notes, and
# nobody of old wrote above G3 there, which in the treble clef is G4.
_HORN_OLD_BELOW = 42
_HORN_NEW_ABOVE = 55
# Mean difference of leaps, in semitones, that tells one reading from the other.
_SMOOTHER = 3.0
# Notes further apart than this are no leap.
_NEAR_QUARTERS = 8.0
# From here on the old reading is taken; notes out of range count 1 each, these less.
CLEAR = 2.0
_UNISON, _LEAP = 0.5, 0.5
# The clef that means something else in old scores, and by how many semitones.
_OLD = {"horn": ("F", 12), "bass-clarinet": ("F", 12), "cello": ("G", -12)}


def doubtful(instrument: str, signs: NDArray[np.str_]) -> NDArray[np.bool_]:
    """Heads whose clef may be meant in the old way.

    Parameters
    ----------
    instrument
        Key of the table.
    signs : ndarray of str, shape (heads,)
        Clef of each head: ``G``, ``F``, ``C``.
    """
    if instrument not in _OLD:
        return np.zeros(signs.shape, dtype=np.bool_)
    found: NDArray[np.bool_] = signs == _OLD[instrument][0]
    return found


def mixed(instrument: str, old: NDArray[np.bool_]) -> bool:
    """Whether a part has doubtful heads; a cello wholly in the treble clef is only odd."""
    return bool(old.any()) and not (instrument == "cello" and bool(old.all()))


def lift(instrument: str) -> int:
    """Semitones by which the old reading differs from today's."""
    return _OLD[instrument][1]


def evidence(
    instrument: Instrument,
    written: Written,
    old: NDArray[np.bool_],
    beside: Container[tuple[int, int]],
) -> float:
    """How clearly the doubtful heads are meant in the old way: from `CLEAR` on they are.

    Parameters
    ----------
    instrument
        What plays.
    written
        The part with the transposition read so far.
    old : ndarray of bool, shape (heads,)
        From `doubtful`.
    beside
        What other instruments strike: places from `place_of`, and sounding pitches.
    """
    moved = lift(instrument.key)
    sounding = written.sounding[old]
    low, high = instrument.low, instrument.high
    wrong_today = np.count_nonzero((sounding < low) | (sounding > high))
    wrong_of_old = np.count_nonzero((sounding + moved < low) | (sounding + moved > high))
    score = float(wrong_today - wrong_of_old)
    if instrument.key == "horn":
        printed = written.pitch[old]
        score += float(np.count_nonzero(printed < _HORN_OLD_BELOW))
        score -= float(np.count_nonzero(printed > _HORN_NEW_ABOVE))
    places = [place_of(start) for start in written.start[old].tolist()]
    doubled = [
        sum(
            (place, int(pitch) + extra) in beside
            for place, pitch in zip(places, sounding, strict=True)
        )
        for extra in (0, moved)
    ]
    score += _UNISON * (doubled[1] - doubled[0])
    return score + _LEAP * _smoothness(written, old, moved)


def place_of(quarters: float) -> int:
    """Number a place, so that rounded tuplets of two parts meet."""
    return round(quarters * 24)


def _smoothness(written: Written, old: NDArray[np.bool_], moved: int) -> float:
    """1 for each change of clef that the old reading crosses with a smaller leap, or -1."""
    order = np.lexsort((written.pitch, written.start))
    flags, start, pitch = old[order], written.start[order], written.sounding[order]
    edges = np.flatnonzero(flags[1:] != flags[:-1])
    votes = 0.0
    for edge in edges:
        if start[edge + 1] - start[edge] > _NEAR_QUARTERS:
            continue
        leap = int(pitch[edge + 1] - pitch[edge])
        other = leap + (moved if flags[edge + 1] else -moved)
        if abs(abs(leap) - abs(other)) >= _SMOOTHER:
            votes += 1.0 if abs(other) < abs(leap) else -1.0
    return votes


def timpani(written: Written, tunings: Sequence[tuple[float, tuple[int, ...]]]) -> bool:
    """Shift timpani written C and G to where they are tuned; False if they sound as written.

    Parameters
    ----------
    written
        The part; its shifts are set.
    tunings
        Pitch classes of the kettles and from which quarter on, rising, as names and words
        give them: ``in D, A``.
    """
    classes = set((written.pitch % 12).tolist())
    if not written.pitch.size or not classes <= {0, 7} or len(classes) < 2:
        return False
    shifts = np.zeros(written.pitch.shape, dtype=np.int64)
    for start, tuning in tunings:
        later = written.start >= start - 1e-3
        shifts[later] = _moved(written, tuning, later)
    written.shift[:] += shifts
    return bool(shifts.any())


def _moved(written: Written, tuning: tuple[int, ...], rows: NDArray[np.bool_]) -> int:
    if len(tuning) < 2 or set(tuning[:2]) == {0, 7} or not rows.any():
        return 0
    for tonic, dominant in (tuning[:2], tuning[1::-1]):
        if (dominant - tonic) % 12 == 7:
            return _kettles(written.pitch[rows], tonic)
    return 0


def _kettles(pitch: NDArray[np.int64], tonic: int) -> int:
    # An old pair covers F2 to F3 (Johnstone, 1917): the octave that stays within it.
    up = tonic % 12
    low, high = int(pitch.min()), int(pitch.max())
    return up if low + up >= 41 and high + up <= 53 else up - 12
