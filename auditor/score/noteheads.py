"""Every notehead of the page once, with an identifier stamped on it.

The identifier goes onto the music library's own note, so that an engraving made
from the same page carries it.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element, SubElement

from music21 import articulations, expressions, harmony, spanner, stream
from music21.musicxml.xmlToM21 import MusicXMLImporter

from auditor.errors import ScoreError
from auditor.score.markings import ACCENT_STEPS, STRONG_ACCENT_STEPS

# Class of the music library -> word of ours; the first that fits counts, so
# sub-classes stand before their parents.
_ARTICULATIONS: tuple[tuple[type, str], ...] = (
    (articulations.Staccatissimo, "staccatissimo"),
    (articulations.Spiccato, "spiccato"),
    (articulations.Staccato, "staccato"),
    (articulations.DetachedLegato, "portato"),
    (articulations.StrongAccent, "marcato"),
    (articulations.Accent, "accent"),
    (articulations.Tenuto, "tenuto"),
    (articulations.SnapPizzicato, "snap-pizz"),
    (articulations.NailPizzicato, "pizz"),
    (articulations.Pizzicato, "pizz"),
    (articulations.StringHarmonic, "harmonic"),
    (articulations.Stopped, "stopped"),
    (articulations.OpenString, "open"),
    (articulations.DoubleTongue, "double-tongue"),
    (articulations.TripleTongue, "triple-tongue"),
)
_EXPRESSIONS: tuple[tuple[type, str], ...] = (
    (expressions.Trill, "trill"),
    (expressions.Tremolo, "tremolo"),
    (expressions.Fermata, "fermata"),
    (expressions.Turn, "turn"),
    (expressions.GeneralMordent, "mordent"),
    (expressions.Schleifer, "schleifer"),
    (expressions.ArpeggioMark, "arpeggio"),
)
_SPANNERS: tuple[tuple[type, str], ...] = (
    (expressions.TremoloSpanner, "tremolo"),
    (expressions.TrillExtension, "trill"),
    (spanner.Glissando, "glissando"),
)
_PAPER = frozenset(
    ("default-x", "default-y", "relative-x", "relative-y", "font-family", "font-size",
     "font-style", "font-weight", "color", "justify", "halign", "valign", "width")
)  # fmt: skip
_STRESS = {"accent": ACCENT_STEPS, "marcato": STRONG_ACCENT_STEPS}


@dataclass(frozen=True, slots=True)
class Notehead:
    """One notehead as printed.

    Parameters
    ----------
    element
        The identifier stamped on it: part, place of the bar on the page, count in the bar.
    part
        Number of the part.
    bar
        0-based bar on the page.
    at, duration
        Quarters from the barline, and length.
    pitch
        MIDI number as printed; 0 without pitch.
    voice
        Staff and voice.
    tied_on, tied_back
        A tie begins here, or ends here.
    stress
        Dynamic steps its accents add.
    beside
        How many noteheads its chord has.
    """

    element: str
    part: int
    bar: int
    at: float
    duration: float
    pitch: int
    voice: str
    grace: bool
    unpitched: bool
    tied_on: bool
    tied_back: bool
    techniques: tuple[str, ...]
    stress: float
    beside: int = 1


def parse(root: Element) -> tuple[stream.Score, Mapping[str, stream.Part]]:
    """Build the music library's score, and its parts by the file's part identifier.

    Raises
    ------
    ScoreError
        If the library gives up.
    """
    _thin_out(root)
    importer: Any = MusicXMLImporter()  # type: ignore[no-untyped-call]
    importer.xmlRoot = root
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            importer.xmlRootToScore(root, importer.stream)
    except Exception as exc:
        # Broken music makes the library fail in every class of error.
        raise ScoreError(
            f"the score's XML is well formed but its music cannot be read "
            f"({_first_line(exc)}); export it again as MusicXML from the notation program"
        ) from exc
    return importer.stream, importer.m21PartObjectsById


def _first_line(exc: Exception) -> str:
    return (str(exc).splitlines() or [""])[0][:120] or type(exc).__name__


def _thin_out(root: Element) -> None:
    """Drop what neither listening nor an excerpt needs: words sung, places on paper, fonts."""
    for child in list(root):
        if child.tag in ("credit", "defaults"):
            root.remove(child)
    for element in root.iter():
        attributes = element.attrib
        if attributes:
            for name in _PAPER & attributes.keys():
                del attributes[name]
        if element.tag == "note":
            for lyric in element.findall("lyric"):
                element.remove(lyric)
        elif element.tag == "transpose" and element.find("diatonic") is None:
            # Optional in MusicXML, but the library counts on it.
            steps = SubElement(element, "diatonic")
            steps.text = str(round(float(element.findtext("chromatic") or 0) * 7 / 12))
        elif element.tag == "measure":
            for printed in element.findall("print"):
                element.remove(printed)
            for cue in [note for note in element.findall("note") if _is(note, "cue")]:
                _silence(element, cue)


def _is(note: Element, tag: str) -> bool:
    return note.find(tag) is not None


def _silence(measure: Element, cue: Element) -> None:
    """Turn a cue note, which nobody plays, into a rest."""
    if _is(cue, "chord"):
        measure.remove(cue)
        return
    for child in list(cue):
        if child.tag in ("pitch", "unpitched", "cue", "notehead", "notations", "tie", "grace"):
            cue.remove(child)
    cue.insert(0, Element("rest"))


def staves_of(part_id: str, found: Mapping[str, stream.Part]) -> tuple[stream.Part, ...]:
    """Find the library's parts for one part of the file: one, or one a staff."""
    if part_id in found:
        return (found[part_id],)
    head = f"{part_id}-Staff"
    staves = [key for key in found if key.startswith(head) and key[len(head) :].isdigit()]
    return tuple(found[key] for key in sorted(staves, key=lambda key: int(key[len(head) :])))


