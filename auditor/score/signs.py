"""Signs that stand beside the notes of a MusicXML bar: directions, attributes, barlines."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree.ElementTree import Element

# Quarters in each MusicXML note type (MusicXML 4.0, note-type-value).
TYPE_QUARTERS = {
    "1024th": 1 / 256, "512th": 1 / 128, "256th": 1 / 64, "128th": 1 / 32, "64th": 1 / 16,
    "32nd": 1 / 8, "16th": 0.25, "eighth": 0.5, "quarter": 1.0, "half": 2.0, "whole": 4.0,
    "breve": 8.0, "long": 16.0, "maxima": 32.0,
}  # fmt: skip
_JUMP_SOUNDS = ("dacapo", "dalsegno", "fine", "tocoda", "segno", "coda")
_WEDGES = ("crescendo", "diminuendo", "stop", "continue")
_MOST_PASSES = 64
_MOST_ENDINGS = 64
_DYNAMIC = re.compile(r"[\[(]? ?[fmpsrzn]+ ?[\])]?\.?")
# SMuFL 1.4, dynamics, from U+E520 on: letters that some programs print as words.
_DRAWN = (
    "p", "m", "f", "r", "s", "z", "n", "pppppp", "ppppp", "pppp", "ppp", "pp", "mp", "mf", "pf",
    "ff", "fff", "ffff", "fffff", "ffffff", "fp", "fz", "sf", "sfp", "sfpp", "sfz", "sfzp",
    "sffz", "rf", "rfz",
)  # fmt: skip
_GLYPHS = dict(enumerate(_DRAWN, start=0xE520))
# Words that programs glue to dynamics letters: "ffmarc.", "semprepp".
_GLUED = re.compile(
    r"(sempre|pi[uù]|meno|poco|molto|subito|marc\w*\.?|legato|dolce|espr\w*\.?|stacc\w*\.?|"
    r"legg\w*\.?)",
    re.I,
)


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
        ``dynamic``, ``words``, ``wedge``, ``tempo``, ``metronome``, ``modulation``,
        ``transpose``, ``pizzicato``, ``jump``, ``rehearsal``, ``dashes``, or ``fermata`` over a
        rest or barline.
    text
        Letters, words, wedge type, or the number. A tempo is quarters per minute, a
        metronome mark is as printed, a modulation says how many times faster the quarter
        becomes.
    number
        Which of several wedges that run at once.
    voice, staff
        What the file ties the sign to; empty for the whole part.
    placement
        ``above``, ``below`` or empty.
    """

    bar: int
    at: float
    kind: str
    text: str
    number: str = "1"
    voice: str = ""
    staff: str = ""
    placement: str = ""


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
    implicit
        The file says it is no bar of its own: a pickup or the half of a split bar.
    final
        It ends with the thin and thick line of a movement's end.
    """

    number: str
    length: float = 0.0
    nominal: float = 4.0
    repeat_start: bool = False
    repeat_times: int = 0
    endings: tuple[int, ...] = ()
    ending_stop: tuple[int, ...] = ()
    implicit: bool = False
    final: bool = False


def number(text: str | None, default: float = 0.0) -> float:
    """Read a finite number; anything else is the default."""
    try:
        found = float(text) if text else default
    except ValueError:
        return default
    return found if math.isfinite(found) else default


def plain(text: str | None) -> str:
    """Text on one line, single spaces."""
    return " ".join((text or "").split())


def time_quarters(attributes: Element) -> float | None:
    """Quarters of a bar in the time signature of an ``<attributes>``; None without one."""
    time = attributes.find("time")
    if time is None or time.find("beats") is None:
        return None
    pairs = zip(time.findall("beats"), time.findall("beat-type"), strict=False)
    quarters = 0.0
    for beats, unit in pairs:
        count = sum(number(b) for b in (beats.text or "").split("+"))
        quarters += count * 4.0 / (number(unit.text, 4.0) or 4.0)
    return quarters if math.isfinite(quarters) and quarters > 0 else None


def transposition(index: int, at: float, attributes: Element) -> Iterator[Mark]:
    """Read the transposition of an ``<attributes>`` as semitones from written to sounding."""
    transpose = attributes.find("transpose")
    if transpose is not None:
        semitones = number(transpose.findtext("chromatic"))
        semitones += 12 * number(transpose.findtext("octave-change"))
        yield Mark(index, at, "transpose", str(round(max(-120.0, min(120.0, semitones)))))


def directions(index: int, at: float, direction: Element) -> Iterator[Mark]:
    """Read every sign of a ``<direction>``."""
    where = {
        "voice": plain(direction.findtext("voice")),
        "staff": plain(direction.findtext("staff")),
        "placement": direction.get("placement", ""),
    }
    words: list[str] = []
    for kind in direction.findall("direction-type"):
        for sign in kind:
            for name, text, which in _read(sign):
                if name == "words":
                    words.append(text)
                else:
                    yield Mark(index, at, name, text, which, **where)
    if words:
        # One sentence in several fonts comes in pieces.
        yield Mark(index, at, "words", " ".join(words), **where)
    for inner in direction.findall("sound"):
        yield from sound(index, at, inner)


def _read(sign: Element) -> Iterator[tuple[str, str, str]]:
    """Kind, text and number of one child of a ``<direction-type>``."""
    text = plain(sign.text)
    which = sign.get("number", "1")
    if sign.tag == "dynamics":
        yield from ((kind, letters, "1") for kind, letters in _letters(sign))
    elif sign.tag == "words" and text:
        letters = text.translate(_GLYPHS)
        drawn = letters != text and _DYNAMIC.fullmatch(letters)
        yield "dynamic" if drawn else "words", letters, "1"
    elif sign.tag == "wedge" and sign.get("type") in _WEDGES:
        yield "wedge", str(sign.get("type")), which
        if sign.get("niente") == "yes" and sign.get("type") != "diminuendo":
            # MusicXML 4.0: "used only when the wedge type is crescendo, or the wedge type is
            # stop for a wedge that began with a diminuendo type".
            yield "dynamic", "n", "1"
    elif sign.tag == "dashes" and sign.get("type") in ("start", "stop"):
        yield "dashes", str(sign.get("type")), which
    elif sign.tag == "metronome":
        yield from ((kind, said, "1") for kind, said in _metronome(sign))
    elif sign.tag in ("segno", "coda"):
        yield "jump", sign.tag, "1"
    elif sign.tag == "rehearsal" and text:
        yield "rehearsal", text, "1"
    elif sign.tag == "string-mute":
        # MusicXML 4.0, <string-mute>: type on or off.
        yield "words", "con sord." if sign.get("type") == "on" else "senza sord.", "1"


def dynamics(
    index: int, at: float, sign: Element, voice: str = "", staff: str = ""
) -> Iterator[Mark]:
    """Read a ``<dynamics>`` that hangs on a note."""
    for kind, text in _letters(sign):
        yield Mark(index, at, kind, text, voice=voice, staff=staff)


def _letters(sign: Element) -> Iterator[tuple[str, str]]:
    # Some programs split "sfp" into two children; the letters read on as one sign, and words
    # beside them stand apart.
    text = ""
    for child in sign:
        own = plain(child.text) if child.tag == "other-dynamics" else child.tag
        apart = text and not _DYNAMIC.fullmatch(own.lower())
        text += f" {own}" if apart else own
    # "più f" and the like are words even where a program files them under dynamics.
    if _DYNAMIC.fullmatch(text.lower()):
        yield "dynamic", text
    elif text and text != "other-dynamics":
        yield "words", plain(_GLUED.sub(r" \1 ", text))


def _metronome(sign: Element) -> Iterator[tuple[str, str]]:
    """Quarters per minute, or the step of a metric modulation, and what is printed."""
    beats, marks = _beats(sign)
    # "c. 92" and "60-66" occur; the first number counts.
    found = re.search(r"\d+(\.\d+)?", sign.findtext("per-minute") or "")
    minute = float(found.group()) if found else 0.0
    if len(beats) > 1:
        # The first value is that of the old tempo, the second lasts as long in the new.
        yield "modulation", str(beats[1] / beats[0])
        yield "metronome", f"{marks[0]} = {marks[1]}"
    elif beats and 0 < minute < 10_000:
        yield "tempo", str(minute * beats[0])
        yield "metronome", f"{marks[0]} = {plain(sign.findtext('per-minute'))}"


def _beats(sign: Element) -> tuple[list[float], list[str]]:
    """Quarters and names of the note values in a metronome mark, in printed order."""
    quarters: list[float] = []
    names: list[str] = []
    for child in sign:
        if child.tag == "metronome-note":
            unit, dots = plain(child.findtext("metronome-type")), child.findall("metronome-dot")
            if unit in TYPE_QUARTERS:
                quarters.append(TYPE_QUARTERS[unit] * (2.0 - 0.5 ** len(dots)))
                names.append("dotted " * len(dots) + unit)
        elif child.tag == "beat-unit" and plain(child.text) in TYPE_QUARTERS:
            quarters.append(TYPE_QUARTERS[plain(child.text)])
            names.append(plain(child.text))
        elif child.tag == "beat-unit-dot" and quarters:
            dots_before = names[-1].count("dotted ")
            plain_value = quarters[-1] / (2.0 - 0.5**dots_before)
            quarters[-1] = plain_value * (2.0 - 0.5 ** (dots_before + 1))
            names[-1] = "dotted " + names[-1]
    return quarters, names


def sound(index: int, at: float, element: Element) -> Iterator[Mark]:
    """Read the playback instructions of a ``<sound>``."""
    # MusicXML 4.0: the tempo attribute counts quarter notes per minute.
    if 0 < number(element.get("tempo")) < 10_000:
        yield Mark(index, at, "tempo", str(number(element.get("tempo"))))
    if element.get("pizzicato"):
        yield Mark(index, at, "pizzicato", str(element.get("pizzicato")))
    for name in _JUMP_SOUNDS:
        if element.get(name):
            yield Mark(index, at, "jump", name)


def barline(bar: RawBar, element: Element) -> None:
    """Write the repeats and brackets of a ``<barline>`` into its bar."""
    repeat, ending = element.find("repeat"), element.find("ending")
    bar.final |= repeat is None and plain(element.findtext("bar-style")) == "light-heavy"
    if repeat is not None:
        if repeat.get("direction") == "forward":
            bar.repeat_start = True
        else:
            bar.repeat_times = max(2, min(_MOST_PASSES, round(number(repeat.get("times"), 2))))
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
        if _passes(first):
            final = int(last) if _passes(last) else int(first)
            found.extend(range(int(first), final + 1))
    return tuple(found) or (1,)


def _passes(text: str) -> bool:
    return text.isascii() and text.isdigit() and 0 < int(text[:4]) <= _MOST_ENDINGS
