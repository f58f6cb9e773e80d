"""Who plays what: the streams of single lines, the chairs of each wind instrument."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from auditor.craft.page import Page
from auditor.score.instruments import numbers_of
from auditor.score.notes import Instrument, Note

WINDS = ("woodwind", "saxophone", "brass")


@dataclass(frozen=True, slots=True)
class Stream:
    """Notes of one line in the order of the music.

    Parameters
    ----------
    name
        For sentences: ``Oboe 1``.
    part
        Number of its part.
    instrument
        What plays it.
    notes
        Onsets on the page's axis; grace notes included.
    """

    name: str
    part: int
    instrument: Instrument
    notes: tuple[Note, ...]


def streams(page: Page, *families: str) -> Iterator[Stream]:
    """Lines of the given instrument families that have notes, in score order."""
    held: dict[int, list[Note]] = defaultdict(list)
    for part in page.parts:
        for note in page.notes_of(part.number):
            held[note.line].append(note)
    for line in page.score.lines:
        if line.instrument.family in families and held[line.number]:
            yield Stream(line.name, line.part, line.instrument, tuple(held[line.number]))


def phrases(notes: Sequence[Note], gap: float) -> Iterator[list[Note]]:
    """Rows of notes with rests of no more than `gap` quarters between them."""
    row: list[Note] = []
    reached = 0.0
    for note in notes:
        if row and note.onset > reached + gap + 1e-3:
            yield row
            row = []
        reached = max(reached if row else 0.0, note.onset + note.duration)
        row.append(note)
    if row:
        yield row


@dataclass(frozen=True, slots=True)
class Chair:
    """One player of a wind instrument and what the page gives that player.

    Parameters
    ----------
    key
        Instrument.
    number
        1 for the first.
    part
        Number of the part it reads from.
    name
        ``Horn 2``.
    notes
        In the order of the music, grace notes left out.
    """

    key: str
    number: int
    part: int
    name: str
    notes: tuple[Note, ...]


def chairs(page: Page) -> dict[str, tuple[Chair, ...]]:
    """Chairs of each wind instrument that the page tells apart, the first first."""
    found: dict[tuple[str, int], list[Note]] = defaultdict(list)
    parts: dict[tuple[str, int], int] = {}
    for part in page.parts:
        if part.instrument.family not in WINDS:
            continue
        numbers = numbers_of(part.name)
        for note in page.notes_of(part.number):
            for number in _numbers(note, numbers):
                seat = (part.instrument.key, number)
                parts.setdefault(seat, part.number)
                if not note.grace:
                    found[seat].append(note)
    out: dict[str, list[Chair]] = defaultdict(list)
    for (key, number), notes in sorted(found.items()):
        part = page.parts[parts[(key, number)] - 1]
        ordered = tuple(sorted(notes, key=lambda n: (n.onset, n.pitch)))
        name = f"{part.instrument.name} {number}"
        out[key].append(Chair(key, number, part.number, name, ordered))
    return {key: tuple(row) for key, row in out.items() if len(row) > 1}


def _numbers(note: Note, numbers: tuple[int, ...]) -> tuple[int, ...]:
    """Chairs of a note: as the page says, else the one number in the part's name."""
    if not note.chairs:
        return numbers if len(numbers) == 1 else ()
    # A part for horns 3 and 4 counts its players from 1 or from 3.
    if not numbers or set(note.chairs) <= set(numbers):
        return note.chairs
    return tuple(numbers[c - 1] for c in note.chairs if c <= len(numbers))
