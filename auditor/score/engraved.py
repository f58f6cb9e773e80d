"""Excerpts of the page as MusicXML, noteheads stamped so that a drawing can point at them."""

from __future__ import annotations

import copy
import statistics
from collections.abc import Iterator, Sequence
from xml.etree.ElementTree import Element, SubElement, tostring

from auditor.errors import InputError
from auditor.score.reading import Page

# What an excerpt does without: line breaks, words sung, playback, places on paper, fonts.
_LEFT_OUT = {
    "measure": ("print", "sound", "grouping", "listening", "bookmark", "link"),
    "note": ("lyric", "play", "listen"),
    "attributes": ("measure-style", "staff-details", "directive"),
    "direction": ("sound", "listening"),
}
_PAPER = frozenset(
    ("default-x", "default-y", "relative-x", "relative-y", "font-family", "font-size",
     "font-style", "font-weight", "color", "justify", "halign", "valign", "width",
     "bezier-x", "bezier-y", "bezier-x2", "bezier-y2")
)  # fmt: skip
_ONE_OF_A_KIND = ("divisions", "time", "staves", "transpose")
_ONE_A_STAFF = ("key", "clef")
# MusicXML 4.0, order of the children of <attributes>.
_ORDER = ("divisions", "key", "time", "staves", "instruments", "clef", "transpose")
_MIDDLE_C = 60


def stamped_excerpt(
    page: Page, part_numbers: Sequence[int], first_written_bar: int, last_written_bar: int
) -> str:
    """MusicXML of some parts and bars; each notehead's ``id`` is its `Note.element`.

    Clef, key and time in force stand in the first bar; pitches are as written. The
    later noteheads of tied notes carry identifiers of their own.

    Parameters
    ----------
    page
        From `auditor.score.reading.open_score`.
    part_numbers
        Numbers of parts, in the order they shall stand.
    first_written_bar, last_written_bar
        0-based bars of the page, both included (`Bar.written_index`).

    Raises
    ------
    InputError
        If a part or bar is not in the score.
    """
    _check(page, part_numbers, first_written_bar, last_written_bar)
    root = Element("score-partwise", {"version": "4.0"})
    listed = SubElement(root, "part-list")
    for number in part_numbers:
        part = next(part for part in page.score.parts if part.number == number)
        identifier = f"P{number}"
        head = SubElement(listed, "score-part", {"id": identifier})
        SubElement(head, "part-name").text = part.name
        body = SubElement(root, "part", {"id": identifier})
        body.extend(_cut(page.bodies[number], first_written_bar, last_written_bar))
    return tostring(root, encoding="unicode", xml_declaration=False)


def _check(page: Page, part_numbers: Sequence[int], first: int, last: int) -> None:
    if not part_numbers:
        raise InputError("an excerpt needs at least one part")
    for number in part_numbers:
        if number not in page.bodies:
            raise InputError(
                f"there is no part {number}; the score has parts 1 to {max(page.bodies)}"
            )
    if not 0 <= first <= last < page.score.written_bars:
        raise InputError(
            f"bars {first} to {last} are not in the score, whose bars go from 0 to "
            f"{page.score.written_bars - 1}"
        )


def _cut(body: Element, first: int, last: int) -> list[Element]:
    """Copy a part's bars, with what is in force shown in the first."""
    measures = body.findall("measure")
    cut = [copy.deepcopy(measure) for measure in measures[first : last + 1]]
    if not cut:
        # A part that ends sooner rests.
        cut = [Element("measure", {"number": str(first + 1)})]
    _put_in_force(cut[0], _in_force(measures[:first], cut[0]))
    for measure in cut:
        _thin_out(measure)
    _drop_loose_ends(cut)
    return cut


def _in_force(before: Sequence[Element], first: Element) -> list[Element]:
    """Attributes that hold where the excerpt begins, its own first ones included."""
    found: dict[tuple[str, str], Element] = {}
    for attributes in _attributes(before, first):
        for child in attributes:
            if child.tag in _ONE_OF_A_KIND:
                found[child.tag, ""] = child
            elif child.tag in _ONE_A_STAFF:
                found[child.tag, child.get("number", "1")] = child
    if not any(tag == "clef" for tag, _ in found):
        # Without a clef the engraver draws none and misplaces the key signature.
        found["clef", "1"] = _best_clef(first)
    return sorted(found.values(), key=lambda child: _ORDER.index(child.tag))


def _attributes(before: Sequence[Element], first: Element) -> Iterator[Element]:
    for measure in before:
        yield from measure.findall("attributes")
    for child in first:
        if child.tag in ("note", "forward", "backup"):
            return
        if child.tag == "attributes":
            yield child


def _put_in_force(measure: Element, attributes: Sequence[Element]) -> None:
    for child in list(measure):
        if child.tag in ("note", "forward", "backup"):
            break
        if child.tag == "attributes":
            measure.remove(child)
    head = Element("attributes")
    head.extend(copy.deepcopy(child) for child in attributes)
    measure.insert(0, head)


def _best_clef(measure: Element) -> Element:
    octaves = [
        int(text) for each in measure.iter("octave") if (text := each.text or "").isdigit()
    ]
    unpitched = measure.find("note/unpitched") is not None
    low = bool(octaves) and 12 * (statistics.median(octaves) + 1) < _MIDDLE_C
    sign, line = ("percussion", "2") if unpitched else ("F", "4") if low else ("G", "2")
    clef = Element("clef")
    SubElement(clef, "sign").text = sign
    SubElement(clef, "line").text = line
    return clef


def _thin_out(measure: Element) -> None:
    for element in measure.iter():
        for tag in _LEFT_OUT.get(element.tag, ()):
            for child in element.findall(tag):
                element.remove(child)
        for name in _PAPER & element.attrib.keys():
            del element.attrib[name]
        if element.tag != "note":
            # Identifiers of other things could meet ours.
            element.attrib.pop("id", None)


def _drop_loose_ends(measures: Sequence[Element]) -> None:
    """Leave out slurs, hairpins and lines with one end outside the excerpt."""
    waiting: dict[tuple[str, str], list[tuple[Element, Element]]] = {}
    loose: list[tuple[Element, Element]] = []
    for parent, sign in _spanning(measures):
        key = (sign.tag, sign.get("number", "1"))
        if sign.get("type") == "stop":
            if waiting.get(key):
                waiting[key].pop()
            else:
                loose.append((parent, sign))
        elif sign.get("type") != "continue":
            waiting.setdefault(key, []).append((parent, sign))
    loose.extend(pair for pairs in waiting.values() for pair in pairs)
    for parent, sign in loose:
        parent.remove(sign)
    for measure in measures:
        for direction in measure.findall("direction"):
            for kind in direction.findall("direction-type"):
                if len(kind) == 0:
                    direction.remove(kind)
            if direction.find("direction-type") is None:
                measure.remove(direction)


def _spanning(measures: Sequence[Element]) -> Iterator[tuple[Element, Element]]:
    for measure in measures:
        for parent in measure.iter():
            if parent.tag in ("notations", "direction-type", "ornaments"):
                for sign in list(parent):
                    if sign.tag in (
                        "slur", "wedge", "octave-shift", "dashes", "bracket", "pedal",
                        "wavy-line", "glissando", "slide",
                    ):  # fmt: skip
                        yield parent, sign
