"""A made passage as MusicXML 4.0: transposed parts, dynamics, hairpins, pizz."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from xml.sax.saxutils import escape

from mixes_music import MadePart, Passage, Written
from mixes_players import CHAIRS, DYNAMICS, Chair

DIVISIONS = 4
# Divisions -> note type and dots; what has no single sign is split into two.
SIGNS = {
    16: ("whole", 0), 12: ("half", 1), 8: ("half", 0), 6: ("quarter", 1), 4: ("quarter", 0),
    3: ("eighth", 1), 2: ("eighth", 0), 1: ("16th", 0),
}  # fmt: skip
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLATS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def fifths_of(root: int, minor: bool) -> int:
    """Key signature, -5 to 6, of a key by the pitch class of its root."""
    major = (root + 3) % 12 if minor else root
    return (major * 7 + 5) % 12 - 5


def part_names(passage: Passage) -> list[str]:
    """Names as printed, numbered where a chair is there more than once."""
    total, seen = Counter(p.chair for p in passage.parts), Counter[str]()
    names = []
    for part in passage.parts:
        seen[part.chair] += 1
        printed = CHAIRS[part.chair].name
        number = str(seen[part.chair]) if total[part.chair] > 1 else ""
        plain = printed.format(number).strip()
        names.append(plain if "{}" in printed or not number else f"{plain} {number}")
    return names


def _pitch(written: int, fifths: int) -> str:
    name = (_FLATS if fifths < 0 else _SHARPS)[written % 12]
    alter = {"#": "<alter>1</alter>", "b": "<alter>-1</alter>"}.get(name[1:], "")
    return f"<pitch><step>{name[0]}</step>{alter}<octave>{written // 12 - 1}</octave></pitch>"


def _rest(length: int, whole_bar: int) -> str:
    if length == whole_bar:
        return (
            f'<note><rest measure="yes"/><duration>{length}</duration><voice>1</voice></note>'
        )
    out = ""
    while length:
        size = max(size for size in SIGNS if size <= length)
        kind, dots = SIGNS[size]
        out += f"<note><rest/><duration>{size}</duration><voice>1</voice><type>{kind}</type>"
        out += "<dot/>" * dots + "</note>"
        length -= size
    return out


def _note(note: Written, shift: int, fifths: int) -> str:
    length = round(note.duration * DIVISIONS)
    kind, dots = SIGNS[length]
    out = f"<note>{_pitch(note.pitch - shift, fifths)}<duration>{length}</duration>"
    return out + f"<voice>1</voice><type>{kind}</type>" + "<dot/>" * dots + "</note>"


def _direction(inner: str, place: str = "below") -> str:
    return (
        f'<direction placement="{place}"><direction-type>{inner}</direction-type></direction>'
    )


def _attributes(chair: Chair, fifths: int, beats: int) -> str:
    sign, line = chair.clef
    out = f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key>"
    out += f"<time><beats>{beats}</beats><beat-type>4</beat-type></time>"
    out += f"<clef><sign>{sign}</sign><line>{line}</line></clef>"
    chromatic, diatonic, octaves = chair.transposition
    if chromatic or octaves:
        out += f"<transpose><diatonic>{diatonic}</diatonic>"
        out += f"<chromatic>{chromatic}</chromatic>"
        out += f"<octave-change>{octaves}</octave-change>" * bool(octaves)
        out += "</transpose>"
    return out + "</attributes>"


def _bar(part: MadePart, bar: int, beats: int, fifths: int, plucked: bool) -> tuple[str, bool]:
    """Everything after the attributes of one bar, and whether the part is still plucked."""
    chair = CHAIRS[part.chair]
    shift = chair.transposition[0] + 12 * chair.transposition[2]
    start, at, out = bar * beats, 0, ""
    notes = [n for n in part.notes if start <= n.onset < start + beats]
    marks = dict(part.marks)
    due = bar in marks
    if bar in part.hairpins:
        rising = marks[bar + 1] > max((b, v) for b, v in part.marks if b <= bar)[1]
        kind = "crescendo" if rising else "diminuendo"
        out += _direction(f'<wedge type="{kind}"/>')
    for note in notes:
        where = round((note.onset - start) * DIVISIONS)
        if where > at:
            out += _rest(where - at, beats * DIVISIONS)
        if due:
            out += _direction(f"<dynamics><{DYNAMICS[marks[bar]]}/></dynamics>")
            due = False
        if note.pizzicato != plucked:
            plucked = note.pizzicato
            out += _direction(f"<words>{'pizz.' if plucked else 'arco'}</words>", "above")
        out += _note(note, shift, fifths)
        at = where + round(note.duration * DIVISIONS)
    if at < beats * DIVISIONS:
        out += _rest(beats * DIVISIONS - at, beats * DIVISIONS)
    if due:  # a mark in a bar of rest still counts for what follows
        out = _direction(f"<dynamics><{DYNAMICS[marks[bar]]}/></dynamics>") + out
    if bar in part.hairpins:
        out += _direction('<wedge type="stop"/>')
    return out, plucked


def _tempo(pace: float) -> str:
    unit = f"<beat-unit>quarter</beat-unit><per-minute>{pace:g}</per-minute>"
    mark = f"<direction-type><metronome>{unit}</metronome></direction-type>"
    return f'<direction placement="above">{mark}<sound tempo="{pace:g}"/></direction>'


def _part(part: MadePart, passage: Passage, tempo: bool) -> str:
    chair = CHAIRS[part.chair]
    key = (passage.root - chair.transposition[0]) % 12
    own = fifths_of(key, passage.minor)
    plucked, out = False, ""
    for bar in range(passage.bars):
        inner, plucked = _bar(part, bar, passage.beats, own, plucked)
        head = _attributes(chair, own, passage.beats) if bar == 0 else ""
        if bar == 0 and tempo:
            head += _tempo(passage.tempo)
        out += f'<measure number="{bar + 1}">{head}{inner}</measure>\n'
    return out


def write_page(passage: Passage, path: Path) -> None:
    """Write the passage as a MusicXML file."""
    names = part_names(passage)
    heads = "".join(
        f'<score-part id="P{k + 1}"><part-name>{escape(name)}</part-name></score-part>'
        for k, name in enumerate(names)
    )
    bodies = "".join(
        f'<part id="P{k + 1}">{_part(part, passage, k == 0)}</part>\n'
        for k, part in enumerate(passage.parts)
    )
    path.write_text(
        '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">\n'
        f"<work><work-title>Made passage {passage.seed}</work-title></work>\n"
        f"<part-list>{heads}</part-list>\n{bodies}</score-partwise>\n",
        encoding="utf-8",
    )
