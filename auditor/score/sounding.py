"""From noteheads to sounding notes: pitch, ties, level, players, on the played axis."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from functools import partial

from auditor.score import players, seating, sharing, techniques
from auditor.score.apart import Levels
from auditor.score.casting import Role
from auditor.score.grid import Grid
from auditor.score.noteheads import Notehead
from auditor.score.notes import Bar, Note
from auditor.score.sheet import Sheet

_TINY = 1e-3
# Exporters round tuplets and leave bars a little short or long, so the two ends of a tie
# may miss each other; half a quarter bridges all that was met.
_TIE_GAP = 0.51
_ALONE = seating.Seat()


class Voiced:
    """One part's signs, ready to be asked what holds for a notehead."""

    def __init__(self, role: Role, one: Sheet, grid: Grid) -> None:
        self.role, self.grid = role, grid
        self.part = part = role.part
        marks = sorted(one.marks, key=lambda mark: (mark.bar, mark.at))
        alone = part.instrument.family in ("keyboard", "plucked")
        self.levels = Levels(marks, grid, one.staves, one_player=alone)
        self.marks = marks
        self.playing = techniques.playing(marks, grid)
        strings = part.instrument.family == "strings"
        if role.both:
            self.roster = sharing.roster(part, role.both)
            own = partial(sharing.called, both=role.both)
            self.called = players.calls(marks, grid, strings=False, own=own)
        else:
            self.roster = seating.roster(part, one.name)
            self.called = players.calls(marks, grid, strings=strings and self.roster.strings)
        self.seats = seating.seats(one.heads, one.seats.rests) if one.staves < 2 else {}

    def sounding(self, head: Notehead) -> int:
        """Sounding MIDI number of a notehead."""
        return head.pitch + self.role.shift.get(head.element, 0) + head.lift

    def play(self, heads: Sequence[Notehead], bars: Sequence[Bar]) -> list[Note]:
        """Noteheads on the played axis, tied ones merged."""
        by_bar: dict[int, list[Notehead]] = {}
        for head in heads:
            by_bar.setdefault(head.bar, []).append(head)
        self.playing = techniques.playing(self.marks, self.grid, by_bar)
        if self.role.both:
            return [n for one in self.role.both for n in self._played(by_bar, bars, one)]
        return self._played(by_bar, bars, None)

    def _played(
        self,
        by_bar: Mapping[int, Sequence[Notehead]],
        bars: Sequence[Bar],
        sharer: sharing.Sharer | None,
    ) -> list[Note]:
        """Notes of all who play the part, or of one of the two that share it."""
        notes: list[Note] = []
        ties = _Ties()
        for bar in bars:
            for head in by_bar.get(bar.written_index, ()):
                if sharer is not None and not self._plays(head, sharer):
                    continue
                onset = bar.onset + head.at
                if not (head.tied_back and ties.extend(notes, head, onset)):
                    note = self._note(head, bar, onset)
                    notes.append(note if sharer is None else _of(note, sharer))
                    if head.tied_on and not head.grace:
                        ties.open(head, len(notes) - 1, onset + head.duration)
        return notes

    def _plays(self, head: Notehead, sharer: sharing.Sharer) -> bool:
        place = self.grid.onsets[head.bar] + head.at
        _, chairs = self._players(head, place, self.playing.at(place, head.voice))
        return not chairs or sharer.chair in chairs

    def _note(self, head: Notehead, bar: Bar, onset: float) -> Note:
        place = self.grid.onsets[head.bar] + head.at
        state = self.playing.at(place, head.voice)
        instrument = self.part.instrument
        unpitched = head.unpitched or not instrument.pitched
        playing, chairs = self._players(head, place, state)
        loudness = self.levels.at(head)
        suffix = "" if bar.pass_number == 1 else f".{bar.pass_number}"
        return Note(
            id=head.element + suffix,
            element=head.element,
            part=self.part.number,
            line=self.role.line_of.get(head.element, self.role.lines[0].number),
            bar=bar.index,
            beat=head.at + 1.0,
            onset=onset,
            duration=head.duration,
            pitch=0 if unpitched else self.sounding(head),
            written_pitch=head.pitch,
            dynamic=round(loudness.struck(place, head.stress), 4),
            dynamic_written=place >= loudness.first - _TINY,
            techniques=techniques.words_of(head, state),
            players=playing,
            grace=head.grace,
            unpitched=unpitched,
            voice=head.voice,
            chairs=chairs,
            spelling="" if unpitched else head.spelling,
        )

    def _players(
        self, head: Notehead, place: float, state: frozenset[str]
    ) -> tuple[float, tuple[int, ...]]:
        called, since = self.called.at(place)
        # A solo ends where the ways of playing end it: after a long rest too.
        if called.solo and "solo" not in state:
            called = dataclasses.replace(called, count=0, chairs=())
        seat = self.seats.get(head.element, _ALONE)
        share = self.role.share.get(head.bar, 1.0)
        roster = self.roster
        if share < 1.0:
            roster = dataclasses.replace(roster, players=roster.players * share)
        fresh = since >= self.grid.onsets[head.bar] - _TINY
        return seating.players_of(roster, self.part, called, seat, head.beside, fresh=fresh)


def _of(note: Note, sharer: sharing.Sharer) -> Note:
    """A note of a shared staff as one of the two plays it."""
    lower = sharer.chair > 1
    body, _, turn = note.id.partition(".")
    alone = "solo" in note.techniques and note.chairs == (sharer.chair,)
    return dataclasses.replace(
        note,
        id=".".join(filter(None, (f"{body}b" if lower else body, turn))),
        line=sharer.line,
        pitch=note.pitch + sharer.lift,
        players=1.0 if alone else sharer.players,
        chairs=(sharer.chair,),
    )


class _Ties:
    """Ties that wait for their other end, by pitch as printed."""

    def __init__(self) -> None:
        self.waiting: dict[int, list[tuple[str, int, float]]] = {}

    def open(self, head: Notehead, note: int, end: float) -> None:
        """Let a note wait for what is tied to it, until `end` on the played axis."""
        self.waiting.setdefault(head.pitch, []).append((head.voice, note, end))

    def extend(self, notes: list[Note], head: Notehead, onset: float) -> bool:
        """Lengthen the waiting note that ends where `head` begins; False if none does."""
        waiting = self.waiting.get(head.pitch, [])
        fits = [entry for entry in waiting if abs(entry[2] - onset) < _TIE_GAP]
        if not fits:
            return False
        chosen = min(fits, key=lambda e: (e[0] != head.voice, abs(e[2] - onset)))
        waiting.remove(chosen)
        voice, index, _ = chosen
        end = onset + head.duration
        old = notes[index]
        notes[index] = dataclasses.replace(old, duration=max(old.duration, end - old.onset))
        if head.tied_on:
            waiting.append((voice, index, end))
        return True
