"""Sound in the mix that no written line explains: notes at pitches where nobody plays.

A foreign note shows as partials that stand above everything the fit explains, at a pitch
that no sounding note's own partials come near. What plays in unison with a written line,
or on its partials, cannot be told from that line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

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
from auditor.timbre.templates import AGES

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
# Notes shorter than this may be an attack, a stroke or a noise that no template has.
HELD_S = 0.2
# A layer for a few bars drowns in the mean of a movement: it is looked at this long, too.
WINDOW_S = 8.0
# Where the page is silent for longer, its notes were not placed or the music is over.
_SILENT_S = 4.0


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
    held
        Foreign notes that are held, `HELD_S` and longer.
    beyond_stems
        True if it was looked for beside stems, not beside the written lines: `rise` is then
        how far it stands above what is worth a word, and `pitch` is 0.
    densest
        As `excess`, over the `WINDOW_S` in which it is largest.
    """

    excess: float
    start_s: Floats
    end_s: Floats
    rise: Floats
    pitch: Ints
    power: Floats
    held: int = 0
    beyond_stems: bool = False
    densest: float = 0.0


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
    edge: Floats = np.asarray(found.bounds * (HOP / RATE_HZ), np.float64)
    loud = power > _QUIET * float(np.average(power, weights=frames))
    weight = frames * (loud & ~_unplaced(_silent(found, mix), edge))
    rise = np.where(weight > 0, salience.max(axis=1), -1.0)
    above = np.clip(rise - _LEAST, 0.0, None) ** 2
    beyond = np.clip(mix.power - 2.0 * mix.model, 0.0, None)
    # Octaves of a foreign note stand out as it does; the lowest is the note.
    pitch = _PITCHES[(salience >= _ALIKE * rise[:, None]).argmax(axis=1)].astype(np.int64)
    return Unwritten(
        excess=float((weight * above).sum() / max(float(weight.sum()), 1.0)),
        start_s=edge[:-1],
        end_s=edge[1:],
        rise=rise,
        pitch=pitch,
        power=np.asarray((weight * (rise > CLEARLY)) @ beyond, np.float64),
        held=_held(rise, pitch, edge),
        densest=_densest(np.repeat(above * (weight > 0), frames)),
    )


def _densest(above: Floats) -> float:
    """Largest mean over `WINDOW_S`; above, shape (frames,)."""
    width = min(round(WINDOW_S * RATE_HZ / HOP), above.size)
    total = np.concatenate([[0.0], np.cumsum(above)])
    return float((total[width:] - total[:-width]).max() / width) if width else 0.0


def _silent(found: Decomposed, mix: Explained) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Segments in which no written note is held."""
    out = np.ones(len(mix.power), dtype=bool)
    out[mix.segment[found.problem.age < AGES - 1]] = False
    return out


def _unplaced(
    silent: np.ndarray[tuple[int], np.dtype[np.bool_]], edge: Floats
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Segments in which the page has been, or will be, silent for long."""
    out = np.zeros_like(silent)
    for first, last in _runs(np.where(silent, 0, -1)):
        out[first:last] = edge[last] - edge[first] > _SILENT_S
    return out


def _held(rise: Floats, pitch: Ints, edge: Floats) -> int:
    """Count the foreign notes that are held; one that moves by octaves is one note."""
    runs = _runs(np.where(rise > CLEARLY, pitch % 12, -1))
    return sum(bool(edge[last] - edge[first] >= HELD_S) for first, last in runs)


def _runs(value: Ints) -> list[tuple[int, int]]:
    """First and past-the-last positions of every stretch of one value, -1 left out."""
    edges = np.flatnonzero(np.diff(value)) + 1
    bounds = [0, *edges.tolist(), value.size]
    return [(a, b) for a, b in pairwise(bounds) if a < b and value[a] >= 0]


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
