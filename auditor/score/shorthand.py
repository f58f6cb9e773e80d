"""Bars written as signs: percent signs become the notes they stand for."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from xml.etree.ElementTree import Element

from auditor.score.signs import number

_MUSIC = ("note", "backup", "forward")
_MOST_BARS = 8


def write_out(root: Element) -> int:
    """Write into bars under a percent sign the notes of the bars they repeat.

    Bars that already hold notes beside the sign are left as they are.

    Returns
    -------
    int
        How many bars were written out.
    """
    return sum(_part(part.findall("measure")) for part in root.findall("part"))


def _part(measures: Sequence[Element]) -> int:
    written, length = 0, 0
    for index, measure in enumerate(measures):
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
