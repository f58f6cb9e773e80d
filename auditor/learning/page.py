"""A sheet as MusicXML 4.0, at sounding pitch, for a notation program to play."""

from __future__ import annotations

from itertools import groupby
from statistics import median
from xml.sax.saxutils import escape

from auditor.learning.kit import BAR_QUARTERS, DYNAMIC_NAMES, TEMPO, KitNote, Sheet
from auditor.score.instruments import entry

_DIVISIONS = 2
_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_SIGNS = {1: "eighth", 2: "quarter", 4: "half"}
_MIDDLE_C = 60


def musicxml_of(sheet: Sheet) -> str:
    """Text of the file."""
    bars = {number: list(notes) for number, notes in groupby(sheet.notes, lambda n: n.bar)}
    loud: int | None = None
    measures = []
    for number in range(1, sheet.bars + 1):
        inside = _head(sheet) if number == 1 else ""
        printed: set[int] = set()
        for at, note in _filled(bars.get(number, []), number):
            if note is None:
                inside += _rest(at)
                continue
            if note.dynamic != loud:
                loud = note.dynamic
                inside += _dynamic(loud)
            inside += _note(note, signed=note.pitch not in printed)
            printed.add(note.pitch)
        measures.append(f'<measure number="{number}">{inside}</measure>')
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://www.musicxml.org/dtds/partwise.dtd">\n'
        f'<score-partwise version="4.0"><work><work-title>{escape(sheet.name)}</work-title>'
        f"</work>{_part_list(sheet)}"
        '<part id="P1">' + "\n".join(measures) + "</part></score-partwise>\n"
    )


def _filled(notes: list[KitNote], number: int) -> list[tuple[float, KitNote | None]]:
    """Notes of a bar with the rests between them, as (rest length or 0, note or None)."""
    start = (number - 1) * BAR_QUARTERS
    out: list[tuple[float, KitNote | None]] = []
    at = 0.0
    for note in notes:
        if note.onset - start > at:
            out.append((note.onset - start - at, None))
        out.append((0.0, note))
        at = note.onset - start + note.duration
    if at < BAR_QUARTERS:
        out.append((BAR_QUARTERS - at, None))
    return out


def _part_list(sheet: Sheet) -> str:
    row = entry(sheet.instrument.key)
    body = "<ensemble/>" if sheet.ensemble else "<solo/>"
    midi = "<midi-channel>1</midi-channel>"
    midi += f"<midi-program>{sheet.program}</midi-program>"
    if sheet.drum is not None:
        # MusicXML counts the keys of the percussion map from 1.
        midi = "<midi-channel>10</midi-channel>"
        midi += f"<midi-unpitched>{sheet.drum + 1}</midi-unpitched>"
    return (
        f'<part-list><score-part id="P1"><part-name>{escape(row.instrument.name)}</part-name>'
        f'<score-instrument id="I1"><instrument-name>{escape(sheet.title)}</instrument-name>'
        f"<instrument-sound>{row.sounds[0]}</instrument-sound>{body}</score-instrument>"
        f'<midi-instrument id="I1">{midi}</midi-instrument></score-part></part-list>'
    )


def _head(sheet: Sheet) -> str:
    pitches = [n.pitch for n in sheet.notes if n.pitch]
    if not pitches:
        clef = "<sign>percussion</sign>"
    elif median(pitches) < _MIDDLE_C:
        clef = "<sign>F</sign><line>4</line>"
    else:
        clef = "<sign>G</sign><line>2</line>"
    words = "pizz." if sheet.key.endswith("+pizz") else ""
    switch = ' pizzicato="yes"' if words else ""
    text = f"<direction-type><words>{words}</words></direction-type>" if words else ""
    return (
        f"<attributes><divisions>{_DIVISIONS}</divisions><key><fifths>0</fifths></key>"
        f"<time><beats>{BAR_QUARTERS}</beats><beat-type>4</beat-type></time>"
        f"<clef>{clef}</clef></attributes>"
        f"<direction>{text}<direction-type><metronome><beat-unit>quarter</beat-unit>"
        f"<per-minute>{TEMPO:g}</per-minute></metronome></direction-type>"
        f'<sound tempo="{TEMPO:g}"{switch}/></direction>'
    )


def _dynamic(step: int) -> str:
    return (
        f'<direction placement="below"><direction-type><dynamics><{DYNAMIC_NAMES[step]}/>'
        "</dynamics></direction-type></direction>"
    )


def _rest(quarters: float) -> str:
    whole = quarters == BAR_QUARTERS
    out, left = "", round(quarters * _DIVISIONS)
    while left:
        size = left if whole else max(s for s in _SIGNS if s <= left)
        kind = "" if whole else f"<type>{_SIGNS[size]}</type>"
        measure = ' measure="yes"' if whole else ""
        out += f"<note><rest{measure}/><duration>{size}</duration><voice>1</voice>{kind}</note>"
        left -= size
    return out


def _note(note: KitNote, *, signed: bool) -> str:
    """A note; an accidental is printed where `signed`: once in a bar."""
    length = round(note.duration * _DIVISIONS)
    if note.pitch:
        name = _NAMES[note.pitch % 12]
        alter = "<alter>1</alter>" if len(name) > 1 else ""
        octave = note.pitch // 12 - 1
        place = f"<pitch><step>{name[0]}</step>{alter}<octave>{octave}</octave></pitch>"
    else:
        place = "<unpitched><display-step>E</display-step>"
        place += "<display-octave>4</display-octave></unpitched>"
    sharp = "<accidental>sharp</accidental>" if signed and "<alter>" in place else ""
    short = "<notations><articulations><staccato/></articulations></notations>"
    return (
        f'<note>{place}<duration>{length}</duration><instrument id="I1"/><voice>1</voice>'
        f"<type>{_SIGNS[length]}</type>{sharp}{short if note.way == 'short' else ''}</note>"
    )
