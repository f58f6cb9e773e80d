"""Scores in other formats than MusicXML, turned into it on the way in.

MIDI is read here; MEI, Humdrum and ABC are read by the music library, which knows them in
part. What a format cannot say is listed for the report.
"""

from __future__ import annotations

import io
import logging
import re
import warnings
from contextlib import redirect_stderr
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, fromstring

from auditor.errors import ScoreError
from auditor.score import midi_page
from auditor.score.opening import open_xml, read_bytes

_LOG = logging.getLogger(__name__)
_MOST_MIDI, _MOST_TEXT = 64 * 1024 * 1024, 8 * 1024 * 1024
# A number of four digits in a line of music is no length; the library would count to it.
# Field lines of ABC other than metre and unit, and comments, signs and barlines of Humdrum,
# may hold what they like.
_LENGTHS = {
    "ABC": re.compile(
        r"^(?:[ML]:[^\n]*?\d{4}|(?![A-Za-z]:|%)[^\"\n]*?(?:[A-Ga-gxzXZ\])][,']*|/)\d{4})",
        re.MULTILINE,
    ),
    "Humdrum": re.compile(r"^(?![!=]|\*(?!M\d))[^\n]*?\d{4}", re.MULTILINE),
}
_BETTER = "export the score as MusicXML from the notation program"


@dataclass(frozen=True, slots=True)
class _Format:
    """How a format is named, called by the music library, and what it leaves unsaid."""

    name: str
    library: str
    unsaid: str


_MIDI = (".mid", ".midi")
_TEXTS = {
    ".mei": _Format(
        "MEI",
        "mei",
        "MEI was read as far as the music library knows it: notes, ties, slurs and "
        "articulations; hairpins, dynamics and words may be missing.",
    ),
    ".krn": _Format(
        "Humdrum",
        "humdrum",
        "Humdrum kern was read as far as the music library knows it: hairpins, words and "
        "transpositions may be missing.",
    ),
    ".abc": _Format(
        "ABC",
        "abc",
        "ABC gives no instruments and few dynamics; parts were taken from its voices.",
    ),
}


def open_page(path: Path) -> tuple[Element, list[str]]:
    """MusicXML root of a score in any format read here, and what its format leaves unsaid.

    Raises
    ------
    ScoreError
        If the file cannot be used; one sentence says why.
    """
    suffix = path.suffix.lower()
    if suffix in _MIDI:
        data = read_bytes(path, _MOST_MIDI)
        try:
            return midi_page.page(data)
        except ScoreError as exc:
            raise ScoreError(f"{path}: {exc}") from exc
    if suffix in _TEXTS:
        return _converted(path, _TEXTS[suffix])
    return open_xml(path), []


def _converted(path: Path, kind: _Format) -> tuple[Element, list[str]]:
    text = _decoded(read_bytes(path, _MOST_TEXT))
    if "<!ENTITY" in text:
        raise ScoreError(f"{path} defines XML entities, which can fill the memory; {_BETTER}")
    lengths = _LENGTHS.get(kind.name)
    odd = lengths.search(text) if lengths else None
    if odd:
        line = text.count("\n", 0, odd.end()) + 1
        raise ScoreError(f"{path} has a length in line {line} that no note has; {_BETTER}")
    remarks = [kind.unsaid]
    try:
        # The library prints what it stumbles over; how often is told in one sentence.
        with warnings.catch_warnings(), redirect_stderr(io.StringIO()) as printed:
            warnings.simplefilter("ignore")
            score, more = _parsed(text, kind)
            root = fromstring(_exported(score))
        stumbled = printed.getvalue().count("WARNING")
    except ScoreError as exc:
        raise ScoreError(f"{path}: {exc}") from exc
    except Exception as exc:
        # Broken music makes the library fail in every class of error.
        first = (str(exc).splitlines() or [""])[0][:120] or type(exc).__name__
        raise ScoreError(f"{path} cannot be read as {kind.name} ({first}); {_BETTER}") from exc
    if stumbled:
        remarks.append(
            f"At {stumbled} places the {kind.name} file could not be read and was passed over."
        )
    return root, remarks + more


def _decoded(data: bytes) -> str:
    for encoding in ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig",):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            _LOG.info("not %s; read as Latin-1", encoding)
    return data.decode("latin-1")


def _parsed(text: str, kind: _Format) -> tuple[Any, list[str]]:
    from music21 import converter, stream  # slow to import, and seldom needed

    opened: Any = converter.Converter()
    opened.parseData(text, format=kind.library)
    score: Any = opened.stream
    if not isinstance(score, stream.Opus):
        return score, []
    pieces = list(score.scores)
    if not pieces:
        raise ScoreError(f"the {kind.name} file has no piece in it")
    said = f"The file holds {len(pieces)} pieces; only the first was read."
    return pieces[0], [said] if len(pieces) > 1 else []


def _exported(score: Any) -> bytes:
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    if not score.recurse().notes:
        raise ScoreError("it has no notes in it; nothing can be listened for")
    writer: Any = GeneralObjectExporter(score)
    data: bytes = writer.parse()
    return data
