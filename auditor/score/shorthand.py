"""Bars and beats written as signs: percent signs and slashes become the notes they mean."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from xml.etree.ElementTree import Element

from auditor.score.signs import TYPE_QUARTERS, number, plain

_MUSIC = ("note", "backup", "forward")
_MOST_BARS, _MOST_BEATS = 8, 32


def write_out(root: Element) -> int:
    """Write under percent signs and beat slashes the notes they repeat.

    Bars and beats that already hold notes beside the sign are left as they are.

    Returns
    -------
    int
        How many bars were written out, in whole or in part.
    """
    return sum(_part(part.findall("measure")) for part in root.findall("part"))


def _part(measures: Sequence[Element]) -> int:
    written, length = 0, 0
    pen = _Beats()
    for index, measure in enumerate(measures):
        written += pen.write(measure)
        for sign in measure.findall("attributes/measure-style/measure-repeat"):
            # MusicXML 4.0: the text counts the bars of the pattern; the stop stands in the
            # first bar that is no longer repeated.
            bars = round(number(sign.text, 1.0))
            starts = sign.get("type") == "start" and 1 <= bars <= _MOST_BARS
            length = bars if starts else 0
        source = index - length
        if length and source >= 0 and not _has_notes(measure):
            _copy(measures[source], measure)
            written += 1
    return written


def _has_notes(measure: Element) -> bool:
    return any(note.find("rest") is None for note in measure.findall("note"))


def _copy(source: Element, measure: Element) -> None:
    for child in list(measure):
        if child.tag in _MUSIC:
            measure.remove(child)
    for child in source:
        if child.tag in (*_MUSIC, "direction"):
            twin = copy.deepcopy(child)
            twin.attrib.pop("id", None)
            measure.append(twin)


class _Beats:
    """Beat slashes of one part: each stands for the beat before it (one voice)."""

    def __init__(self) -> None:
        self.divisions, self.beat, self.unit = 1.0, 1.0, 1.0
        self.runs = False
        self.last: list[tuple[float, Element]] = []

    def write(self, measure: Element) -> int:
        """Fill the rests of a bar that stand under beat slashes; 1 if there were some."""
        at, filled = 0.0, 0
        for child in list(measure):
            if child.tag == "attributes":
                self._see(child)
            elif child.tag == "backup":
                self.runs = False
            elif child.tag in ("note", "forward") and child.find("chord") is None:
                length = number(child.findtext("duration")) / self.divisions
                if self.runs and child.find("pitch") is None and self.last and length > 0:
                    self._fill(measure, child, length)
                    filled = 1
                elif child.tag == "note":
                    self._remember(at, child)
                at += length
            elif child.tag == "note" and self.last:
                self.last.append((self.last[-1][0], child))
        return filled

    def _see(self, attributes: Element) -> None:
        divisions = number(attributes.findtext("divisions"), self.divisions)
        self.divisions = divisions if divisions > 0 else self.divisions
        unit = number(attributes.findtext("time/beat-type"), 4.0 / self.unit)
        self.unit = 4.0 / unit if unit > 0 else self.unit
        for sign in attributes.findall("measure-style/beat-repeat"):
            # MusicXML 4.0: the beat is that of the time signature unless slash-type names one.
            self.runs = sign.get("type") == "start"
            value = TYPE_QUARTERS.get(plain(sign.findtext("slash-type")), self.unit)
            self.beat = value * (2.0 - 0.5 ** min(4, len(sign.findall("slash-dot"))))

    def _remember(self, at: float, note: Element) -> None:
        """Keep the notes of the beat that ends with this one."""
        beat = self.beat if self.runs else self.unit
        start = at - (at % beat) if beat > 0 else at
        self.last = [(place, own) for place, own in self.last if start <= place <= at]
        self.last.append((at, note))

    def _fill(self, measure: Element, rest: Element, length: float) -> None:
        place = list(measure).index(rest)
        measure.remove(rest)
        times = max(1, min(_MOST_BEATS, round(length / self.beat)))
        for note in [own for _, own in self.last] * times:
            twin = copy.deepcopy(note)
            twin.attrib.pop("id", None)
            measure.insert(place, twin)
            place += 1
