"""Reading a score: from a file to the notes, lines and bars of a `Score`."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree.ElementTree import Element

from auditor.errors import ScoreError
from auditor.score import (
    cache,
    casting,
    cues,
    directions,
    formats,
    harmonics,
    instruments,
    kits,
    noteheads,
    repeats,
    settings,
    sheet,
    shorthand,
)
from auditor.score import grid as grids
from auditor.score.doubts import remarks_on, remarks_on_dynamics
from auditor.score.lines import told_apart
from auditor.score.notes import Bar, Note, Part, Score
from auditor.score.slurs import with_slurred
from auditor.score.sounding import Voiced

# Formats that hold sounding pitches, whatever the parts are called.
_AT_PITCH = (".mid", ".midi", ".krn", ".abc")

_LONGEST_TITLE = 300
_HIGHEST_PITCH = 127


@dataclass(frozen=True, slots=True)
class Page:
    """A score as read, and the XML it stands in, for engraving.

    Parameters
    ----------
    score
        What the rest of the program works on.
    bodies
        The ``<part>`` of each part at written pitch, identifiers stamped on every
        sounding note, by part number.
    """

    score: Score
    bodies: dict[int, Element] = field(repr=False, compare=False)


def read_score(path: Path) -> Score:
    """Read a score: MusicXML, plain or compressed, MIDI, MEI, Humdrum or ABC.

    What was read before comes from the cache (`auditor.score.cache`).

    Raises
    ------
    ScoreError
        If the file cannot be used or holds no notes; one sentence says why.
    """
    path = Path(path)
    with _without_collecting():
        return cache.kept(path, lambda: _page(path).score)


def open_score(path: Path) -> Page:
    """Read a score and keep the parsed page for engraving.

    Raises
    ------
    ScoreError
        As `read_score`.
    """
    with _without_collecting():
        return _page(Path(path))


@contextmanager
def _without_collecting() -> Iterator[None]:
    """Leave garbage be: looking for it in so many references costs a third of the time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _page(path: Path) -> Page:
    root, unsaid = formats.open_page(path)
    try:
        percents = shorthand.write_out(root)
        sheets = sheet.scan(root)
        if not sheets:
            raise ScoreError("there is no part that is both listed and written out")
        if not any(True for _ in root.iter("note")):
            raise ScoreError("it has no notes in it; nothing can be listened for")
        if not any(one.heads for one in sheets):
            raise ScoreError("it has only rests; nothing can be listened for")
        remarks = [*unsaid, *_odd_signs(sheets, percents)]
        settled, at_pitch = _settled(path, sheets), path.suffix.lower() in _AT_PITCH
        score = _assembled(_title(root), sheets, settled, remarks, at_pitch=at_pitch)
        _check_pitches(score)
    except ScoreError as exc:
        raise ScoreError(f"{path}: {exc}") from exc
    bodies = {part.get("id", ""): part for part in root.findall("part")}
    return Page(score, {one.number: bodies[one.id] for one in sheets})


def _settled(path: Path, sheets: Sequence[sheet.Sheet]) -> dict[int, settings.Setting]:
    own = settings.beside(path)
    return settings.load(own, {one.number: one.name for one in sheets}) if own else {}


def _check_pitches(score: Score) -> None:
    for note in score.notes:
        if not 0 <= note.pitch <= _HIGHEST_PITCH:
            raise ScoreError(
                f"{note.spelling} in bar {score.bars[note.bar].number} of part {note.part} "
                f"would sound at MIDI number {note.pitch}, outside 0 to {_HIGHEST_PITCH}; "
                f"check the transposition of the part"
            )


def _odd_signs(sheets: Sequence[sheet.Sheet], percents: int) -> list[str]:
    """Sentences on noteheads and bars that stand for something else."""
    said = []
    slashes = sum(head.shape == "slash" for one in sheets for head in one.heads)
    hidden = sum(one.hidden for one in sheets)
    if percents:
        said.append(f"{percents} bars under percent signs or beat slashes were written out.")
    if slashes:
        said.append(
            f"{slashes} slash noteheads give a rhythm without pitches and were read so."
        )
    if hidden:
        said.append(f"{hidden} notes are hidden on the page; they were read as played.")
    return said


def _title(root: Element) -> str:
    for tag in ("work/work-title", "movement-title"):
        text = " ".join((root.findtext(tag) or "").split())
        if text:
            return text[:_LONGEST_TITLE]
    return ""


def _assembled(
    title: str,
    sheets: Sequence[sheet.Sheet],
    settled: Mapping[int, settings.Setting],
    said: Sequence[str],
    *,
    at_pitch: bool,
) -> Score:
    grid = grids.lay_out(sheets)
    route = repeats.route(repeats.signs(sheets, len(grid.lengths)))
    bars = _bars(grid, route)
    voices, remarks = [], [*said, *grid.remarks, *route.remarks]
    notes: list[Note] = []
    strings = _has_strings(sheets)
    found = [_part(one, beside_strings=strings) for one in sheets]
    heads = [_heads(one, part) for one, part in zip(sheets, found, strict=True)]
    roles = casting.cast(found, sheets, heads, grid, settled, at_pitch=at_pitch)
    parts = [role.part for role in roles]
    for role, one, own in zip(roles, sheets, heads, strict=True):
        voiced = Voiced(role, one, grid)
        voices.append(voiced)
        notes.extend(voiced.play(own, bars))
        remarks.extend(remarks_on(role, one, own))
    remarks.extend(remarks_on_dynamics(parts, voices))
    ordered = sorted(notes, key=lambda note: (note.onset, note.line, note.pitch, note.id))
    return Score(
        title=title,
        parts=tuple(parts),
        lines=told_apart(line for role in roles for line in role.lines),
        bars=bars,
        notes=tuple(ordered),
        written_bars=len(grid.lengths),
        remarks=tuple(remarks),
        directions=directions.directions(sheets, grid, bars),
    )


def _heads(one: sheet.Sheet, part: Part) -> list[noteheads.Notehead]:
    """Noteheads of a part that sound, with what their neighbours say of them."""
    heads = cues.without_cues(one.heads, one.marks)
    heads = with_slurred(heads, one.slurs)
    heads = harmonics.sounding(heads, part.instrument)
    return kits.with_pieces(heads, one.kit)


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


def _has_strings(sheets: Sequence[sheet.Sheet]) -> bool:
    found = (instruments.named(one.name) for one in sheets)
    return any(entry and entry.instrument.key in ("violin", "cello") for entry in found)


def _part(one: sheet.Sheet, *, beside_strings: bool) -> Part:
    instrument, players = instruments.recognise(
        one.name,
        abbreviation=one.abbreviation,
        instrument_name=one.instrument_name,
        sound=one.sound,
        program=one.program,
        as_string=beside_strings and not one.sung,
    )
    shifts = [int(mark.text) for mark in one.marks if mark.kind == "transpose"]
    return Part(
        number=one.number,
        id=one.id,
        name=one.name or one.instrument_name or instrument.name,
        instrument=instruments.as_written(instrument, shifts[0] if shifts else 0),
        players=players,
    )
