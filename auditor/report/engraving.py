"""Engraved excerpts of the score with the line and what covers it marked.

Verovio engraves; this module tells the staves apart in words, marks the noteheads,
and makes the drawing safe to stand beside others in one page.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from xml.etree.ElementTree import Element, tostring

import verovio
from defusedxml.ElementTree import fromstring

from auditor.errors import ScoreError

logger = logging.getLogger(__name__)

_OPTIONS = {
    "adjustPageHeight": True,
    "adjustPageWidth": True,
    "breaks": "none",
    "condense": "none",
    "footer": "none",
    "header": "none",
    "mnumInterval": 1,
    "pageMarginBottom": 40,
    "pageMarginLeft": 40,
    "pageMarginRight": 40,
    "pageMarginTop": 40,
    "scale": 40,
    "svgFormatRaw": True,
    "svgHtml5": False,
    "svgRemoveXlink": True,
    "svgViewBox": True,
    "xmlIdSeed": 1,
}

# Only what draws may pass; titles and links from a file stay outside the page.
_DRAWS = {
    "circle", "defs", "ellipse", "g", "line", "path", "polygon", "polyline", "rect", "svg",
    "symbol", "text", "tspan", "use",
}  # fmt: skip
_ATTRIBUTES = {
    "class", "cx", "cy", "d", "fill", "fill-opacity", "font-family", "font-size", "font-style",
    "font-weight", "height", "href", "id", "opacity", "points", "r", "rx", "ry", "stroke",
    "stroke-dasharray", "stroke-linecap", "stroke-linejoin", "stroke-opacity", "stroke-width",
    "text-anchor", "transform", "viewBox", "width", "x", "x1", "x2", "y", "y1", "y2",
}  # fmt: skip

# Note values of metronome marks (SMuFL 1.4, "Metronome marks", U+ECA0 to U+ECB7) come as
# text in a music font that a page without fonts of its own does not have.
_METRONOME = {
    0xECA0: "double whole ", 0xECA2: "whole ", 0xECA3: "half ", 0xECA4: "half ", 0xECA5: "♩",
    0xECA6: "♩", 0xECA7: "♪", 0xECA8: "♪", 0xECA9: "16th ", 0xECAA: "16th ", 0xECB7: ".",
}  # fmt: skip
_PRIVATE_USE = range(0xE000, 0xF900)

_STAFF_LINE = re.compile(r"M([-\d.]+) ([-\d.]+) L([-\d.]+) ")
_MARGIN = 260.0  # a space and a half above and below the staff, in verovio's units


@dataclass(frozen=True, slots=True)
class Marks:
    """What to mark in an excerpt.

    Parameters
    ----------
    line, covers
        Note element identifiers of the line and of its coverers.
    labels
        For each part of the excerpt, in its order: its name there, and the words that shall
        stand before it instead. Empty to leave the names.
    """

    line: Collection[str]
    covers: Collection[str] = ()
    labels: tuple[tuple[str, str], ...] = ()


def engrave(musicxml: str, marks: Marks, *, prefix: str, sentence: str) -> str:
    """Engrave an excerpt and mark it.

    Parameters
    ----------
    musicxml
        The bars and parts to show; the notes carry their element identifiers.
    marks
        What to mark.
    prefix
        Put before every identifier, so that many excerpts can share a page.
    sentence
        Says in words what the picture shows.

    Returns
    -------
    str
        ``<svg>`` element for an HTML page. Marked notes keep their identifier (prefixed)
        and carry the class ``the-line`` or ``covering``.

    Raises
    ------
    ScoreError
        If the excerpt cannot be engraved.
    """
    page = fromstring(musicxml.encode("utf-8"))
    marks = _with_ties(page, marks)
    _label(page, marks.labels)
    root = _without_namespaces(fromstring(_draw(tostring(page, encoding="unicode"))))
    _keep_what_draws(root)
    _spell_music_signs(root)
    _mark(root, marks)
    _underlay(root)
    _prefix_ids(root, prefix, {*marks.line, *marks.covers})
    width = root.get("viewBox", "0 0 600 0").split()[2]
    root.attrib.update(
        {"role": "img", "aria-label": sentence, "class": "excerpt", "width": width}
    )
    return tostring(root, encoding="unicode", short_empty_elements=True)


def _toolkit() -> verovio.toolkit:
    # A toolkit made outside the main thread finds its fonts only when told where they are.
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit(False)
    toolkit.setResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit.setOptions(_OPTIONS)
    return toolkit


def _draw(musicxml: str) -> str:
    toolkit = _toolkit()
    if not toolkit.loadData(musicxml) or toolkit.getPageCount() < 1:
        raise ScoreError("an excerpt of the score could not be engraved")
    drawing = toolkit.renderToSVG(1)
    return str(drawing)


def _label(page: Element, labels: tuple[tuple[str, str], ...]) -> None:
    """Put other words before the staves: by place, or by name where places do not tell."""
    parts = page.findall("./part-list/score-part")
    by_name = dict(labels)
    for i, part in enumerate(parts):
        name = part.find("part-name")
        if name is None or not labels:
            continue
        in_place = len(parts) == len(labels)
        name.text = labels[i][1] if in_place else by_name.get(name.text or "", name.text)
        name.attrib.pop("print-object", None)
        for other in part.findall("part-abbreviation") + part.findall("part-name-display"):
            part.remove(other)


def _with_ties(page: Element, marks: Marks) -> Marks:
    """Mark the later noteheads of a tied note as its first is marked."""
    line, covers = set(marks.line), set(marks.covers)
    for part in page.findall("part"):
        held: dict[tuple[str, ...], str] = {}
        for note in part.iter("note"):
            key = tuple(
                note.findtext(path, "")
                for path in ("pitch/step", "pitch/alter", "pitch/octave", "staff")
            )
            ties = {tie.get("type") for tie in note.findall("tie")}
            first = held.pop(key, "") if "stop" in ties else ""
            own = note.get("id", "")
            for marked in (line, covers):
                if first in marked and own:
                    marked.add(own)
            if "start" in ties and own:
                held[key] = own
    return Marks(line, covers, marks.labels)


def _without_namespaces(root: Element) -> Element:
    for node in root.iter():
        node.tag = node.tag.rsplit("}", 1)[-1]
        node.attrib = {key.rsplit("}", 1)[-1]: value for key, value in node.attrib.items()}
    return root


def _keep_what_draws(root: Element) -> None:
    for node in root.iter():
        for child in [c for c in node if c.tag not in _DRAWS or _is_placeholder(c)]:
            node.remove(child)
        node.attrib = {
            key: value
            for key, value in node.attrib.items()
            if key in _ATTRIBUTES and (key != "href" or value.startswith("#"))
        }


def _spell_music_signs(root: Element) -> None:
    """Write music signs inside words with letters and signs every text font has."""
    signs = {code: _METRONOME.get(code, "") for code in _PRIVATE_USE}
    for node in root.iter("tspan"):
        node.text = node.text and node.text.translate(signs)


def _is_placeholder(node: Element) -> bool:
    return "placeholder" in node.get("class", "").split(" ")


def _mark(root: Element, marks: Marks) -> None:
    line, covers = set(marks.line), set(marks.covers)
    for node in root.iter("g"):
        if node.get("class", "").split(" ")[0] not in ("note", "chord"):
            continue
        if node.get("id") in line:
            node.set("class", node.get("class", "") + " the-line")
        elif node.get("id") in covers:
            node.set("class", node.get("class", "") + " covering")


def _underlay(root: Element) -> None:
    """Lay a band behind every staff of the line, as a marker pen would; frame the coverers'."""
    measures = [g for g in root.iter("g") if g.get("class") == "measure"]
    line, covers = _rows(measures, "the-line"), _rows(measures, "covering")
    for i in sorted(line | covers):
        staves = [staves[i] for m in measures if i < len(staves := _staves(m))]
        band = _band(staves, "marker" if i in line else "frame")
        if band is not None:
            measures[0].insert(0, band)


