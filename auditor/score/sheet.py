"""What stands on the page beside the notes, taken from the XML itself.

Bar lengths, transpositions, barlines and every direction are read here, because
the music library keeps them in part, in other places, or once per part only.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from auditor.errors import ScoreError

# Quarters in each MusicXML note type (MusicXML 4.0, note-type-value).
_TYPE_QUARTERS = {
    "long": 16.0,
    "breve": 8.0,
    "whole": 4.0,
    "half": 2.0,
    "quarter": 1.0,
    "eighth": 0.5,
    "16th": 0.25,
    "32nd": 0.125,
    "64th": 0.0625,
}
# A cadenza without bars runs to some hundred quarters; more is a broken file.
_LONGEST_BAR = 1000.0
_JUMP_SOUNDS = ("dacapo", "dalsegno", "fine", "tocoda", "segno", "coda")


@dataclass(frozen=True, slots=True)
class Mark:
    """One sign at one place of one part.

    Parameters
    ----------
    bar
        0-based bar on the page.
    at
        Quarters from the barline.
    kind
        ``dynamic``, ``words``, ``wedge``, ``tempo``, ``transpose``, ``pizzicato``,
        ``jump`` or ``rehearsal``.
    text
        Letters, words, wedge type, or the number.
    number
        Which of several wedges that run at once.
    """

    bar: int
    at: float
    kind: str
    text: str
    number: str = "1"


@dataclass(slots=True)
class RawBar:
    """One bar of one part while the page is scanned.

    Parameters
    ----------
    number
        As printed.
    length
        Quarters its contents fill; 0 when it is empty.
    nominal
        Quarters its time signature asks for.
    """

    number: str
    length: float = 0.0
    nominal: float = 4.0
    repeat_start: bool = False
    repeat_times: int = 0
    endings: tuple[int, ...] = ()
    ending_stop: tuple[int, ...] = ()


@dataclass(slots=True)
class Sheet:
    """One part of the page: its place in the part list, its head, bars and signs."""

    number: int
    id: str
    name: str
    abbreviation: str = ""
    instrument_name: str = ""
    sound: str = ""
    program: int | None = None
    instruments: int = 1
    sung: bool = False
    bars: list[RawBar] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)


def scan(root: Element) -> tuple[Sheet, ...]:
    """Read every part of a part-wise root, in the order of its part list.

    Parts without music and music without an entry in the part list are left out.
    """
    bodies = {part.get("id", ""): part for part in root.findall("part")}
    return tuple(
        _scan_part(number, head, bodies[head.get("id", "")])
        for number, head in enumerate(root.findall("part-list/score-part"), start=1)
        if head.get("id", "") in bodies
    )


def _scan_part(number: int, head: Element, body: Element) -> Sheet:
    program = head.findtext("midi-instrument/midi-program", "").strip()
    sheet = Sheet(
        number=number,
        id=head.get("id", ""),
        name=" ".join((head.findtext("part-name") or "").split()),
        abbreviation=" ".join((head.findtext("part-abbreviation") or "").split()),
        instrument_name=" ".join(
            (head.findtext("score-instrument/instrument-name") or "").split()
        ),
        sound=(head.findtext("score-instrument/instrument-sound") or "").strip(),
        program=int(program) if program.isdigit() else None,
        instruments=len(head.findall("score-instrument")),
        sung=body.find("measure/note/lyric") is not None,
    )
    clock = _Clock()
    for index, measure in enumerate(body.findall("measure")):
        _scan_bar(sheet, clock, index, measure)
    return sheet


class _Clock:
    """Divisions and time signature in force, and the place of the pen in the bar."""

    __slots__ = ("at", "divisions", "end", "nominal")

    def __init__(self) -> None:
        self.divisions, self.nominal = 1.0, 4.0
        self.at = self.end = 0.0

    def move(self, quarters: float) -> None:
        self.at = max(0.0, self.at + quarters)
        self.end = max(self.end, self.at)


def _number(text: str | None, default: float = 0.0) -> float:
    try:
        number = float(text) if text else default
    except ValueError:
        return default
    return number if math.isfinite(number) else default


def _scan_bar(sheet: Sheet, clock: _Clock, index: int, measure: Element) -> None:
    clock.at = clock.end = 0.0
    bar = RawBar(number=measure.get("number", str(index + 1)))
    sheet.bars.append(bar)
    chord_at = 0.0
    for child in measure:
        tag = child.tag
        if tag == "note":
            if child.find("chord") is None:
                chord_at = clock.at
                if child.find("grace") is None:
                    clock.move(_number(child.findtext("duration")) / clock.divisions)
            for found in child.findall("notations/dynamics"):
                sheet.marks.extend(_dynamics(index, chord_at, found))
        elif tag == "backup":
            clock.move(-_number(child.findtext("duration")) / clock.divisions)
        elif tag == "forward":
            clock.move(_number(child.findtext("duration")) / clock.divisions)
        elif tag == "attributes":
            sheet.marks.extend(_attributes(index, clock, child))
        elif tag == "direction":
            offset = _number(child.findtext("offset")) / clock.divisions
            sheet.marks.extend(_direction(index, max(0.0, clock.at + offset), child))
        elif tag == "sound":
            sheet.marks.extend(_sound(index, clock.at, child))
        elif tag == "barline":
            _barline(bar, child)
            at = clock.at if child.get("location", "right") == "right" else 0.0
            sheet.marks.extend(
                Mark(index, at, "jump", sign.tag)
                for sign in child
                if sign.tag in ("segno", "coda")
            )
    if clock.end > _LONGEST_BAR or not 0 < clock.nominal <= _LONGEST_BAR:
        raise ScoreError(
            f"bar {bar.number} of {sheet.name or sheet.id} would last "
            f"{max(clock.end, clock.nominal):g} quarters, which no bar does; export the score "
            f"again as MusicXML from the notation program"
        )
    bar.length, bar.nominal = clock.end, clock.nominal


def _attributes(index: int, clock: _Clock, attributes: Element) -> Iterator[Mark]:
    clock.divisions = _number(attributes.findtext("divisions"), clock.divisions) or 1.0
    time = attributes.find("time")
    if time is not None and time.find("beats") is not None:
        clock.nominal = sum(
            sum(_number(b) for b in (beats.text or "").split("+"))
            * 4.0
            / _number(unit.text, 4.0)
            for beats, unit in zip(
                time.findall("beats"), time.findall("beat-type"), strict=False
            )
        )
    transpose = attributes.find("transpose")
    if transpose is not None:
        semitones = _number(transpose.findtext("chromatic"))
        semitones += 12 * _number(transpose.findtext("octave-change"))
        yield Mark(index, clock.at, "transpose", str(round(semitones)))


def _direction(index: int, at: float, direction: Element) -> Iterator[Mark]:
    for kind in direction.findall("direction-type"):
        for sign in kind:
            if sign.tag == "dynamics":
                yield from _dynamics(index, at, sign)
            elif sign.tag == "words" and (sign.text or "").strip():
                yield Mark(index, at, "words", " ".join((sign.text or "").split()))
            elif sign.tag == "wedge":
                yield Mark(index, at, "wedge", sign.get("type", ""), sign.get("number", "1"))
            elif sign.tag == "metronome":
                yield from _metronome(index, at, sign)
            elif sign.tag in ("segno", "coda"):
                yield Mark(index, at, "jump", sign.tag)
            elif sign.tag == "rehearsal":
                yield Mark(index, at, "rehearsal", (sign.text or "").strip())
    for sound in direction.findall("sound"):
        yield from _sound(index, at, sound)


def _dynamics(index: int, at: float, dynamics: Element) -> Iterator[Mark]:
    # Some programs split "sfp" into two children; the letters read on as one sign.
    letters = "".join(
        (sign.text or "").strip() if sign.tag == "other-dynamics" else sign.tag
        for sign in dynamics
    )
    # "più f" and the like are words even where a program files them under dynamics.
    kind = "dynamic" if re.fullmatch(r"[\[(]?[fmpsrzn]+[\])]?\.?", letters.lower()) else "words"
    if letters:
        yield Mark(index, at, kind, letters)


def _metronome(index: int, at: float, metronome: Element) -> Iterator[Mark]:
    # "c. 92" and "60-66" occur; the first number counts.
    found = re.search(r"\d+(\.\d+)?", metronome.findtext("per-minute") or "")
    beats = float(found.group()) if found else 0.0
    quarters = _TYPE_QUARTERS.get((metronome.findtext("beat-unit") or "").strip())
    if quarters and beats > 0:
        dots = len(metronome.findall("beat-unit-dot"))
        yield Mark(index, at, "tempo", str(beats * quarters * (2.0 - 0.5**dots)))


def _sound(index: int, at: float, sound: Element) -> Iterator[Mark]:
    # MusicXML 4.0: the tempo attribute counts quarter notes per minute.
    if _number(sound.get("tempo")) > 0:
        yield Mark(index, at, "tempo", str(sound.get("tempo")))
    if sound.get("pizzicato"):
        yield Mark(index, at, "pizzicato", str(sound.get("pizzicato")))
    for name in _JUMP_SOUNDS:
        if sound.get(name):
            yield Mark(index, at, "jump", name)


def _barline(bar: RawBar, barline: Element) -> None:
    repeat, ending = barline.find("repeat"), barline.find("ending")
    if repeat is not None:
        if repeat.get("direction") == "forward":
            bar.repeat_start = True
        else:
            bar.repeat_times = max(2, round(_number(repeat.get("times"), 2.0)))
    if ending is not None:
        if ending.get("type") == "start":
            bar.endings = ending_numbers(ending.get("number", ""))
        else:
            bar.ending_stop = ending_numbers(ending.get("number", ""))


def ending_numbers(text: str) -> tuple[int, ...]:
    """Read the passes a volta bracket is for; without a number it is the first.

    >>> ending_numbers("1, 2"), ending_numbers("1-3"), ending_numbers("")
    ((1, 2), (1, 2, 3), (1,))
    """
    found: list[int] = []
    for piece in text.replace(".", ",").replace(" ", ",").split(","):
        first, _, last = piece.partition("-")
        if first.isdigit():
            found.extend(range(int(first), (int(last) if last.isdigit() else int(first)) + 1))
    return tuple(found) or (1,)
