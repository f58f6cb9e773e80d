"""Reading a score: from a MusicXML file to the notes, lines and bars of a `Score`."""

from __future__ import annotations

import dataclasses
import gc
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

from auditor.errors import ScoreError
from auditor.score import grid as grids
from auditor.score import instruments, lines, markings, noteheads, repeats, sheet, techniques
from auditor.score.notes import Bar, Instrument, Note, Part, Score
from auditor.score.opening import open_xml

_TINY = 1e-3


@dataclass(frozen=True, slots=True)
class Page:
    """A score as read, and the music library's form of it for engraving.

    Parameters
    ----------
    score
        What the rest of the program works on.
    stream
        The library's score at written pitch, identifiers stamped on every note.
    staves
        The library's parts of each part, by number less one.
    """

    score: Score
    stream: Any = field(repr=False, compare=False)
    staves: tuple[tuple[Any, ...], ...] = field(repr=False, compare=False)


def read_score(path: Path) -> Score:
    """Read a MusicXML score, plain or compressed.

    Raises
    ------
    ScoreError
        If the file cannot be used or holds no notes; one sentence says why.
    """
    return open_score(path).score


def open_score(path: Path) -> Page:
    """Read a score and keep the parsed page for engraving.

    Raises
    ------
    ScoreError
        As `read_score`.
    """
    # A score is one big web of references; looking for garbage in it costs a third.
    collecting = gc.isenabled()
    gc.disable()
    try:
        return _page(Path(path))
    finally:
        if collecting:
            gc.enable()


def _page(path: Path) -> Page:
    root = open_xml(path)
    sheets = sheet.scan(root)
    if not sheets:
        raise ScoreError(f"{path} has no part that is both listed and written out")
    if not any(True for _ in root.iter("note")):
        raise ScoreError(f"{path} has no notes in it; nothing can be listened for")
    try:
        parsed, found = noteheads.parse(root)
    except ScoreError as exc:
        raise ScoreError(f"{path}: {exc}") from exc
    staves = tuple(noteheads.staves_of(one.id, found) for one in sheets)
    heads = [noteheads.stamp(n, own) for n, own in enumerate(staves, start=1)]
    if not any(heads):
        raise ScoreError(f"{path} has only rests; nothing can be listened for")
    return Page(_assembled(_title(root), sheets, heads), parsed, staves)


def _title(root: Element) -> str:
    for tag in ("work/work-title", "movement-title"):
        text = " ".join((root.findtext(tag) or "").split())
        if text:
            return text
    return ""


def _assembled(
    title: str, sheets: Sequence[sheet.Sheet], heads: Sequence[Sequence[noteheads.Notehead]]
) -> Score:
    grid = grids.lay_out(sheets)
    route = repeats.route(repeats.signs(sheets, len(grid.lengths)))
    bars = _bars(grid, route)
    parts, remarks = [], [*grid.remarks, *route.remarks]
    notes: list[Note] = []
    for number, (one, own) in enumerate(zip(sheets, heads, strict=True), start=1):
        part = _part(number, one)
        voiced = _Voiced(part, one, grid)
        parts.append(part)
        notes.extend(voiced.play(own, bars))
        remarks.extend(_part_remarks(part, one, own, voiced))
    ordered = sorted(notes, key=lambda note: (note.onset, note.line, note.pitch, note.id))
    return Score(
        title=title,
        parts=tuple(parts),
        lines=lines.draw_lines(parts),
        bars=bars,
        notes=tuple(ordered),
        written_bars=len(grid.lengths),
        remarks=tuple(remarks),
    )


def _bars(grid: grids.Grid, route: repeats.Route) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    onset = 0.0
    for index, (written, turn) in enumerate(zip(route.bars, route.passes, strict=True)):
        bars.append(
            Bar(
                index=index,
                number=grid.numbers[written],
                written_index=written,
                pass_number=turn,
                onset=onset,
                duration=grid.lengths[written],
                tempo=grid.tempos[written],
            )
        )
        onset += grid.lengths[written]
    return tuple(bars)


def _part(number: int, one: sheet.Sheet) -> Part:
    instrument, players = instruments.recognise(
        one.name,
        abbreviation=one.abbreviation,
        instrument_name=one.instrument_name,
        sound=one.sound,
        program=one.program,
    )
    shifts = [int(mark.text) for mark in one.marks if mark.kind == "transpose"]
    return Part(
        number=number,
        id=one.id,
        name=one.name or one.instrument_name or instrument.name,
        instrument=instruments.as_written(instrument, shifts[0] if shifts else 0),
        players=players,
    )


