"""A score written in a few words: one string of notes a line."""

from __future__ import annotations

import re

import pytest

from auditor.score.notes import Bar, Instrument, Line, Note, Part, Score

STEP = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}
# key: family, kind, low, high (sounding MIDI; common practice, no source)
KINDS = {
    "flute": ("woodwind", "sustained", 60, 96),
    "oboe": ("woodwind", "sustained", 58, 91),
    "clarinet": ("woodwind", "sustained", 50, 94),
    "horn": ("brass", "sustained", 34, 77),
    "trumpet": ("brass", "sustained", 52, 84),
    "timpani": ("percussion", "struck", 40, 57),
    "violin": ("strings", "sustained", 55, 100),
    "viola": ("strings", "sustained", 48, 88),
    "cello": ("strings", "sustained", 36, 81),
    "double-bass": ("strings", "sustained", 28, 67),
}


def _pitch(word: str) -> int:
    name, sign, octave = re.fullmatch(r"([a-g])(#|-)?(\d)", word).groups()
    return 12 * (int(octave) + 1) + STEP[name] + {"#": 1, "-": -1, None: 0}[sign]


def _notes(number: int, text: str, dynamic: float, techniques: tuple[str, ...]) -> list[Note]:
    """Read ``c4:2 r:1 d4`` - note or rest, with quarters (1 if not said)."""
    out, at = [], 0.0
    for k, word in enumerate(text.split()):
        name, _, length = word.partition(":")
        quarters = float(length or 1)
        if name != "r":
            pitch = _pitch(name)
            out.append(
                Note(
                    f"n{number}-{k}", f"n{number}-{k}", number, number, int(at // 4),
                    at % 4 + 1, at, quarters, pitch, pitch, dynamic, True, techniques,
                )
            )  # fmt: skip
        at += quarters
    return out


def build(*lines: tuple, transpose: int = 0) -> Score:
    """Make a score in 4/4 of lines (name, instrument key, notes[, dynamic[, techniques]])."""
    parts, streams, notes = [], [], []
    for number, (name, key, text, *more) in enumerate(lines, start=1):
        family, kind, low, high = KINDS[key]
        instrument = Instrument(key, key, family, kind, low, high)
        parts.append(Part(number, f"P{number}", name, instrument))
        streams.append(Line(number, number, name, instrument))
        dynamic = more[0] if more else 3.0
        notes += _notes(number, text, dynamic, more[1] if len(more) > 1 else ())
    if transpose:
        notes = [
            Note(
                n.id, n.element, n.part, n.line, n.bar, n.beat, n.onset, n.duration,
                n.pitch + transpose, n.written_pitch + transpose, n.dynamic, True, n.techniques,
            )
            for n in notes
        ]  # fmt: skip
    count = max(n.bar for n in notes) + 1
    bars = tuple(Bar(i, str(i + 1), i, 1, 4.0 * i, 4.0) for i in range(count))
    notes.sort(key=lambda n: (n.onset, n.line, n.pitch))
    return Score("made", tuple(parts), tuple(streams), bars, tuple(notes), count)


@pytest.fixture
def make():
    return build
