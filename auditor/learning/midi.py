"""A sheet as a Standard MIDI File (format 0, after the MIDI Association's RP-001)."""

from __future__ import annotations

import struct
from collections.abc import Iterator

from auditor.learning.kit import BAR_QUARTERS, TEMPO, Sheet

TICKS = 480  # per quarter
# Key velocities of p, mf, ff as notation programs send them (common practice, no source).
VELOCITY = {1: 49, 3: 80, 5: 112}
_DRUM_CHANNEL = 9  # General MIDI: channel 10
_MIDDLE_C = 60


def _length(value: int) -> bytes:
    """Variable-length quantity."""
    out = [value & 127]
    while value := value >> 7:
        out.insert(0, value & 127 | 128)
    return bytes(out)


def _meta(kind: int, data: bytes) -> bytes:
    return bytes([0xFF, kind]) + _length(len(data)) + data


def _events(sheet: Sheet, controller: int | None) -> Iterator[tuple[int, int, bytes]]:
    """Tick, rank among equals, message."""
    channel = 0 if sheet.drum is None else _DRUM_CHANNEL
    yield 0, 0, _meta(0x03, sheet.name.encode())
    yield 0, 1, _meta(0x51, round(60e6 / TEMPO).to_bytes(3, "big"))
    yield 0, 2, _meta(0x58, bytes([BAR_QUARTERS, 2, 24, 8]))
    if sheet.drum is None:
        yield 0, 3, bytes([0xC0 | channel, sheet.program - 1])
    loud = None
    for note in sheet.notes:
        on, off = (round(q * TICKS) for q in (note.onset, note.onset + note.duration))
        key = note.pitch or sheet.drum or _MIDDLE_C
        if controller is not None and note.dynamic != loud:
            loud = note.dynamic
            # A little before the note, so that the patch has the layer when it begins.
            yield (
                max(on - TICKS // 8, 0),
                4,
                bytes([0xB0 | channel, controller, VELOCITY[loud]]),
            )
        yield on, 6, bytes([0x90 | channel, key, VELOCITY[note.dynamic]])
        yield off, 5, bytes([0x80 | channel, key, 0])
    yield sheet.bars * BAR_QUARTERS * TICKS, 9, _meta(0x2F, b"")


def midi_of(sheet: Sheet, controller: int | None = None) -> bytes:
    """Bytes of the file.

    Parameters
    ----------
    controller
        MIDI controller that also carries the dynamic, as many held patches want it.
    """
    body, last = b"", 0
    for tick, _, message in sorted(_events(sheet, controller), key=lambda e: e[:2]):
        body += _length(tick - last) + message
        last = tick
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, TICKS)
    return head + b"MTrk" + struct.pack(">I", len(body)) + body