def spanned_words(
    score: stream.Score, staves: Sequence[stream.Part]
) -> dict[int, frozenset[str]]:
    """Collect the ways of playing that span several notes, by the note's Python identity."""
    found: dict[int, frozenset[str]] = {}
    for place in (score, *staves):
        for kind, word in _SPANNERS:
            signs: Any = place.getElementsByClass(kind)
            for sign in signs:
                for element in sign.getSpannedElements():
                    found[id(element)] = found.get(id(element), frozenset()) | {word}
    return found


def stamp(
    part: int, staves: Sequence[stream.Part], spanned: Mapping[int, frozenset[str]]
) -> list[Notehead]:
    """Collect all noteheads of a part in the order of the page; sets each one's identifier.

    `spanned` are the words of `spanned_words`.
    """
    heads: list[Notehead] = []
    counts: dict[int, int] = {}
    for staff_number, staff in enumerate(staves, start=1):
        for bar, measure in enumerate(staff.getElementsByClass(stream.Measure)):
            for at, voice, element in _notes(measure):
                counts[bar] = counts.get(bar, 0)
                name = f"{staff_number}.{voice}" if len(staves) > 1 else voice
                words = spanned.get(id(element), frozenset())
                for head in _heads(part, bar, at, name, element, counts[bar], words):
                    heads.append(head)
                    counts[bar] += 1
    heads.sort(key=lambda head: (head.bar, head.at))
    return heads


def _notes(measure: stream.Measure) -> Iterator[tuple[float, str, Any]]:
    """Walk through the notes and chords of a bar, with place and voice."""
    for element in measure.elements:
        if element.isStream:
            base = float(measure.elementOffset(element))
            for inner in element.elements:
                if _is_note(inner):
                    yield base + float(element.elementOffset(inner)), str(element.id), inner
        elif _is_note(element):
            yield float(measure.elementOffset(element)), "1", element


def _is_note(element: Any) -> bool:
    classes = element.classSet
    return "NotRest" in classes and not isinstance(element, harmony.ChordSymbol)


def _heads(
    part: int,
    bar: int,
    at: float,
    voice: str,
    element: Any,
    count: int,
    spanned: frozenset[str],
) -> Iterator[Notehead]:
    members = element.notes if "ChordBase" in element.classSet else (element,)
    duration = element.duration
    quarters = 0.0 if duration.isGrace else max(0.0, float(duration.quarterLength))
    grace = quarters <= 0  # some files write ornaments as notes without length
    techniques = _techniques(element) | spanned
    for member in members:
        count += 1
        identifier = f"p{part}m{bar + 1}n{count}"
        member.id = identifier
        own = techniques if member is element else techniques | _techniques(member)
        tie = member.tie
        pitch = getattr(member, "pitch", None)
        yield Notehead(
            element=identifier,
            part=part,
            bar=bar,
            at=at,
            duration=quarters,
            pitch=0 if pitch is None else round(pitch.ps),
            voice=voice,
            grace=grace,
            unpitched=pitch is None,
            tied_on=tie is not None and tie.type in ("start", "continue"),
            tied_back=tie is not None and tie.type in ("stop", "continue"),
            techniques=tuple(own),
            stress=max((_STRESS.get(word, 0.0) for word in own), default=0.0),
            beside=len(members),
        )


def _techniques(element: Any) -> frozenset[str]:
    found: set[str] = set()
    for sign in element.articulations:
        found.update(_word(sign, _ARTICULATIONS))
    for sign in element.expressions:
        found.update(_word(sign, _EXPRESSIONS))
    return frozenset(found)


def _word(sign: Any, words: tuple[tuple[type, str], ...]) -> tuple[str, ...]:
    for kind, word in words:
        if isinstance(sign, kind):
            return (word,)
    return ()
