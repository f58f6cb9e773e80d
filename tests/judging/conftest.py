"""A made case: eight bars of melody over accompaniment, with figures set by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.alignment.timeline import BarTime, Stretch, Timeline
from auditor.hearing.measures import Evidence, Heard, Limits, Measures, NoteWindows
from auditor.intent.reliance import read_intent
from auditor.judging.judge import judge
from auditor.score.notes import Bar, Instrument, Line, Note, Part, Score
from auditor.sound.spectrum import HOP, RATE_HZ

BARS = 8
# Share of what is lost: bass, tenor, alto, treble, brilliance.
REGISTER = (0, 0, 0.2, 0.7, 0.1)
TUNE = (76, 77, 79, 84, 83, 81, 79, 77)
# name, key, family, kind, low, high, dynamic step
LINES = (
    ("Flute 1", "flute", "woodwind", "sustained", 60, 96, 3.0),
    ("Flute 2", "flute", "woodwind", "sustained", 60, 96, 3.0),
    ("Horn 1", "horn", "brass", "sustained", 34, 77, 4.0),
    ("Violin I", "violin", "strings", "sustained", 55, 100, 3.0),
    ("Viola", "viola", "strings", "sustained", 48, 88, 3.0),
    ("Violoncello", "cello", "strings", "sustained", 36, 81, 3.0),
    ("Cymbals", "cymbals", "percussion", "struck", 0, 0, 3.0),
)


def tune(bar: int, octave: int = 0) -> list[tuple[float, float, int]]:
    """Onset in the bar, length, pitch."""
    shift = 12 * octave
    a, b, c = (TUNE[(3 * bar + k) % len(TUNE)] + shift for k in range(3))
    return [(0.0, 1.5, a), (1.5, 0.5, b), (2.0, 2.0, c)]


def chord(bar: int, pitch: int) -> list[tuple[float, float, int]]:
    return [(float(k), 1.0, pitch + (bar % 2)) for k in range(4)]


def made_score(playing: dict[int, object], count=BARS, marks=None, tempo=None) -> Score:
    """Write a score of `LINES`; `playing` maps a line number to a function of the bar.

    `marks` gives the dynamic of a line in a bar, `tempo` quarters a minute of a bar.
    """
    parts, lines, notes = [], [], []
    for number, (name, key, family, kind, low, high, dynamic) in enumerate(LINES, start=1):
        drum = high == 0
        instrument = Instrument(key, key, family, kind, low, high, pitched=not drum)
        parts.append(Part(number, f"P{number}", name, instrument))
        lines.append(Line(number, number, name, instrument))
        for bar in range(count):
            loud = marks(number, bar) if marks else dynamic
            for at, length, pitch in playing[number](bar) if number in playing else ():
                name_ = f"n{number}-{bar}-{at}"
                notes.append(
                    Note(name_, name_, number, number, bar, at + 1, 4.0 * bar + at, length,
                         pitch, pitch, loud, True, unpitched=drum)
                )  # fmt: skip
    notes.sort(key=lambda n: (n.onset, n.line, n.pitch))
    bars = tuple(
        Bar(i, str(i + 1), i, 1, 4.0 * i, 4.0, tempo(i) if tempo else None)
        for i in range(count)
    )
    return Score("made", tuple(parts), tuple(lines), bars, tuple(notes), count)


def figures(
    ratio: np.ndarray,
    energy: np.ndarray,
    covered_by: np.ndarray,
    lines: int,
    register: tuple[float, ...] = REGISTER,
) -> Measures:
    n = ratio.size
    share = np.zeros((n, lines))
    share[np.arange(n), covered_by] = 1.0
    one = np.ones(n)
    return Measures(
        60 * one, 5 * one, 5 * energy, energy, ratio, 20 * np.log10(energy + 1e-3) + 20,
        1.0 * (ratio < 0.05), covered_by, share, np.tile(register, (n, 1)), one,
    )  # fmt: skip


def state_of(ratio: float) -> str:
    return "covered" if ratio < 0.05 else "faint" if ratio < 0.15 else "clear"


def heard_as(
    score: Score, intent, left, energy=None, coverer=3, state=None, register=None,
    level=None, sone=None, mix=None,
) -> Heard:  # fmt: skip
    """Figures from functions of (line, bar): what is left of a note, its state, level, sone.

    `mix` gives the loudness of the whole in a bar.
    """
    ratio = np.array([left(n.line, n.bar) for n in score.notes])
    loud = np.array([(energy or left)(n.line, n.bar) for n in score.notes])
    by = np.full(ratio.size, coverer - 1)
    lines = len(score.lines)
    names = tuple(
        (state(n.line, n.bar) if state else "") or state_of(r)
        for n, r in zip(score.notes, ratio, strict=True)
    )
    group = np.array([max(ratio[list(s.notes)]) for s in intent.strands])
    by_group = np.full(group.size, coverer - 1)
    line = np.array(
        [np.median([r for n, r in zip(score.notes, ratio, strict=True) if n.line == k] or [1])
         for k in range(1, lines + 1)]
    )  # fmt: skip
    notes = figures(ratio, loud, by, lines, register or REGISTER)
    if level:
        notes = replace(notes, level_db=np.array([level(n.line, n.bar) for n in score.notes]))
    if sone:
        notes = replace(
            notes, partial_sone=np.array([sone(n.line, n.bar) for n in score.notes])
        )
    # Bars last two seconds.
    times = np.arange(0, 2.0 * len(score.bars), HOP / RATE_HZ)
    whole = np.array([mix(int(t // 2)) if mix else 1.0 for t in times])
    return Heard(
        notes,
        figures(line, line, np.full(lines, coverer - 1), lines),
        figures(group, group, by_group, lines),
        names, tuple(map(state_of, line)), tuple(map(state_of, group)),
        np.full(ratio.size, 0.9), np.full(lines, 0.9), np.full(group.size, 0.9),
        np.zeros((lines, 4), np.float32), whole,
        Evidence(*np.zeros((5, ratio.size))),
    )  # fmt: skip


class Case:
    """What a test judges."""

    def __init__(self, playing, dying=(), **kw):
        """Take who plays what; notes of the lines in `dying` die away."""
        self.score = made_score(playing, **kw)
        self.intent = read_intent(self.score)
        half = 0.5  # seconds a quarter
        self.windows = NoteWindows(
            np.array([n.line - 1 for n in self.score.notes]),
            np.array([n.onset * half for n in self.score.notes]),
            np.array([(n.onset + n.duration) * half for n in self.score.notes]),
            np.array([n.pitch for n in self.score.notes]),
            np.array([n.line not in dying for n in self.score.notes]),
            tuple(line.instrument.key for line in self.score.lines),
        )
        ends = np.array([0.0, self.score.duration])
        self.timeline = Timeline(
            (Stretch(ends, ends * half),),
            tuple(BarTime(b, 2.0 * b, 2.0 * b + 2, 1.0) for b in range(len(self.score.bars))),
            tuple(range(len(self.score.bars))),
        )

    def heard(self, left, **kw):
        return heard_as(self.score, self.intent, left, **kw)

    def judged(self, left, **kw):
        heard = self.heard(left, **kw)
        return judge(self.score, self.timeline, self.windows, self.intent, heard, Limits())


ACCOMPANIMENT = {
    3: lambda bar: chord(bar, 72),
    5: lambda bar: chord(bar, 60),
    6: lambda bar: [(0.0, 4.0, 48 - bar % 3)],
}


@pytest.fixture
def flute_tune():
    """Flute 1 has the tune, Flute 2 and the violins rest."""
    return Case({1: tune, **ACCOMPANIMENT})


@pytest.fixture
def low_horn():
    """Flute 1 has the tune, the horn repeats a low note, violas and cellos are the bass."""
    return Case({
        1: tune,
        3: lambda bar: chord(bar, 53),
        4: lambda bar: chord(bar, 72),
        5: lambda bar: [(0.0, 4.0, 60 - bar % 3)],
        6: lambda bar: [(0.0, 4.0, 48 - bar % 3)],
    })  # fmt: skip


@pytest.fixture
def doubled_tune():
    """Give the violins the tune, Flute 1 doubles it an octave above."""
    return Case({1: lambda bar: tune(bar, 1), 4: tune, **ACCOMPANIMENT})


@pytest.fixture
def one_bar_doubled():
    """Give the violins the tune, Flute 1 doubles one bar of it."""
    one = {1: lambda bar: tune(bar, 1) if bar == 3 else []}
    return Case({**one, 4: tune, **ACCOMPANIMENT})


@pytest.fixture
def made():
    """Make a case from scratch: ``made(playing, count=..., marks=..., tempo=...)``."""
    return Case
