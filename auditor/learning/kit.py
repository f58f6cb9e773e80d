"""The calibration kit: which notes a library is asked to play, and when.

Every sheet is one file to render: one instrument, or one way of playing it. A bar of
three quarters holds one note of two quarters and a rest; all notes of a dynamic come one
after another, low to high, then three short ones on each pitch. Bar 1 is empty.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from auditor.errors import InputError
from auditor.score.instruments import entry, named
from auditor.score.notes import Instrument, Score
from auditor.spectra.playing import timbre_key

TEMPO = 80.0  # quarters a minute: a held note lasts 1.5 s, a bar 2.25 s
BAR_QUARTERS = 3
# Dynamic steps as the score room counts them: p, mf, ff.
DYNAMICS = (1, 3, 5)
DYNAMIC_NAMES = {1: "p", 3: "mf", 5: "ff"}
# Longest sheet in bars: 1 min 48 s.
_MOST_BARS = 48
_CLOSEST, _WIDEST = 2, 8
_HITS = 3

# General MIDI 1 (1991), table 3, percussion key map.
_DRUMS = {
    "bass-drum": 36, "snare-drum": 38, "cymbals": 49, "suspended-cymbal": 51, "tam-tam": 52,
    "triangle": 81, "tambourine": 54, "wood-block": 76, "castanets": 85, "tom-toms": 47,
    "cowbell": 56, "bongos": 60, "congas": 63, "timbales": 65, "guiro": 73, "claves": 75,
    "maracas": 70, "tenor-drum": 41,
}  # fmt: skip
# General MIDI 1, table 2, programs 1 to 128: plucked strings, string ensemble.
_PIZZICATO, _ENSEMBLE = 46, 49


@dataclass(frozen=True, slots=True)
class KitNote:
    """One note of a sheet.

    Parameters
    ----------
    onset, duration
        Quarters from the first barline.
    pitch
        Sounding MIDI number; 0 for what has no pitch.
    dynamic
        Step: 1 p, 3 mf, 5 ff.
    way
        ``held``, ``short``, ``plucked`` or ``struck``.
    """

    onset: float
    duration: float
    pitch: int
    dynamic: int
    way: str

    @property
    def bar(self) -> int:
        """Number of its bar, from 1."""
        return int(self.onset // BAR_QUARTERS) + 1


@dataclass(frozen=True, slots=True)
class Sheet:
    """One file to render.

    Parameters
    ----------
    name
        File name without suffix: ``kit-violin-pizz``.
    key
        Template key: ``violin+pizz``.
    title
        For the player: ``Violin, section, pizzicato``.
    instrument
        What plays.
    ensemble
        True for a string section.
    program
        General MIDI program, 1 to 128.
    drum
        General MIDI percussion key on channel 10, or None.
    notes
        By onset.
    """

    name: str
    key: str
    title: str
    instrument: Instrument
    ensemble: bool
    program: int
    drum: int | None
    notes: tuple[KitNote, ...]

    @property
    def bars(self) -> int:
        """Length in bars, the last one empty."""
        return self.notes[-1].bar + 1

    @property
    def seconds(self) -> float:
        """Length when played at the kit's tempo."""
        return seconds(self.bars * BAR_QUARTERS)


def seconds(quarters: float) -> float:
    """Seconds from the first barline at the kit's tempo."""
    return quarters * 60.0 / TEMPO


def kit_for_score(score: Score) -> tuple[Sheet, ...]:
    """One sheet for each sound a score asks for, over the range it uses.

    Raises
    ------
    InputError
        If no part is of a known instrument.
    """
    lines = {line.number: line for line in score.lines}
    used: dict[str, list[int]] = {}
    for note in score.notes:
        instrument = lines[note.line].instrument
        if instrument.known:
            pitch = 0 if note.unpitched or not instrument.pitched else note.pitch
            used.setdefault(timbre_key(note, lines[note.line]), []).append(pitch)
    if not used:
        raise InputError(
            "no part of the score is of a known instrument, so there is nothing to make a kit "
            'for; name them: --instruments "flute, oboe"'
        )
    order = {entry_key: k for k, entry_key in enumerate(_plain_keys(score))}
    keys = sorted(used, key=lambda key: (order[_plain(key)], key))
    return tuple(_sheet(key, _range(used[key])) for key in keys)


