"""Pages made for the craft tests: parts given as plain tuples, in 4/4."""

from auditor.score import instruments
from auditor.score.notes import Bar, Direction, Line, Note, Part, Score

NAMES = ("C", "C#", "D", "E-", "E", "F", "F#", "G", "A-", "A", "B-", "B")


def spelling(pitch):
    return f"{NAMES[pitch % 12]}{pitch // 12 - 1}"


def note(onset, pitch, length=1.0, **more):
    """One note for `page`: quarters from the start, sounding MIDI pitch, and any Note field."""
    return {"onset": float(onset), "pitch": pitch, "duration": float(length), **more}


def chord(onset, pitches, length=1.0, **more):
    return [note(onset, pitch, length, **more) for pitch in pitches]


def sign(kind, part, onset, text="", end=None):
    """One sign for `page`: a dynamic, hairpin or words over a part."""
    return Direction(kind, part, int(onset // 4), onset, onset if end is None else end, text)


def page(parts, *, bars=8, tempo=60.0, directions=(), players=None, names=None):
    """Make a score of (instrument key, notes) pairs; words are (part, onset, text), or signs.

    `players` and `names` by part number replace those of the instrument.
    """
    made_parts, lines, notes = [], [], []
    for number, (key, given) in enumerate(parts, start=1):
        row = instruments.entry(key)
        count = (players or {}).get(number, row.players)
        name = (names or {}).get(number, row.instrument.name)
        made_parts.append(Part(number, f"P{number}", name, row.instrument, count))
        lines.append(Line(number, number, name, row.instrument, count))
        for k, one in enumerate(given):
            notes.append(_note(number, k, one, row.instrument))
    notes.sort(key=lambda n: (n.onset, n.line, n.pitch))
    return Score(
        "made",
        tuple(made_parts),
        tuple(lines),
        tuple(Bar(k, str(k + 1), k, 1, 4.0 * k, 4.0, tempo) for k in range(bars)),
        tuple(notes),
        bars,
        directions=tuple(
            one if isinstance(one, Direction) else sign("words", *one) for one in directions
        ),
    )


def _note(part, k, given, instrument):
    one = dict(given)
    pitch, onset = one.pop("pitch"), one.pop("onset")
    unpitched = not instrument.pitched
    fields = {
        "dynamic": 3.0, "dynamic_written": True, "players": 1.0, "unpitched": unpitched,
        "spelling": "" if unpitched else spelling(pitch),
        "written_pitch": pitch - instrument.transposition,
    }  # fmt: skip
    if one.get("grace"):
        one["duration"] = 0.0
    bar = int(onset // 4)
    return Note(
        f"n{part}-{k}", f"n{part}-{k}", part, part, bar, onset - 4 * bar + 1, onset,
        pitch=0 if unpitched else pitch, **{**fields, **one},
    )  # fmt: skip
