"""What the music library passes over in MEI, Humdrum and ABC, written into the page it made.

MEI keeps dynamics, hairpins, words and the like beside the notes of a bar, Humdrum in spines
of their own, ABC the names of voices in its fields. They are put into the MusicXML as
directions, so that the rest of the reader finds them where it always does.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from xml.etree.ElementTree import Element, ParseError, SubElement, fromstring

from auditor.score import kern_marks
from auditor.score.signs import number, plain

_MEI = "{http://www.music-encoding.org/ns/mei}"
_ID = "{http://www.w3.org/XML/1998/namespace}id"
_LETTERS = re.compile(r"[fmpsrzn]{1,6}")
_LATER = re.compile(r"(?:(\d{1,3})m\s*\+\s*)?(\d+(?:\.\d+)?)")
_ORNAMENTS = {"trill": "trill-mark", "mordent": "mordent", "turn": "turn"}


@dataclass(frozen=True, slots=True)
class _Sign:
    """A sign of one part: bar of the page, quarters from the barline, kind and text."""

    part: int
    bar: int
    at: float
    kind: str
    text: str


def add(root: Element, text: str, kind: str) -> int:
    """Write into a page what the library passed over in its source.

    Parameters
    ----------
    root
        Part-wise MusicXML, changed in place.
    text
        The source.
    kind
        ``mei``, ``humdrum`` or ``abc``.

    Returns
    -------
    int
        Octave lines left aside, under which notes may stand an octave off.
    """
    parts = root.findall("part")
    if kind == "abc":
        _name_voices(root, text)
        return 0
    read: Callable[[str, list[Element]], Iterator[_Sign]] = (
        _of_mei if kind == "mei" else _of_humdrum
    )
    for sign in read(text, parts):
        measures = parts[sign.part].findall("measure") if sign.part < len(parts) else []
        if sign.bar < len(measures):
            _write(measures[sign.bar], sign, _divisions(root))
    return len(re.findall(r"<(?:mei:)?octave\b", text)) if kind == "mei" else 0


def _divisions(root: Element) -> float:
    return max(1.0, number(root.findtext("part/measure/attributes/divisions"), 1.0))


def _write(measure: Element, sign: _Sign, divisions: float) -> None:
    direction = Element("direction")
    inside = SubElement(direction, "direction-type")
    if sign.kind == "wedge":
        SubElement(inside, "wedge", {"type": sign.text})
    elif sign.kind == "tempo":
        SubElement(direction, "sound", {"tempo": sign.text})
    elif sign.kind == "rehearsal":
        SubElement(inside, "rehearsal").text = sign.text
    elif _LETTERS.fullmatch(sign.text):
        SubElement(SubElement(inside, "dynamics"), "other-dynamics").text = sign.text
    else:
        SubElement(inside, "words").text = sign.text
    # MusicXML 4.0: an offset counts for playback where it says so.
    offset = Element("offset", {"sound": "yes"})
    offset.text = str(sign.at * divisions)
    direction.insert(1, offset)
    first = next((k for k, c in enumerate(measure) if c.tag not in ("attributes", "print")), 0)
    measure.insert(first, direction)


def _of_mei(text: str, parts: list[Element]) -> Iterator[_Sign]:
    """Signs that stand beside the notes of an MEI bar."""
    try:
        source = fromstring(text)
    except (ParseError, ValueError):
        return
    order = [n for each in source.iter(f"{_MEI}staffDef") if (n := each.get("n"))]
    staves = {n: k for k, n in enumerate(dict.fromkeys(order))}
    notes = {note.get("id", ""): note for part in parts for note in part.iter("note")}
    bar, unit = -1, 4.0
    measures = len(parts[0].findall("measure")) if parts else 0
    if len(list(source.iter(f"{_MEI}measure"))) != measures or len(staves) != len(parts):
        return  # the library counted the bars or staves in another way
    places: dict[str, tuple[int, float]] = _places(parts)
    for each in source.iter():
        unit = number(each.get("meter.unit") or each.get("unit"), unit) or unit
        if each.tag == f"{_MEI}measure":
            bar += 1
            for event in each:
                yield from _event(event, (bar, 4.0 / unit), staves, places, notes)


def _places(parts: list[Element]) -> dict[str, tuple[int, float]]:
    """Bar and quarters of every note that has an identifier."""
    found: dict[str, tuple[int, float]] = {}
    for part in parts:
        divisions = number(part.findtext("measure/attributes/divisions"), 1.0) or 1.0
        for bar, measure in enumerate(part.findall("measure")):
            at = 0.0
            for child in measure:
                length = number(child.findtext("duration")) / divisions
                if child.tag == "note":
                    start = at - length if child.find("chord") is not None else at
                    found[child.get("id", "")] = (bar, start)
                    at = start + length
                elif child.tag in ("backup", "forward"):
                    at += -length if child.tag == "backup" else length
    found.pop("", None)
    return found


def _event(
    event: Element,
    here: tuple[int, float],
    staves: dict[str, int],
    places: dict[str, tuple[int, float]],
    notes: dict[str, Element],
) -> Iterator[_Sign]:
    """Signs of one child of an MEI measure; ornaments go straight to their note."""
    tag = event.tag.removeprefix(_MEI)
    bar, beat = here
    start = (event.get("startid") or "").lstrip("#")
    if tag in _ORNAMENTS or tag == "fermata":
        if start in notes:
            notations = SubElement(notes[start], "notations")
            inside = notations if tag == "fermata" else SubElement(notations, "ornaments")
            SubElement(inside, _ORNAMENTS.get(tag, "fermata"))
        return
    at = places.get(start, (bar, (number(event.get("tstamp"), 1.0) - 1.0) * beat))
    said = plain(" ".join(event.itertext()))
    own = [staves[n] for n in (event.get("staff") or "1").split() if n in staves]
    for part in own:
        if tag in ("dynam", "dir", "tempo") and said:
            yield _Sign(part, *at, "words", said)
        if tag == "reh" and said:
            yield _Sign(part, *at, "rehearsal", said)
        if tag == "tempo" and number(event.get("mm")) > 0:
            dots = max(0, min(4, round(number(event.get("mm.dots")))))
            quarters = 4.0 / (number(event.get("mm.unit"), 4.0) or 4.0) * (2.0 - 0.5**dots)
            yield _Sign(part, *at, "tempo", str(number(event.get("mm")) * quarters))
        if tag == "hairpin":
            way = "diminuendo" if event.get("form") == "dim" else "crescendo"
            yield _Sign(part, *at, "wedge", way)
            end = _end(event, here, places)
            if end is not None:
                yield _Sign(part, *end, "wedge", "stop")


def _end(
    event: Element, here: tuple[int, float], places: dict[str, tuple[int, float]]
) -> tuple[int, float] | None:
    last = (event.get("endid") or "").lstrip("#")
    if last in places:
        return places[last]
    # MEI 5, data.MEASUREBEAT: bars from here, then the beat in that bar.
    later = _LATER.fullmatch((event.get("tstamp2") or "").strip())
    if later is None:
        return None
    at = max(0.0, (float(later.group(2)) - 1.0) * here[1])
    return here[0] + int(later.group(1) or 0), at


def _of_humdrum(text: str, parts: list[Element]) -> Iterator[_Sign]:
    """Signs of the spines beside the notes; the leftmost spine is the lowest part."""
    found = list(kern_marks.signs(text))
    kerns = next((line for line in text.splitlines() if line.startswith("**")), "")
    if kerns.split("\t").count("**kern") != len(parts):
        return  # the library drew the parts in another way
    for kern, bar, at, kind, said in found:
        yield _Sign(len(parts) - 1 - kern, bar, at, kind, said)


def _name_voices(root: Element, text: str) -> None:
    """Give the parts of an ABC tune the names of its voices."""
    names: dict[str, str] = {}
    for voice, rest in re.findall(r"^(?:\[?V:)\s*([^\s\]]+)([^\n]*)", text, re.MULTILINE):
        named = re.search(r"\b(?:name|nm)\s*=\s*(?:\"([^\"]*)\"|(\S+))", rest)
        names.setdefault(voice, "")
        if named:
            names[voice] = plain(named.group(1) or named.group(2))
    heads = root.findall("part-list/score-part/part-name")
    if len(heads) == len(names):
        for head, name in zip(heads, names.values(), strict=True):
            head.text = name or head.text
