"""How remarks name pitches, lengths of time and players."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.score.notes import Note

_STEPS = ("C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B")
_ACCIDENTALS = {
    "": "", "#": "sharp", "-": "flat", "##": "double sharp", "--": "double flat",
}  # fmt: skip


def pitch_name(pitch: int) -> str:
    """Sounding pitch in words, middle C as C4.

    >>> pitch_name(60), pitch_name(70), pitch_name(34)
    ('C4', 'B flat 4', 'B flat 1')
    """
    step, octave = _STEPS[pitch % 12], pitch // 12 - 1
    return f"{step} {octave}" if " " in step else f"{step}{octave}"


def tone_name(notes: Sequence[Note]) -> str:
    """Tone of notes of one pitch class in words, as printed for an instrument in C if one is.

    Without such an instrument the flats of `pitch_name` are used.
    """
    for note in notes:
        if note.spelling and (note.pitch - note.written_pitch) % 12 == 0:
            name = note.spelling.rstrip("0123456789")
            return name.replace("#", " sharp").replace("-", " flat")
    return _STEPS[notes[0].pitch % 12]


def seconds_name(seconds: float) -> str:
    """Length of time in words.

    >>> seconds_name(0.42), seconds_name(12.3), seconds_name(135)
    ('0.4 s', '12 s', '2 min 15 s')
    """
    if seconds < 10:
        return f"{seconds:.1f} s"
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"


def note_name(note: Note) -> str:
    """A note as printed where it sounds as printed, else its sounding pitch.

    Players look for the name on the page: D sharp, not E flat.
    """
    letter, signs, octave = note.spelling[:1], note.spelling[1:-1], note.spelling[-1:]
    if note.written_pitch != note.pitch or signs not in _ACCIDENTALS or not octave.isdigit():
        return pitch_name(note.pitch)
    word = _ACCIDENTALS[signs]
    return f"{letter} {word} {octave}" if word else f"{letter}{octave}"
