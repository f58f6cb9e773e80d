"""Reads the demo's short notation into events, for the printed score and for the sound."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from demo_music import BARS, BEATS

LENGTH = {"w": 4.0, "h": 2.0, "q": 1.0, "e": 0.5, "s": 0.25}
DYNAMIC = {"pp": 0, "p": 1, "mp": 2, "mf": 3, "f": 4, "ff": 5}
STEP = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
NOTE = re.compile(r"^(r|[A-G][A-Gb#0-9+]*)([whqes])(\.?)([('>*~)]*)$")


@dataclass(slots=True)
class Event:
    """One note, chord or rest as written.

    Parameters
    ----------
    bar, beat
        Bar number from 1, and quarters from its start.
    length
        Quarters.
    names
        Concert pitches such as ``Bb3``; empty for a rest.
    marks
        Signs after the note.
    words
        Directions printed before it.
    dynamic
        Level in steps (pp 0 … ff 5), hairpins worked in.
    pizz
        Plucked with the finger.
    """

    bar: int
    beat: float
    length: float
    names: tuple[str, ...]
    marks: str
    words: list[str] = field(default_factory=list)
    dynamic: float = 3.0
    pizz: bool = False

    @property
    def onset(self) -> float:
        """Quarters from the beginning."""
        return (self.bar - 1) * BEATS + self.beat


def midi(name: str) -> int:
    """MIDI number of ``Bb3``; 60 is C4."""
    return STEP[name[0]] + name.count("#") - name[1:].count("b") + 12 * (int(name[-1]) + 1)


def _bar(text: str, number: int) -> list[Event]:
    events: list[Event] = []
    beat, words = 0.0, []
    for token in re.findall(r"\{[^}]*\}|[^\s{}]+", text):
        if token.startswith("{"):
            words.append(token[1:-1].replace("_", " "))
            continue
        found = NOTE.match(token)
        if found is None:
            raise ValueError(f"bar {number}: cannot read {token!r}")
        pitch, letter, dot, marks = found.groups()
        length = LENGTH[letter] * (1.5 if dot else 1.0)
        names = () if pitch == "r" else tuple(pitch.split("+"))
        events.append(Event(number, beat, length, names, marks, words))
        beat, words = beat + length, []
    if abs(beat - BEATS) > 1e-9:
        raise ValueError(f"bar {number}: {beat} quarters in {text!r}")
    return events


def _levels(events: list[Event]) -> None:
    """Write dynamic levels and the way of playing into the events, in place."""
    level, pizz, rising = 3.0, False, None
    for i, event in enumerate(events):
        for word in event.words:
            if word in DYNAMIC:
                target = float(DYNAMIC[word])
                if rising is not None:
                    _ramp(events[rising:i], level, target)
                level, rising = target, None
            elif word == "<":
                rising = i
            pizz = (pizz or word == "pizz.") and not word.startswith("arco")
        event.dynamic, event.pizz = level, pizz


def _ramp(events: list[Event], start: float, end: float) -> None:
    for k, event in enumerate(events):
        event.dynamic = start + (end - start) * (k + 0.5) / len(events)


def read(stave: dict[int, str]) -> list[list[Event]]:
    """Return the events of each bar, bars 1 to the last; bars not given are rests."""
    bars: list[list[Event]] = [[Event(n, 0.0, BEATS, (), "")] for n in range(1, BARS + 1)]
    for first, text in stave.items():
        for k, bar in enumerate(text.split("|")):
            bars[first - 1 + k] = _bar(bar, first + k)
    _levels([event for bar in bars for event in bar])
    return bars
