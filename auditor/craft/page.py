"""The page as the craft checks read it: once through, part by part, with a clock.

Repeats are read once, on their first pass, and laid end to end, so that a passage left out
on the second pass is not mistaken for a rest. Onsets here are quarters on that axis; bars
keep the index they have on the played one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from auditor.craft.limits import CraftLimits
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.score.notes import Bar, Direction, Instrument, Note, Part, Score

# Notes of one chord may begin a rounded tuplet apart (exporters round to 1/480).
_TOGETHER = 0.01
# What overlaps by less is two notes one after the other, their lengths rounded.
_STILL_SOUNDING = 0.06


@dataclass(frozen=True, slots=True)
class Chord:
    """What one part begins together, or has sounding at once: lowest first.

    Parameters
    ----------
    notes
        One or more.
    onset
        Quarters on the page's axis at which they are together.
    bar
        Index of the bar of that place.
    """

    notes: tuple[Note, ...]
    onset: float
    bar: int

    @property
    def end(self) -> float:
        """Quarters where its longest note ends."""
        return max(n.onset + n.duration for n in self.notes)

    @property
    def pitches(self) -> tuple[int, ...]:
        """Different sounding pitches, lowest first."""
        return tuple(sorted({n.pitch for n in self.notes}))

    @property
    def ids(self) -> tuple[str, ...]:
        """Identifiers of its notes."""
        return tuple(n.id for n in self.notes)


@dataclass(frozen=True, slots=True)
class Rest:
    """A gap in a part: quarters where it begins and ends, bars it touches."""

    onset: float
    end: float


class Page:
    """A score read once through, with what the checks ask of it.

    Parameters
    ----------
    score
        The page as read.
    limits
        For the tempo assumed where the page gives none.
    """

    def __init__(self, score: Score, limits: CraftLimits) -> None:
        self.score = score
        self.limits = limits
        self.bars = _end_to_end(score.bars)
        self._bar = {bar.index: bar for bar in self.bars}
        self._starts = [bar.onset for bar in self.bars]
        self._clock = self._seconds_at_bars()
        shift = {b.index: self._bar[b.index].onset - b.onset for b in score.bars
                 if b.index in self._bar}  # fmt: skip
        self._notes: dict[int, list[Note]] = defaultdict(list)
        for note in score.notes:
            if note.bar in shift:
                self._notes[note.part].append(replace(note, onset=note.onset + shift[note.bar]))
        self._directions = tuple(
            replace(d, onset=d.onset + shift[d.bar], end=d.end + shift[d.bar])
            for d in score.directions
            if d.bar in shift
        )

    @property
    def parts(self) -> tuple[Part, ...]:
        """Parts in score order."""
        return self.score.parts

    def parts_of(self, *keys: str, family: str = "") -> tuple[Part, ...]:
        """Parts of these instruments (by key) or of a family."""
        return tuple(
            p for p in self.parts if p.instrument.key in keys or p.instrument.family == family
        )

    def instrument_of(self, note: Note) -> Instrument:
        """What plays a note: its line's instrument, which may differ from its part's."""
        return self.score.lines[note.line - 1].instrument

    def notes_of(self, part: int) -> tuple[Note, ...]:
        """Notes of a part in the order of the music, onsets on the page's axis."""
        return tuple(self._notes.get(part, ()))

    def directions_of(self, part: int) -> tuple[Direction, ...]:
        """Signs of a part and those for all."""
        return tuple(d for d in self._directions if d.part in (0, part))

    def bar(self, index: int) -> Bar:
        """The bar of an index, its onset on the page's axis."""
        return self._bar[index]

    def bar_at(self, quarters: float) -> Bar:
        """The bar that holds a place."""
        return self.bars[max(0, bisect_right(self._starts, quarters + 1e-6) - 1)]

    def tempo_at(self, quarters: float) -> float:
        """Quarters a minute at a place; the assumed tempo where the page gives none."""
        return self.bar_at(quarters).tempo or self.limits.assumed_tempo

    def tempo_is_assumed(self, quarters: float) -> bool:
        """Whether the page gives no tempo at a place."""
        return self.bar_at(quarters).tempo is None

    def seconds_at(self, quarters: float) -> float:
        """Seconds from the start at the written tempo, fermatas and freedom left aside."""
        place = max(0, bisect_right(self._starts, quarters) - 1)
        bar = self.bars[place]
        return self._clock[place] + (quarters - bar.onset) * 60.0 / (
            bar.tempo or self.limits.assumed_tempo
        )

    def seconds_between(self, start: float, end: float) -> float:
        """Seconds from one place in quarters to another."""
        return self.seconds_at(end) - self.seconds_at(start)

    def said_tempo(self, quarters: float) -> str:
        """Words for a sentence that rests on seconds: empty when the page gives the tempo."""
        if not self.tempo_is_assumed(quarters):
            return ""
        return f" (at an assumed {self.limits.assumed_tempo:g} quarters a minute)"

    def chords(self, part: int, *, by_voice: bool = False) -> tuple[Chord, ...]:
        """Notes of a part that begin together, grace notes apart and first.

        With `by_voice` only notes of one voice and one length make a chord: stems apart
        belong to different players or hands.
        """
        return tuple(together(self.notes_of(part), by_voice=by_voice))

    def sounding(self, part: int, *, by_voice: bool = False) -> tuple[Chord, ...]:
        """At every onset of a part, all its notes that sound then, held ones included.

        Grace notes are left out. With `by_voice` each voice is taken for itself.
        """
        voices: dict[str, list[Note]] = defaultdict(list)
        for note in self.notes_of(part):
            if not note.grace:
                voices[note.voice if by_voice else ""].append(note)
        found = [chord for notes in voices.values() for chord in _held_together(notes)]
        return tuple(sorted(found, key=lambda chord: chord.onset))

    def rests(self, part: int) -> tuple[Rest, ...]:
        """Gaps between the notes of a part, the silence before and after it included."""
        gaps, reached = [], 0.0
        for note in self.notes_of(part):
            if note.onset > reached + _TOGETHER:
                gaps.append(Rest(reached, note.onset))
            reached = max(reached, note.onset + note.duration)
        total = self.bars[-1].onset + self.bars[-1].duration if self.bars else 0.0
        if total > reached + _TOGETHER:
            gaps.append(Rest(reached, total))
        return tuple(gaps)

    def runs(self, part: int, *, longest_rest: float) -> tuple[tuple[Note, ...], ...]:
        """Notes of a part between rests longer than `longest_rest` quarters."""
        found: list[list[Note]] = []
        reached = float("-inf")
        for note in self.notes_of(part):
            if not found or note.onset > reached + longest_rest + _TOGETHER:
                found.append([])
            found[-1].append(note)
            reached = max(reached, note.onset + note.duration)
        return tuple(tuple(run) for run in found)

    def _seconds_at_bars(self) -> list[float]:
        clock, at = [], 0.0
        for bar in self.bars:
            clock.append(at)
            at += bar.duration * 60.0 / (bar.tempo or self.limits.assumed_tempo)
        return clock


