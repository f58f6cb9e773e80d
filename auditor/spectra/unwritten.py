"""Sound in the mix that no written line explains: notes at pitches where nobody plays.

A foreign note shows as partials that stand above everything the fit explains, at a pitch
that no sounding note's own partials come near. What plays in unison with a written line,
or on its partials, cannot be told from that line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from auditor.sound.spectrum import HOP, RATE_HZ
from auditor.spectra.explained import (
    Decomposed,
    Explained,
    Floats,
    Ints,
    combed,
    unexplained,
)

# Pitches looked at: A1 to D#7.
_PITCHES = np.arange(33, 100)
# Semitones from a written note where its own partials, or their leakage, can deceive.
_NEAR = (-1, 0, 1, 12, 19, 24, 28, 31)
# The three weakest of five partials stand on average this far above the model (natural log
# of power) before they count: 3.5 dB. Template mismatch of unfaulted mixes stays below.
_LEAST = 0.8
# Moments softer than this beside the mean of the mix are not looked at.
_QUIET = 1e-3
# Pitches that stand out nearly as far as the most foreign one, as a share of it.
_ALIKE = 0.85
# From here on a moment holds a foreign note: 6 dB.
CLEARLY = 1.4


@dataclass(frozen=True, slots=True)
class Unwritten:
    """What the written lines do not explain.

    Parameters
    ----------
    excess
        Mean over the time of the squared rise above the least that counts.
    start_s, end_s : ndarray, shape (segments,)
        The stretches of the mix it was taken over.
    rise : ndarray, shape (segments,)
        How far the most foreign pitch stands above the model, natural log of power; -1
        where it is not looked at.
    pitch : ndarray of int, shape (segments,)
        That pitch, or the lowest of its likes; often an octave above the note, whose own
        place is taken by written ones.
    power : ndarray, shape (pools,)
        Power in such moments above twice the model, below 6.3 kHz.
    """

    excess: float
    start_s: Floats
    end_s: Floats
    rise: Floats
    pitch: Ints
    power: Floats


def unwritten(found: Decomposed, mix: Explained, moved: Mapping[int, int]) -> Unwritten:
    """Look for foreign notes.

    Parameters
    ----------
    found, mix
        The decomposition, and the mix beside it.
    moved
        Interval by row of the lines that sound transposed: theirs is no foreign sound.
    """
    over = unexplained(mix)
    salience = np.stack([combed(over, np.full(len(over), float(k))) for k in _PITCHES], axis=1)
    taken = _taken(found, mix, moved)
    salience[taken[:, _PITCHES]] = -1.0
    frames = np.diff(found.bounds)
    power = mix.power.sum(axis=1)
    weight = frames * (power > _QUIET * float(np.average(power, weights=frames)))
    rise = np.where(weight > 0, salience.max(axis=1), -1.0)
    above = np.clip(rise - _LEAST, 0.0, None) ** 2
    beyond = np.clip(mix.power - 2.0 * mix.model, 0.0, None)
    edge: Floats = np.asarray(found.bounds * (HOP / RATE_HZ), np.float64)
    return Unwritten(
        excess=float((weight * above).sum() / max(float(weight.sum()), 1.0)),
        start_s=edge[:-1],
        end_s=edge[1:],
        rise=rise,
        # Octaves of a foreign note stand out as it does; the lowest is the note.
        pitch=_PITCHES[(salience >= _ALIKE * rise[:, None]).argmax(axis=1)].astype(np.int64),
        power=np.asarray((weight * (rise > CLEARLY)) @ beyond, np.float64),
    )


def _taken(
    found: Decomposed, mix: Explained, moved: Mapping[int, int]
) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Pitches near a partial of a sounding note, shape (segments, 128)."""
    p = found.problem
    shift = np.zeros(len(found.palette.lines), np.int64)
    for line, interval in moved.items():
        shift[line] = interval
    written = found.notes.pitch[p.note]
    pitched = written > 0
    out = np.zeros((len(mix.power), 128), dtype=bool)
    for pitch in (written, written + shift[p.note_line[p.note]]):
        for apart in _NEAR:
            out[mix.segment[pitched], np.clip(pitch[pitched] + apart, 0, 127)] = True
    return out
