"""Scores in other formats than MusicXML, turned into it on the way in.

MIDI is read here; MEI, Humdrum and ABC are read by the music library, which knows them in
part. What a format cannot say is listed for the report.
"""

from __future__ import annotations

import json
import logging
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, fromstring

from auditor.errors import ScoreError
from auditor.score import foreign, midi_page, passed_over
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
# The library took 0.4 s of processor time for a kB of Humdrum and 0.6 s for one of ABC, less
# for longer files, and 1 s to start; several times that is allowed.
_LEAST_SECONDS, _SECONDS_PER_KB, _MOST_SECONDS = 20, 1.5, 900
_WAITING = 10.0
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
        "MEI was read as far as the music library knows it, with the dynamics, hairpins, "
        "words, tempo and rehearsal marks, fermatas and trills of its bars; tremolos, pedals, "
        "jumps and octave lines may be missing.",
    ),
    ".krn": _Format(
        "Humdrum",
        "humdrum",
        "Humdrum kern was read as far as the music library knows it, with the dynamics of its "
        "dynam spines and the words of its layout comments; other words, jumps and "
        "transpositions may be missing.",
    ),
    ".abc": _Format(
        "ABC",
        "abc",
        "ABC was read as far as the music library knows it: notes, hairpins, tempo and the "
        "names of voices; dynamics, fermatas, trills, words and transpositions may be missing.",
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
    head, data, stumbled = _from_library(path, text, kind)
    if "fault" in head:
        raise ScoreError(f"{path} cannot be read as {kind.name} ({head['fault']}); {_BETTER}")
    remarks = [kind.unsaid]
    if stumbled:
        remarks.append(
            f"At {stumbled} places the {kind.name} file could not be read and was passed over."
        )
    if head["pieces"] > 1:
        remarks.append(f"The file holds {head['pieces']} pieces; only the first was read.")
    root = fromstring(data)
    octaves = passed_over.add(root, text, kind.library)
    if octaves:
        remarks.append(
            f"{octaves} octave lines were passed over; notes under them may be an octave off."
        )
    return root, remarks


def _from_library(path: Path, text: str, kind: _Format) -> tuple[dict[str, Any], bytes, int]:
    """What `foreign` makes of a text: its head, MusicXML, and how often it stumbled."""
    body = text.encode("utf-8", "replace")
    seconds = min(_MOST_SECONDS, _LEAST_SECONDS + round(_SECONDS_PER_KB * len(body) / 1000))
    call = [sys.executable, "-P", foreign.__file__, kind.library, str(seconds)]
    try:
        # The process counts its own time; the clock, which also counts its waiting on a busy
        # machine, is only asked where the system cannot do that.
        done = subprocess.run(
            call, input=body, capture_output=True, check=False, timeout=_WAITING * seconds
        )
    except subprocess.TimeoutExpired:
        done = None
    head, _, data = (b"" if done is None else done.stdout).partition(b"\n")
    if done is None or done.returncode or not head:
        _LOG.info("%s: the music library ended with %s", path, done and done.returncode)
        raise ScoreError(
            f"{path} kept the music library busy beyond the {seconds} s or the memory that "
            f"a score of its size may take, so something in it is broken; {_BETTER}"
        )
    return json.loads(head), data, done.stderr.count(b"WARNING")


def _decoded(data: bytes) -> str:
    for encoding in ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig",):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            _LOG.info("not %s; read as Latin-1", encoding)
    return data.decode("latin-1")