def kit_for_names(names: str) -> tuple[Sheet, ...]:
    """Sheets for a list of instruments, over their whole range.

    Parameters
    ----------
    names
        With commas between them, in any language the instrument table knows; "solo" makes
        a string instrument a single player, "pizz" is for plucked strings alone.

    Raises
    ------
    InputError
        If a name is not known.
    """
    keys: dict[str, None] = {}
    for name in filter(None, (piece.strip() for piece in names.split(","))):
        found = named(name)
        if found is None:
            raise InputError(
                f'no instrument is called "{name}"; write names with commas between them, such '
                f'as "flute, Violine, solo violin, cor anglais"'
            )
        keys.update(dict.fromkeys(_ways(found.instrument, name.lower())))
    if not keys:
        raise InputError('no instrument was named; write such as --instruments "flute, oboe"')
    return tuple(_sheet(key, None) for key in keys)


def _ways(instrument: Instrument, name: str) -> tuple[str, ...]:
    key = instrument.key
    if instrument.family != "strings":
        return (key,)
    if "solo" in name.split():
        return (f"{key}-solo",)
    if "pizz" in name:
        return (f"{key}+pizz",)
    return (key, f"{key}+pizz")


def _plain(key: str) -> str:
    """Key of the instrument table."""
    return key.partition("+")[0].removesuffix("-solo")


def _plain_keys(score: Score) -> Iterable[str]:
    return dict.fromkeys(line.instrument.key for line in score.lines)


def _range(pitches: Sequence[int]) -> tuple[int, int] | None:
    real = [p for p in pitches if p]
    return (min(real), max(real)) if real else None


def sheet_name(key: str) -> str:
    """File name of a template key.

    >>> sheet_name("violin+pizz"), sheet_name("violin-solo"), sheet_name("english-horn")
    ('kit-violin-pizz', 'kit-solo-violin', 'kit-english-horn')
    """
    plain = _plain(key)
    solo = "solo-" if "-solo" in key else ""
    return f"kit-{solo}{plain}" + ("-pizz" if key.endswith("+pizz") else "")


def _sheet(key: str, used: tuple[int, int] | None) -> Sheet:
    row = entry(_plain(key))
    instrument = row.instrument
    plucked = key.endswith("+pizz")
    section = instrument.family == "strings" and row.players > 1 and "-solo" not in key
    way = "plucked" if plucked else {"sustained": "held"}.get(instrument.kind, instrument.kind)
    if not instrument.pitched:
        notes = _hits()
    else:
        low, high = used or (instrument.low, instrument.high)
        notes = _scale(_pitches(low, high, 4 if way == "held" else 3), way)
    program = _PIZZICATO if plucked else _ENSEMBLE if section else max(row.program, 1)
    marks = [instrument.name, "section" if section else "", "pizzicato" if plucked else ""]
    if "-solo" in key:
        marks.insert(1, "solo")
    return Sheet(
        name=sheet_name(key),
        key=key,
        title=", ".join(filter(None, marks)),
        instrument=instrument,
        ensemble=section,
        program=program,
        drum=None if instrument.pitched else _DRUMS.get(instrument.key),
        notes=notes,
    )


def _pitches(low: int, high: int, bars_each: int) -> tuple[int, ...]:
    """Evenly spread pitches from low to high, as close as the time allows."""
    room = (_MOST_BARS - 2) // bars_each
    gaps = max(1, min(room - 1, -(-(high - low) // _CLOSEST)))
    gaps = max(gaps, -(-(high - low) // _WIDEST))
    return tuple(sorted({low + round(k * (high - low) / gaps) for k in range(gaps + 1)}))


def _scale(pitches: Sequence[int], way: str) -> tuple[KitNote, ...]:
    bars = [(pitch, dynamic) for dynamic in DYNAMICS for pitch in pitches]
    notes = [
        KitNote(float(BAR_QUARTERS * (k + 1)), 2.0, pitch, dynamic, way)
        for k, (pitch, dynamic) in enumerate(bars)
    ]
    if way == "held":
        start = len(bars) + 1
        notes += [
            KitNote(float(BAR_QUARTERS * (start + k) + beat), 0.5, pitch, dynamic, "short")
            for k, pitch in enumerate(pitches)
            for beat, dynamic in enumerate(DYNAMICS)
        ]
    return tuple(notes)


def _hits() -> tuple[KitNote, ...]:
    """Strokes of a drum, two bars each: cymbals ring."""
    order = [dynamic for dynamic in DYNAMICS for _ in range(_HITS)]
    return tuple(
        KitNote(float(BAR_QUARTERS * (2 * k + 1)), 2.0, 0, dynamic, "struck")
        for k, dynamic in enumerate(order)
    )


def by_name(sheets: Iterable[Sheet]) -> Mapping[str, Sheet]:
    """Sheets by file name."""
    return {sheet.name: sheet for sheet in sheets}
