"""Findings written into the user's own score, at their bars, as words above the staff.

Nothing is written out anew: text is put into the file at byte offsets, so every other byte
stays as the notation program left it. In a compressed file every other member does.
"""

from __future__ import annotations

import io
import textwrap
import zipfile
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from xml.parsers import expat
from xml.sax.saxutils import escape

from auditor.auditing import Audit
from auditor.errors import ScoreError
from auditor.report.places import bars_in_words
from auditor.report.printing import concerns
from auditor.score.opening import score_name

# What stands at the head of a bar, before which words would be odd.
_HEAD = ("print", "attributes", "barline", "sound", "listening", "bookmark", "link", "grouping")
_ZIP_MAGIC = b"PK"
# Letters in a line above the staff; longer ones would run over the margin.
WIDTH = 64

# Part number and 0-based bar of the page.
Place = tuple[int, int]


def annotated(audit: Audit, path: Path) -> tuple[str, bytes]:
    """Put the findings of an audit into its score.

    Parameters
    ----------
    audit
        What was found; what works is left out, what needs work and the remarks on craft
        are written.
    path
        The score that was audited, plain or compressed.

    Returns
    -------
    str, bytes
        File name, ``annotated.musicxml`` or ``annotated.mxl``, and what it holds.

    Raises
    ------
    ScoreError
        If the file has changed since it was read, or cannot be written into.
    """
    words = words_by_place(audit)
    data = path.read_bytes()
    if not data.startswith(_ZIP_MAGIC):
        return "annotated.musicxml", with_words(data, words)
    return "annotated.mxl", _in_archive(path, data, words)


def words_by_place(audit: Audit) -> dict[Place, tuple[str, ...]]:
    """What is written where, the heaviest finding of a bar first."""
    found: dict[Place, list[str]] = defaultdict(list)
    bars = audit.score.bars
    for number, finding in enumerate(concerns(audit), start=1):
        where = bars_in_words(audit.score, finding.first_bar, finding.last_bar)
        sentence = finding.sentence.removeprefix(f"{where[0].upper()}{where[1:]}: ")
        place = finding.parts[0], bars[finding.first_bar].written_index
        found[place].append(f"[{number}, {where}] {sentence}")
    for remark in audit.craft:
        where = bars_in_words(audit.score, remark.first_bar, remark.last_bar)
        part = remark.part or audit.score.parts[0].number
        place = part, bars[remark.first_bar].written_index
        found[place].append(f"[{remark.weight}, {where}] {remark.sentence}")
    return {place: tuple(dict.fromkeys(said)) for place, said in found.items()}


def with_words(data: bytes, words: Mapping[Place, Sequence[str]]) -> bytes:
    """Put words into a MusicXML file, part-wise or time-wise.

    Parameters
    ----------
    data
        The file, in any encoding an XML parser knows.
    words
        Sentences by part number and 0-based bar of the page.

    Returns
    -------
    bytes
        The file with a ``<direction>`` for each sentence and not a byte else changed.

    Raises
    ------
    ScoreError
        If it is no XML, or a bar that should be written into is not there.
    """
    found = _places(data, frozenset(words))
    missing = sorted(set(words) - set(found))
    if missing:
        raise ScoreError(
            f"part {missing[0][0]} has no bar {missing[0][1] + 1} to write into; was the "
            f"score changed since it was audited?"
        )
    wide = _wide(data)
    out, at = [], 0
    for offset, place in sorted((found[place], place) for place in words):
        out += [data[at:offset], *(_direction(said).encode(wide) for said in words[place])]
        at = offset
    return b"".join([*out, data[at:]])


