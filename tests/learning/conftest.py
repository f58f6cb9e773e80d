"""Kits of few notes, and renders of them by additive tones: nothing but numpy plays."""

import numpy as np
import pytest
import soundfile

from auditor.learning.kit import kit_for_score
from auditor.learning.listing import renders_of, write_kit
from auditor.score.instruments import recognise
from auditor.score.notes import Bar, Line, Note, Part, Score

RATE = 44_100
LOUD = {1: 0.05, 3: 0.12, 5: 0.3}


def score_of(*voices):
    """A page with one long note for each pitch; voices are (name, pitches, techniques)."""
    parts, lines, notes = [], [], []
    for k, (name, pitches, techniques) in enumerate(voices, 1):
        instrument, players = recognise(name)
        parts.append(Part(k, f"P{k}", name, instrument, players))
        lines.append(Line(k, k, name, instrument, players))
        for q, pitch in enumerate(pitches):
            notes.append(
                Note(
                    id=f"n{k}.{q}", element=f"n{k}.{q}", part=k, line=k, bar=0, beat=float(q),
                    onset=float(q), duration=1.0, pitch=pitch, written_pitch=pitch,
                    dynamic=3.0, dynamic_written=True, techniques=techniques,
                    players=players, unpitched=not instrument.pitched,
                )
            )  # fmt: skip
    bar = Bar(0, "1", 0, 1, 0.0, 16.0)
    return Score("", tuple(parts), tuple(lines), (bar,), tuple(notes), 1)


def tone(pitch, seconds, dynamic, way):
    """Eight partials, 6 dB an octave; the louder the more of them; plucked ones die away."""
    t = np.arange(round(seconds * RATE)) / RATE
    hz = 440.0 * 2 ** ((pitch - 69) / 12)
    slope = -12 + dynamic
    out = sum(
        10 ** (slope * np.log2(n) / 20) * np.sin(2 * np.pi * n * hz * t + n * n)
        for n in range(1, 9)
        if n * hz < 15_000
    )
    shape = np.minimum(1.0, t / 0.02)
    if way in ("held", "short"):
        shape *= np.minimum(1.0, (seconds - t) / 0.05)
    else:
        shape *= np.exp(-4 * t)
    return LOUD[dynamic] * out * shape / np.sqrt((out**2).mean()) * 0.7


def played(render, change=None):
    """Sound of a render; `change(note, tone)` gives another tone, or None for silence."""
    out = np.zeros(round((render.notes[-1].end_s + 2.0) * RATE))
    for note in render.notes:
        pitch = note.pitch or 50
        sound = tone(pitch, note.end_s - note.start_s, note.dynamic, note.way)
        if change is not None:
            sound = change(note, sound)
        if sound is not None:
            first = round(note.start_s * RATE)
            out[first : first + sound.size] += sound[: out.size - first]
    return out.astype(np.float32)


@pytest.fixture(scope="session")
def make_score():
    return score_of


@pytest.fixture(scope="session")
def play():
    return played


@pytest.fixture(scope="session")
def make_tone():
    return tone


@pytest.fixture
def kit(tmp_path):
    """Folder with the kit of one flute over a fifth, and what it asks for."""
    sheets = kit_for_score(score_of(("Flute", (67, 74), ())))
    write_kit(sheets, tmp_path / "kit")
    return tmp_path / "kit", renders_of(sheets)[0]


@pytest.fixture
def write():
    def save(path, sound, rate=RATE):
        soundfile.write(path, sound, rate, subtype="FLOAT")

    return save
