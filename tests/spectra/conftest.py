"""Additive tones with known powers, and the note lists that go with them."""

from types import SimpleNamespace

import numpy as np
import pytest

from auditor.sound.spectrum import RATE_HZ
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.palette import LineTimbre
from auditor.timbre.dynamics import power_level_db

FAMILY = {"flute": "woodwind", "oboe": "woodwind", "bassoon": "woodwind", "horn": "brass",
          "violin": "strings", "cello": "strings", "trumpet": "brass"}  # fmt: skip


def tone(pitch, seconds, slope_db=-6.0, partials=12):
    """Harmonic tone of mean square 1 while it lasts, `slope_db` an octave."""
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    hz = 440.0 * 2 ** ((pitch - 69) / 12)
    out = np.zeros(t.size)
    for n in range(1, partials + 1):
        if n * hz < 14_000:
            gain = 10 ** (slope_db * np.log2(n) / 20)
            out += gain * np.sin(2 * np.pi * n * hz * t + n * n)
    out *= np.minimum(1.0, np.minimum(t / 0.015, (seconds - t) / 0.04))
    return out / np.sqrt((out**2).mean())


def piece(lines, quarter_s=0.5, start_s=0.25):
    """`lines` is {key: [pitch or 0 ...]}, one note a quarter; stems and notes."""
    length = max(len(p) for p in lines.values())
    size = round((start_s + length * quarter_s + 0.75) * RATE_HZ)
    stems, rows = [], []
    for k, pitches in enumerate(lines.values()):
        stem = np.zeros(size)
        for q, pitch in enumerate(pitches):
            at = start_s + q * quarter_s
            if pitch:
                one = tone(pitch, quarter_s * 0.95)
                first = round(at * RATE_HZ)
                stem[first : first + one.size] += one
                rows.append((at, k, pitch, at + quarter_s * 0.95))
        stems.append(stem * 0.05)
    rows.sort()
    keys = list(lines)
    level = [float(power_level_db(keys[k], FAMILY[keys[k]], 3.0)) for _, k, _, _ in rows]
    notes = PlayedNotes(
        line=np.array([r[1] for r in rows]),
        onset_s=np.array([r[0] for r in rows]),
        offset_s=np.array([r[3] for r in rows]),
        pitch=np.array([r[2] for r in rows]),
        dynamic=np.full(len(rows), 3.0),
        sustained=np.ones(len(rows), dtype=bool),
        timbre=np.array([r[1] for r in rows]),
        timbres=tuple(keys),
        level_db=np.array(level),
    )
    timbres = tuple(LineTimbre(k, FAMILY[k], "sustained", True) for k in keys)
    return SimpleNamespace(stems=np.array(stems, np.float32), notes=notes, timbres=timbres)


@pytest.fixture(scope="session")
def make_piece():
    return piece


@pytest.fixture(scope="session")
def three():
    """Three lines two octaves apart, twelve notes each, no partial shared for long."""
    return piece(
        {
            "flute": [86, 88, 90, 86, 85, 83, 86, 90, 88, 85, 81, 83],
            "horn": [60, 62, 57, 59, 64, 62, 60, 55, 57, 61, 63, 59],
            "cello": [38, 41, 43, 36, 45, 40, 38, 42, 44, 37, 39, 41],
        }
    )