def _rows(measures: list[Element], mark: str) -> set[int]:
    """Positions of the staves that hold a marked note in any of the bars."""
    return {
        i
        for measure in measures
        for i, staff in enumerate(_staves(measure))
        if any(mark in g.get("class", "").split(" ") for g in staff.iter("g"))
    }


def _staves(measure: Element) -> list[Element]:
    return [g for g in measure if g.get("class", "").split(" ")[0] == "staff"]


def _band(staves: list[Element], name: str) -> Element | None:
    edges = [
        tuple(float(v) for v in found.groups())
        for staff in staves
        for path in staff.findall("path")
        if (found := _STAFF_LINE.match(path.get("d", "")))
    ]
    if not edges:
        return None
    left, right = min(e[0] for e in edges), max(e[2] for e in edges)
    top, bottom = min(e[1] for e in edges), max(e[1] for e in edges)
    return Element(
        "rect",
        {
            "class": name,
            "x": f"{left:g}",
            "y": f"{top - _MARGIN:g}",
            "width": f"{right - left:g}",
            "height": f"{bottom - top + 2 * _MARGIN:g}",
        },
    )


def _prefix_ids(root: Element, prefix: str, kept: Collection[str]) -> None:
    """Make identifiers unique in the page and drop those nothing points at."""
    used = {node.get("href", "")[1:] for node in root.iter("use")}
    for node in root.iter():
        own = node.get("id")
        if own is not None:
            if own in used or own in kept:
                node.set("id", f"{prefix}{own}")
            else:
                del node.attrib["id"]
        if "href" in node.attrib:
            node.set("href", f"#{prefix}{node.attrib['href'][1:]}")
