"""What a sound file's own header promises, beside what the file holds.

The decoder reads a file that was cut short as a shorter one without complaint, so
the chunk sizes are compared with the file here.

References
----------
.. [1] IBM and Microsoft, Multimedia Programming Interface and Data Specifications 1.0
       (1991): RIFF WAVE.
.. [2] EBU Tech 3306, RF64; ITU-R BS.2088, BW64: 64-bit sizes in the ds64 chunk.
.. [3] Apple, Audio Interchange File Format 1.3 (1989); Core Audio Format specification.
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import BinaryIO

_UNKNOWN = (0, 0xFFFFFFFF)  # sizes that programs write when they stream
_W64_DATA = bytes.fromhex("64617461f3acd3118cd100c04f8edb8a")


def missing_share(path: Path) -> float:
    """Share of the promised sound bytes that the file does not hold.

    Parameters
    ----------
    path
        Any file; WAVE, RF64, BW64, W64, AIFF and CAF are understood.

    Returns
    -------
    float
        0 where nothing is missing, or where the container makes no promise.
    """
    with path.open("rb") as file:
        found = _data_chunk(file)
    if found is None:
        return 0.0
    start, promised = found
    present = max(0, path.stat().st_size - start)
    return 0.0 if promised <= present else 1.0 - present / promised


def _data_chunk(file: BinaryIO) -> tuple[int, int] | None:
    """Start and promised size in bytes of the chunk that holds the samples."""
    head = file.read(12)
    kind, form = head[:4], head[8:12]
    if kind in (b"RIFF", b"RF64", b"BW64") and form == b"WAVE":
        return _riff(file)
    if kind == b"FORM" and form in (b"AIFF", b"AIFC"):
        return _chunks(file, 12, ">I", b"SSND", even=True)
    if kind == b"riff":
        return _w64(file)
    if kind == b"caff":
        return _chunks(file, 8, ">q", b"data", even=False)
    return None


def _riff(file: BinaryIO) -> tuple[int, int] | None:
    wide = _chunks(file, 12, "<I", b"ds64", even=True)
    found = _chunks(file, 12, "<I", b"data", even=True)
    if wide is not None and (found is None or found[1] in _UNKNOWN):
        file.seek(wide[0] + 8)
        size = struct.unpack("<Q", file.read(8).ljust(8, b"\0"))[0]
        start = found[0] if found else _find(file, b"data")
        return (start, size) if start is not None else None
    return None if found is None or found[1] in _UNKNOWN else found


def _find(file: BinaryIO, name: bytes) -> int | None:
    """First byte after a chunk's head, looked for in the first 64 KiB."""
    file.seek(0)
    place = file.read(65536).find(name)
    return None if place < 0 else place + 8


def _chunks(
    file: BinaryIO, at: int, size_format: str, wanted: bytes, *, even: bool
) -> tuple[int, int] | None:
    """Walk chunks of a four-letter name and a size until the wanted one."""
    width = struct.calcsize(size_format)
    file.seek(at)
    while len(head := file.read(4 + width)) == 4 + width:
        size = int(struct.unpack(size_format, head[4:])[0])
        if head[:4] == wanted:
            return (file.tell(), size) if size > 0 else None
        if size < 0:
            return None
        file.seek(size + (size & 1 if even else 0), 1)
    return None


def _w64(file: BinaryIO) -> tuple[int, int] | None:
    """Chunks of Sony Wave64: 16-byte names, sizes that count their own head."""
    file.seek(40)
    while len(head := file.read(24)) == 24:
        size = int(struct.unpack("<Q", head[16:])[0])
        if head[:16] == _W64_DATA:
            return file.tell(), max(0, size - 24)
        if size < 24:
            return None
        file.seek((size - 24 + 7) // 8 * 8, 1)
    return None