def _direction(sentence: str) -> str:
    """One sentence as an element, in ASCII, so that any encoding of the file takes it."""
    plain = "".join(c if c.isprintable() else " " for c in sentence)
    lines = textwrap.wrap(plain, WIDTH, break_long_words=False, break_on_hyphens=False)
    text = escape("\n".join(lines)).encode("ascii", "xmlcharrefreplace").decode("ascii")
    text = text.replace("\n", "&#10;")
    return (
        '<direction placement="above"><direction-type>'
        f'<words font-style="italic" font-size="8">{text}</words>'
        "</direction-type></direction>"
    )


def _wide(data: bytes) -> str:
    """Encoding of ASCII text in a file: its own where a letter takes two bytes."""
    if data.startswith(b"\xff\xfe") or data.startswith(b"<\x00"):
        return "utf-16-le"
    if data.startswith(b"\xfe\xff") or data.startswith(b"\x00<"):
        return "utf-16-be"
    return "ascii"


@dataclass(slots=True)
class _Walk:
    """Where the walk through the file is, and which bars it has met."""

    wanted: frozenset[Place]
    parts: list[str] = field(default_factory=list)
    stack: list[str] = field(default_factory=list)
    count: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    part: str = ""
    bodies: int = 0
    bar: int = -1
    open: bool = False
    found: dict[Place, int] = field(default_factory=dict)

    def _name(self, attributes: Mapping[str, str]) -> str:
        """Identifier of a part; by position where the file gives none."""
        self.bodies += 1
        here = self.parts[self.bodies - 1] if self.bodies <= len(self.parts) else ""
        return attributes.get("id") or here

    def enters(self, name: str, attributes: Mapping[str, str]) -> Place | None:
        """Note an element; the place it begins if words go right before it."""
        self.stack.append(name)
        depth = len(self.stack)
        if name == "score-part" and depth == 3:
            self.parts.append(attributes.get("id", ""))
        elif name == "part" and depth in (2, 3):
            self.part = self._name(attributes)
            if depth == 3:
                self._begins()
        elif name == "measure" and depth == 2:
            self.bar, self.bodies = self.bar + 1, 0
        elif name == "measure" and depth == 3:
            self._begins()
        elif depth == 4 and self.open and name not in _HEAD:
            return self._here()
        return None

    def leaves(self) -> Place | None:
        """Note an end; the place if a bar ends that had nothing but its head."""
        self.stack.pop()
        if len(self.stack) == 2 and self.open:
            return self._here()
        return None

    def _begins(self) -> None:
        if self.stack[0] == "score-timewise":
            self.count[self.part] = self.bar
        self.open = True

    def _here(self) -> Place | None:
        self.open = False
        bar = self.count[self.part]
        self.count[self.part] += 1
        number = self.parts.index(self.part) + 1 if self.part in self.parts else 0
        place = number, bar
        return place if place in self.wanted and place not in self.found else None


def _places(data: bytes, wanted: frozenset[Place]) -> dict[Place, int]:
    """Byte offset of each place, before the first note or sign after the bar's head."""
    walk = _Walk(wanted)
    parser = expat.ParserCreate()

    def start(name: str, attributes: Mapping[str, str]) -> None:
        place = walk.enters(name, attributes)
        if place is not None:
            walk.found[place] = parser.CurrentByteIndex

    def end(name: str) -> None:
        place = walk.leaves()
        if place is not None:
            walk.found[place] = parser.CurrentByteIndex

    def entity(*_: object) -> None:
        raise ScoreError("the score defines XML entities, which MusicXML never needs")

    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.EntityDeclHandler = entity
    try:
        parser.Parse(data, True)
    except expat.ExpatError as err:
        raise ScoreError(f"the score is not readable XML ({err})") from err
    return walk.found


def _in_archive(path: Path, data: bytes, words: Mapping[Place, Sequence[str]]) -> bytes:
    """Write the archive again with one member changed; names, order and dates stay."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        name = score_name(path, old)
        new.comment = old.comment
        for member in old.infolist():
            held = old.read(member)
            new.writestr(member, with_words(held, words) if member.filename == name else held)
    return out.getvalue()