class _Voiced:
    """One part's signs, ready to be asked what holds for a notehead."""

    def __init__(self, part: Part, one: sheet.Sheet, grid: grids.Grid) -> None:
        self.part, self.grid = part, grid
        marks = sorted(one.marks, key=lambda mark: (mark.bar, mark.at))
        self.loudness = markings.loudness(marks, grid)
        self.playing = techniques.playing(marks, grid)
        shifts = [
            (grid.onsets[m.bar] + m.at, int(m.text)) for m in marks if m.kind == "transpose"
        ]
        self.shift_places = [place for place, _ in shifts]
        self.shifts = [shift for _, shift in shifts]

    def sounding(self, place: float, written: int) -> int:
        """Sounding MIDI number of a written one at a place of the page."""
        right = bisect_right(self.shift_places, place + _TINY)
        # A transposition written late in the first bar still holds for its first notes.
        shift = self.shifts[max(0, right - 1)] if self.shifts else 0
        return written + shift

    def play(self, heads: Sequence[noteheads.Notehead], bars: Sequence[Bar]) -> list[Note]:
        """Noteheads on the played axis, tied ones merged."""
        by_bar: dict[int, list[noteheads.Notehead]] = {}
        for head in heads:
            by_bar.setdefault(head.bar, []).append(head)
        notes: list[Note] = []
        ties = _Ties()
        for bar in bars:
            for head in by_bar.get(bar.written_index, ()):
                onset = bar.onset + head.at
                if not (head.tied_back and ties.extend(notes, head, onset)):
                    notes.append(self._note(head, bar, onset))
                    if head.tied_on and not head.grace:
                        ties.open(head, len(notes) - 1, onset + head.duration)
        return notes

    def _note(self, head: noteheads.Notehead, bar: Bar, onset: float) -> Note:
        place = self.grid.onsets[head.bar] + head.at
        state = self.playing.at(place)
        level = self.loudness.at(place)
        stress = max(head.stress, self.loudness.stress(place))
        instrument: Instrument = self.part.instrument
        unpitched = head.unpitched or not instrument.pitched
        words = set(head.techniques) | (state - {"a2", "first", "half"})
        suffix = "" if bar.pass_number == 1 else f".{bar.pass_number}"
        return Note(
            id=head.element + suffix,
            element=head.element,
            part=self.part.number,
            line=self.part.number,
            bar=bar.index,
            beat=head.at + 1.0,
            onset=onset,
            duration=head.duration,
            pitch=0 if unpitched else self.sounding(place, head.pitch),
            written_pitch=head.pitch,
            dynamic=round(min(8.0, max(-3.0, level + stress)), 4),
            dynamic_written=place >= self.loudness.first - _TINY,
            techniques=tuple(sorted(words)),
            players=_players(self.part, state, head),
            grace=head.grace,
            unpitched=unpitched,
            voice=head.voice,
        )


def _players(part: Part, state: frozenset[str], head: noteheads.Notehead) -> float:
    """Players on one notehead after the words in force and the size of its chord."""
    if "solo" in state or "first" in state:
        return 1.0
    if part.instrument.family == "strings":
        shared = head.beside if "div" in state else 1
        return max(1.0, part.players / shared / (2.0 if "half" in state else 1.0))
    if part.instrument.family in ("woodwind", "saxophone", "brass"):
        return max(1.0, part.players / head.beside)
    return part.players


class _Ties:
    """Ties that wait for their other end, by pitch as printed."""

    def __init__(self) -> None:
        self.waiting: dict[int, list[tuple[str, int, float]]] = {}

    def open(self, head: noteheads.Notehead, note: int, end: float) -> None:
        """Let a note wait for what is tied to it, until `end` on the played axis."""
        self.waiting.setdefault(head.pitch, []).append((head.voice, note, end))

    def extend(self, notes: list[Note], head: noteheads.Notehead, onset: float) -> bool:
        """Lengthen the waiting note that ends where `head` begins; False if none does."""
        waiting = self.waiting.get(head.pitch, [])
        fits = [entry for entry in waiting if abs(entry[2] - onset) < 0.02]
        if not fits:
            return False
        chosen = next((entry for entry in fits if entry[0] == head.voice), fits[0])
        waiting.remove(chosen)
        voice, index, _ = chosen
        end = onset + head.duration
        old = notes[index]
        notes[index] = dataclasses.replace(old, duration=end - old.onset)
        if head.tied_on:
            waiting.append((voice, index, end))
        return True


def _part_remarks(
    part: Part,
    one: sheet.Sheet,
    heads: Sequence[noteheads.Notehead],
    voiced: _Voiced,
) -> list[str]:
    said = []
    if not part.instrument.known:
        said.append(
            f"Part {part.number}, {part.name}: this instrument is not in the table and is "
            f"treated as a sustained one of middle strength."
        )
    if heads and voiced.loudness.first == float("inf"):
        said.append(
            f"Part {part.number}, {part.name}: the page gives no dynamics; mf is assumed."
        )
    if one.instruments > 1 and part.instrument.known:
        said.append(
            f"Part {part.number}, {part.name}: {one.instruments} instruments share this part; "
            f"all of it is read as {part.instrument.name.lower()}."
        )
    said.extend(_octave_remarks(part, heads, voiced))
    return said


def _octave_remarks(
    part: Part, heads: Sequence[noteheads.Notehead], voiced: _Voiced
) -> list[str]:
    """Doubt about a part that is usually written an octave off but says nothing of it."""
    if voiced.shifts or not part.instrument.known or not part.instrument.pitched:
        return []
    usual = instruments.entry(part.instrument.key).instrument.transposition
    pitches = [head.pitch for head in heads if not head.unpitched]
    if not pitches or usual == 0 or usual % 12:
        return []
    low, high = part.instrument.low, part.instrument.high
    as_is = sum(not low <= p <= high for p in pitches)
    moved = sum(not low <= p + usual <= high for p in pitches)
    # Below written C2 lies nothing a double bass part shows; above it, nothing tells.
    silent_bass = part.instrument.key == "double-bass" and min(pitches) >= 36 and moved == 0
    if not silent_bass and moved >= as_is:
        return []
    way = "lower" if usual < 0 else "higher"
    octaves = "an octave" if abs(usual) == 12 else f"{abs(usual) // 12} octaves"
    return [
        f"Part {part.number}, {part.name}: the file gives no transposition, but its notes fit "
        f"a {part.instrument.name.lower()} written {octaves} away; if it is, it sounds "
        f"{octaves} {way} than read here."
    ]


__all__ = ["Page", "open_score", "read_score"]
