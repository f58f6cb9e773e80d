"""Reads recorded single notes by name, and mends what was mistaken on their way to us."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import soxr

RATE_HZ = 44_100
_TAKEN_FOR_HZ = 48_000
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
# Files of the npm packages that sound an octave above their name: their lowest partial is
# at 262 and 466 Hz.
_OCTAVE_ABOVE = ("trumpet/C3", "trumpet/As3")


def named_notes(folder: Path) -> list[tuple[Path, str, int]]:
    """Path, instrument and sounding MIDI pitch of files like ``flute/A4.mp3``."""
    notes = []
    for path in sorted(folder.glob("*/*.mp3")):
        found = re.fullmatch(r"([A-G])(s?)(-?\d)", path.stem)
        if found:
            pitch = _STEPS[found[1]] + len(found[2]) + 12 * (int(found[3]) + 1)
            pitch += 12 * (f"{path.parent.name}/{path.stem}" in _OCTAVE_ABOVE)
            notes.append((path, path.parent.name, pitch))
    return notes


def partials_at(sound: np.ndarray, pitch: float) -> float:
    """Weighted amplitude at the partials of a MIDI pitch, within a third of a semitone."""
    size = 1 << 17
    spectrum = np.abs(np.fft.rfft(sound[:size], size))
    hz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    total = 0.0
    for n in range(1, 13):
        f = 440 * 2 ** ((pitch - 69) / 12) * n
        near = (hz > f * 2 ** (-1 / 36)) & (hz < f * 2 ** (1 / 36))
        total += float(spectrum[near].max(initial=0.0)) * 0.84 ** (n - 1)
    return total


def at_true_rate(sound: np.ndarray, pitch: int) -> np.ndarray:
    """Undo a mistaken rate: 44.1 kHz sound converted as if it were 48 kHz.

    Such a note is 1.47 semitones higher than its index says; it is told by its partials
    standing there twice as strong as where they should.
    """
    high = 12 * np.log2(_TAKEN_FOR_HZ / RATE_HZ)
    if partials_at(sound, pitch + high) > 2 * partials_at(sound, pitch):
        return soxr.resample(sound, RATE_HZ, _TAKEN_FOR_HZ)
    return sound
