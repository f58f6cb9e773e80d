"""Opening a MusicXML file that may be broken, huge or hostile.

Nothing reaches the music library before the bytes have been unpacked under a
cap and the XML has been parsed with entities forbidden.
"""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError, fromstring

from defusedxml import ElementTree as SafeXML
from defusedxml.common import DefusedXmlException

from auditor.errors import ScoreError

# A late-romantic movement of 25 staves and 511 bars is 13 MB of XML; twenty times
# that is room enough, and a bomb unpacks to gigabytes.
MAX_XML_BYTES = 256 * 1024 * 1024
_ZIP_MAGIC = b"PK"
# What the archive reader raises: false offsets in a directory are a ValueError or OSError.
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    RuntimeError,
    NotImplementedError,
    OSError,
    LookupError,
    ValueError,
)
_WRITE_AGAIN = "export it again as MusicXML from the notation program"


def open_xml(path: Path) -> Element:
    """Root of a MusicXML file, always part-wise.

    Parameters
    ----------
    path
        ``.musicxml``, ``.xml`` or compressed ``.mxl``.

    Raises
    ------
    ScoreError
        If there is no such file, or it holds no MusicXML that can be used.
    """
    return _root(path, _xml_bytes(path))


def read_bytes(path: Path, most: int = MAX_XML_BYTES) -> bytes:
    """Bytes of a file that is one, is not empty and is no larger than `most`.

    Raises
    ------
    ScoreError
        If it is missing, a folder, a pipe or a device, empty, too large or unreadable.
    """
    try:
        status = path.stat()
        # A pipe or a device would be read for ever, or never begin.
        if stat.S_ISDIR(status.st_mode):
            raise ScoreError(f"{path} is a folder; name a score file")
        if not stat.S_ISREG(status.st_mode):
            raise ScoreError(f"{path} is not an ordinary file; name a score file")
        if status.st_size > most:
            size = most // (1024 * 1024)
            raise ScoreError(f"{path} is larger than {size} MB; that is not a score")
        data = path.read_bytes()
    except FileNotFoundError as exc:
        raise ScoreError(f"{path} does not exist; name a score file") from exc
    except OSError as exc:
        reason = getattr(exc, "strerror", None) or exc
        raise ScoreError(f"{path} cannot be opened ({reason})") from exc
    if not data.strip():
        raise ScoreError(f"{path} is empty; {_WRITE_AGAIN}")
    return data


def _xml_bytes(path: Path) -> bytes:
    data = read_bytes(path)
    if data.startswith(_ZIP_MAGIC):
        return _unpacked(path, data)
    if path.suffix.lower() == ".mxl":
        raise ScoreError(f"{path} is not a zip archive as .mxl must be; {_WRITE_AGAIN}")
    return data


def _unpacked(path: Path, data: bytes) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _member(path, archive, score_name(path, archive))
    except ScoreError:
        raise
    except _DAMAGED as exc:
        raise ScoreError(f"{path} is a damaged zip archive; {_WRITE_AGAIN}") from exc


def score_name(path: Path, archive: zipfile.ZipFile) -> str:
    """Name of the archive's member that holds the score."""
    names = archive.namelist()
    if "META-INF/container.xml" in names:
        container = _root(path, _member(path, archive, "META-INF/container.xml"), check=False)
        for entry in container.iter():
            if entry.tag.endswith("rootfile") and entry.get("full-path") in names:
                return str(entry.get("full-path"))
    for name in names:
        if name.lower().endswith((".musicxml", ".xml")) and not name.startswith("META-INF"):
            return name
    raise ScoreError(f"{path} is a zip archive without MusicXML in it; {_WRITE_AGAIN}")


def _member(path: Path, archive: zipfile.ZipFile, name: str) -> bytes:
    # The declared size can lie, so the bytes that really come out are counted too.
    declared = archive.getinfo(name).file_size
    with archive.open(name) as member:
        data = member.read(MAX_XML_BYTES + 1) if declared <= MAX_XML_BYTES else b""
    if declared > MAX_XML_BYTES or len(data) > MAX_XML_BYTES:
        raise ScoreError(f"{path} unpacks to more than {_megabytes()} MB; that is not a score")
    return data


def _megabytes() -> int:
    return MAX_XML_BYTES // (1024 * 1024)


def _root(path: Path, data: bytes, *, check: bool = True) -> Element:
    try:
        root = _parsed(data)
    except DefusedXmlException as exc:
        raise ScoreError(
            f"{path} defines XML entities, which MusicXML never needs and which can fill "
            f"the memory; {_WRITE_AGAIN}"
        ) from exc
    except (ParseError, ValueError, LookupError) as exc:
        raise ScoreError(f"{path} is not readable XML ({exc}); {_WRITE_AGAIN}") from exc
    return _part_wise(path, root) if check else root


def _parsed(data: bytes) -> Element:
    # Where no entity can be declared the quick parser is as safe as the careful one, which
    # is three times slower: in UTF-8, Latin-1 and ASCII the word stands in plain bytes.
    root: Element
    if b"<!ENTITY" in data or b"\x00" in data[:64]:
        root = SafeXML.fromstring(data)
    else:
        root = fromstring(data)
    return root


def _part_wise(path: Path, root: Element) -> Element:
    if root.tag == "score-timewise":
        root = _turned(root)
    if root.tag != "score-partwise":
        raise ScoreError(
            f"{path} is XML of something else (its root is <{root.tag[:40]}>, expected "
            f"<score-partwise>); {_WRITE_AGAIN}"
        )
    if root.find("part-list") is None or root.find("part/measure") is None:
        raise ScoreError(f"{path} has no part with a bar in it; {_WRITE_AGAIN}")
    _name_parts(root)
    return root


def _name_parts(root: Element) -> None:
    """Give parts without an identifier that of the list, by position."""
    for head, body in zip(
        root.findall("part-list/score-part"), root.findall("part"), strict=False
    ):
        if body.get("id") is None:
            body.set("id", head.get("id") or "P1")
            head.set("id", body.get("id", ""))


def _turned(root: Element) -> Element:
    """Part-wise form of a time-wise score, with the same elements inside."""
    out = Element("score-partwise", root.attrib)
    out.extend(child for child in root if child.tag != "measure")
    parts: dict[str, Element] = {}
    for bar in root.findall("measure"):
        for piece in bar.findall("part"):
            part = parts.setdefault(piece.get("id", ""), Element("part", piece.attrib))
            measure = Element("measure", bar.attrib)
            measure.extend(list(piece))
            part.append(measure)
    out.extend(parts.values())
    return out