def together(notes: Sequence[Note], *, by_voice: bool = False) -> Iterator[Chord]:
    """Chords of notes given in the order of the music."""
    held: list[Note] = []
    for note in notes:
        if held and note.onset > held[0].onset + _TOGETHER:
            yield from _chords_in(held, by_voice)
            held = []
        held.append(note)
    if held:
        yield from _chords_in(held, by_voice)


def chord_of(notes: Sequence[Note], at: Chord | None = None) -> Chord:
    """A chord of some notes, placed where the first of them begins or at another chord."""
    first = notes[0]
    place = (at.onset, at.bar) if at else (first.onset, first.bar)
    return Chord(tuple(sorted(notes, key=lambda n: n.pitch)), *place)


def about(
    chord: Chord,
    kind: str,
    weight: str,
    sentence: str,
    why: str,
    remedy: str,
    source: str = COMMON_PRACTICE,
) -> Remark:
    """A remark on the notes of a chord, in the bars they begin in and the chord's own."""
    bars = [*(n.bar for n in chord.notes if n.onset >= chord.onset), chord.bar]
    return Remark(
        kind, weight, chord.notes[0].part, min(bars), max(bars), chord.ids, sentence, why,
        remedy, source,
    )  # fmt: skip


def _held_together(notes: Sequence[Note]) -> Iterator[Chord]:
    """At every onset the notes that begin and those that still sound, lowest first."""
    held: list[Note] = []
    for chord in together(notes):
        held = [n for n in held if n.onset + n.duration > chord.onset + _STILL_SOUNDING]
        held += chord.notes
        yield chord_of(held, at=chord)


def _chords_in(notes: Sequence[Note], by_voice: bool) -> Iterator[Chord]:
    groups: dict[tuple[bool, str, float], list[Note]] = defaultdict(list)
    for note in sorted(notes, key=lambda n: not n.grace):
        apart = (note.voice, round(note.duration, 2)) if by_voice else ("", 0.0)
        groups[(note.grace, *apart)].append(note)
    for group in groups.values():
        yield chord_of(group)


def _end_to_end(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """First passes, one after the other."""
    laid, at = [], 0.0
    for bar in bars:
        if bar.pass_number == 1:
            laid.append(replace(bar, onset=at))
            at += bar.duration
    return tuple(laid)
