"""Piano, celesta and their kin: range, and what two hands of five fingers span."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditor.craft.hands import Hands, narrowest
from auditor.craft.limits import CraftLimits
from auditor.craft.naming import note_name, pitch_name
from auditor.craft.page import Chord, Page, about, chord_of
from auditor.craft.remark import Remark
from auditor.findings.wording import listed
from auditor.score.instruments import entry
from auditor.score.notes import Note, Part

KEYS = ("piano", "celesta", "harpsichord", "harmonium", "organ")
RANGE = "instrument table of the program (Abjad 3.19 where it has the instrument)"
_FINGERS = 5
# Semitones beyond the table that some instruments have: grands to C0; common practice, no
# source.
_SPARE = {"piano": (9, 0), "harpsichord": (0, 2)}
# The celesta most halls have goes four octaves up from C4 (from memory); the table has the
# largest.
_USUAL = {"celesta": (60, 108)}
# The third staff of an organ belongs to the feet.
_FEET = "3."


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on keyboards."""
    for part in page.parts_of(*KEYS):
        yield from out_of_range(page, part, _SPARE.get(part.instrument.key, (0, 0)))
        if part.players < 2:
            yield from hands(page, part, limits)


def out_of_range(page: Page, part: Part, spare: tuple[int, int]) -> Iterator[Remark]:
    """Notes beyond the keys or bars; a few beyond them some instruments have.

    A file that leaves out the octave the instrument is written off is read with it, where
    its notes fit better so.
    """
    shift = _left_out(page, part)
    widest = (part.instrument.low - spare[0], part.instrument.high + spare[1])
    low, high = _usual_range(part)
    name = part.instrument.name.lower()
    for note in page.notes_of(part.number):
        pitch = note.pitch + shift
        if note.unpitched or low <= pitch <= high or note.voice.startswith(_FEET):
            continue
        some = widest[0] <= pitch <= widest[1]
        ends = " to ".join(map(pitch_name, (low, high) if some else widest))
        yield about(
            chord_of((note,)), "out-of-range", "risky" if some else "cannot be played",
            f"{pitch_name(pitch)} lies beyond the {name}, which goes from {ends}.",
            "Only some instruments have the note." if some else "The note is not there.",
            "Ask which instrument will be there." if some else "Move the note by an octave.",
            RANGE,
        )  # fmt: skip


def _usual_range(part: Part) -> tuple[int, int]:
    return _USUAL.get(part.instrument.key, (part.instrument.low, part.instrument.high))


def _left_out(page: Page, part: Part) -> int:
    """Octaves, in semitones, by which the file seems to have left a part untransposed."""
    usual = entry(part.instrument.key).instrument.transposition
    if part.instrument.transposition or not usual:
        return 0
    pitches = [n.pitch for n in page.notes_of(part.number) if not n.unpitched]
    low, high = _usual_range(part)

    def fitting(shift: int) -> int:
        return sum(low <= pitch + shift <= high for pitch in pitches)

    return usual if fitting(usual) > fitting(0) else 0


def hands(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Chords of more notes than fingers, or wider than two hands reach."""
    for chord in page.chords(part.number):
        if chord.notes[0].grace or any("arpeggio" in n.techniques for n in chord.notes):
            continue
        pitches = [n.pitch for n in chord.notes if not _by_feet(n, part)]
        best = narrowest(pitches, _FINGERS)
        if best is None:
            yield about(
                chord, "too-many-notes", "cannot be played",
                f"{len(set(pitches))} notes are struck at once.",
                "Two hands have ten fingers.",
                "Leave out what others have already, or roll the chord.",
            )  # fmt: skip
        elif best.span > limits.key_span:
            yield _too_wide(chord, best, limits)


def _by_feet(note: Note, part: Part) -> bool:
    return part.instrument.key == "organ" and note.voice.startswith(_FEET)


def _too_wide(chord: Chord, best: Hands, limits: CraftLimits) -> Remark:
    beyond = best.span > limits.key_span_widest
    return about(
        chord, "hand-too-wide", "cannot be played" if beyond else "risky",
        f"{listed([note_name(n) for n in chord.notes], most=8)} take {best.span} semitones "
        f"in one hand, however they are shared.",
        "Most hands span a ninth, few a tenth.",
        "Mark the chord to be rolled, bring it closer, or leave a note out.",
    )  # fmt: skip
