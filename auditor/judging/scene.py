"""Everything judgement looks at, with the look-ups it needs again and again."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.timeline import Timeline
from auditor.hearing.measures import Heard, Limits, NoteWindows
from auditor.intent.roles import Doubling, Intent
from auditor.intent.signs import solos
from auditor.score.notes import Line, Score
from auditor.sound.spectrum import frame_times

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# States of a note that say nothing about how well it is heard.
UNKNOWN: tuple[str, ...] = ("undecided", "not judged")


@dataclass(frozen=True, slots=True)
class Scene:
    """A case as judgement sees it; built by `scene`."""

    score: Score
    timeline: Timeline
    windows: NoteWindows
    intent: Intent
    heard: Heard
    limits: Limits
    row: dict[int, int]
    places: dict[tuple[int, int], IntArray]
    group: dict[str, int]
    doubled: dict[int, list[Doubling]]
    quarters: FloatArray = field(repr=False)
    solo: NDArray[np.bool_] = field(repr=False)

    def line(self, number: int) -> Line:
        """Line with this number."""
        return self.score.lines[self.row[number]]

    def names(self, lines: tuple[int, ...]) -> list[str]:
        """Names of lines."""
        return [self.line(n).name for n in lines]

    def parts(self, lines: tuple[int, ...]) -> tuple[int, ...]:
        """Part numbers of lines, each once, in the order of the lines."""
        return tuple(dict.fromkeys(self.line(n).part for n in lines))

    def notes(self, lines: tuple[int, ...], first: int, last: int) -> IntArray:
        """Positions of these lines' notes that start in these bars."""
        found = [
            self.places[(self.row[n], bar)]
            for n in lines
            for bar in range(first, last + 1)
            if (self.row[n], bar) in self.places
        ]
        return np.concatenate(found) if found else np.zeros(0, np.int64)

    def marked_solo(self, lines: tuple[int, ...], first: int, last: int) -> bool:
        """Whether one of these lines is marked solo, and alone of its kind, in these bars."""
        return bool(self.solo[[self.row[n] for n in lines], first : last + 1].any())

    def sounding(self, first: int, last: int) -> list[int]:
        """Numbers of the lines that have notes in these bars."""
        return [
            line.number
            for i, line in enumerate(self.score.lines)
            if any((i, bar) in self.places for bar in range(first, last + 1))
        ]

    def foremost(self, first: int, last: int, most: int = 3) -> tuple[int, ...]:
        """Numbers of the lines most relied upon in these bars, in score order."""
        there = self.sounding(first, last)
        worth = {n: float(self.intent.reliance[self.row[n], first : last + 1].mean())
                 for n in there}  # fmt: skip
        kept = sorted(there, key=lambda n: -worth[n])[:most]
        return tuple(n for n in there if n in kept)

    def reliance(self, lines: tuple[int, ...], bar: int) -> float:
        """How much the score relies on the lines there: the most of any of them."""
        return float(max(self.intent.reliance[self.row[n], bar] for n in lines))

    def dynamics(self, number: int, first: int, last: int) -> list[float]:
        """Dynamic steps of a line's notes in these bars."""
        return [self.score.notes[int(n)].dynamic for n in self.notes((number,), first, last)]

    def players(
        self, lines: tuple[int, ...], first: int, last: int
    ) -> list[tuple[str, list[float]]]:
        """Name and dynamic steps of each line, as `change_of_marks` wants them."""
        return [(self.line(n).name, self.dynamics(n, first, last)) for n in lines]

    def bar_sone(self) -> FloatArray:
        """Mean loudness of the whole in each bar, sone; NaN where nothing was heard."""
        times = frame_times(self.heard.mix_sone.size)
        out = np.full(len(self.score.bars), np.nan)
        for bar in self.timeline.bars:
            here = (times >= bar.start_s) & (times < bar.end_s)
            if here.any():
                out[bar.bar] = float(self.heard.mix_sone[here].mean())
        return out

    def seconds(self, first: int, last: int, notes: IntArray) -> tuple[float, float]:
        """When the notes sound; the bars' own times where no note was placed."""
        on, off = self.windows.onset_s[notes], self.windows.offset_s[notes]
        if np.isfinite(on).any() and np.isfinite(off).any():
            return float(np.nanmin(on)), float(np.nanmax(off))
        bars = self.score.bars
        ends = [bars[first].onset, bars[last].onset + bars[last].duration]
        start, end = self.timeline.seconds(ends)
        return float(start), float(end)

    def length(self, first: int, last: int) -> float:
        """Quarters from the first bar to the end of the last."""
        bars = self.score.bars
        return bars[last].onset + bars[last].duration - bars[first].onset


def scene(
    score: Score,
    timeline: Timeline,
    windows: NoteWindows,
    intent: Intent,
    heard: Heard,
    limits: Limits,
) -> Scene:
    """Gather a case for judgement."""
    row = {line.number: i for i, line in enumerate(score.lines)}
    held: dict[tuple[int, int], list[int]] = {}
    for position, note in enumerate(score.notes):
        held.setdefault((row[note.line], note.bar), []).append(position)
    doubled: dict[int, list[Doubling]] = {}
    for d in intent.doublings:
        for bar in range(d.first_bar, d.last_bar + 1):
            doubled.setdefault(bar, []).append(d)
    return Scene(
        score, timeline, windows, intent, heard, limits, row,
        {place: np.asarray(notes, np.int64) for place, notes in held.items()},
        {s.id: i for i, s in enumerate(intent.strands) if i < len(heard.groups)},
        doubled,
        np.array([max(n.duration, 0.125) for n in score.notes]),
        solos(score),
    )  # fmt: skip


def middle(values: FloatArray, weight: FloatArray) -> float:
    """Weighted median; NaN if there is nothing."""
    good = np.isfinite(values)
    if not good.any():
        return float("nan")
    order = np.argsort(values[good])
    v, w = values[good][order], weight[good][order]
    return float(v[np.searchsorted(np.cumsum(w), 0.5 * w.sum())])
