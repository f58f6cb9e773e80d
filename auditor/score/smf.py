"""Standard MIDI files taken apart: notes, names, programs, tempo, time and key, by track.

The format is that of "Standard MIDI Files 1.0" (MIDI Manufacturers Association, RP-001).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from auditor.errors import ScoreError

DRUM_CHANNEL = 9  # channel 10 of General MIDI, counted from 0
_MOST_NOTES = 1_000_000
# Data bytes of channel messages by their high four bits (RP-001, MIDI 1.0 table 1).
_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}


@dataclass(slots=True)
class MidiNote:
    """One key held down; ticks, MIDI key and velocity."""

    onset: int
    end: int
    key: int
    velocity: int


@dataclass(slots=True)
class MidiPart:
    """What one track plays on one channel."""

    track: int
    channel: int
    name: str = ""
    program: int | None = None
    notes: list[MidiNote] = field(default_factory=list)


@dataclass(slots=True)
class MidiFile:
    """A file in ticks.

    Parameters
    ----------
    ticks
        A quarter note.
    parts
        By track and channel.
    tempos
        Tick and quarters per minute.
    times
        Tick, beats and beat unit.
    keys
        Tick and sharps (flats below 0).
    """

    ticks: int
    title: str = ""
    parts: list[MidiPart] = field(default_factory=list)
    tempos: list[tuple[int, float]] = field(default_factory=list)
    times: list[tuple[int, int, int]] = field(default_factory=list)
    keys: list[tuple[int, int]] = field(default_factory=list)


class _Reader:
    """Bytes of one chunk, read from the front."""

    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0

    def byte(self) -> int:
        if self.at >= len(self.data):
            raise ScoreError("a track of the MIDI file is cut off")
        self.at += 1
        return self.data[self.at - 1]

    def take(self, count: int) -> bytes:
        if self.at + count > len(self.data):
            raise ScoreError("a track of the MIDI file is cut off")
        self.at += count
        return self.data[self.at - count : self.at]

    def variable(self) -> int:
        """Read a variable-length quantity: seven bits a byte, at most four bytes."""
        value = 0
        for _ in range(4):
            byte = self.byte()
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise ScoreError("the MIDI file holds a number longer than MIDI allows")

    def done(self) -> bool:
        return self.at >= len(self.data)


def parse(data: bytes) -> MidiFile:
    """Take a MIDI file apart.

    Raises
    ------
    ScoreError
        If it is no MIDI file, is cut off, or counts frames instead of beats.
    """
    chunks = list(_chunks(data))
    if not chunks or chunks[0][0] != b"MThd" or len(chunks[0][1]) < 6:
        raise ScoreError("the file is no MIDI file (it does not begin with MThd)")
    division = int.from_bytes(chunks[0][1][4:6], "big")
    if division & 0x8000 or division == 0:
        raise ScoreError("the MIDI file counts video frames instead of beats; export it again")
    found = MidiFile(division)
    tracks = [body for kind, body in chunks[1:] if kind == b"MTrk"]
    for number, body in enumerate(tracks):
        _track(found, number, _Reader(body))
    for each in (found.tempos, found.times, found.keys):
        each.sort(key=lambda item: item[0])
    return found


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 0
    while at + 8 <= len(data):
        size = int.from_bytes(data[at + 4 : at + 8], "big")
        yield data[at : at + 4], data[at + 8 : at + 8 + size]
        at += 8 + size


def _track(found: MidiFile, number: int, reader: _Reader) -> None:
    tick, status, name = 0, 0, ""
    parts: dict[int, MidiPart] = {}
    held: dict[tuple[int, int], list[MidiNote]] = {}
    count = 0
    while not reader.done():
        tick += reader.variable()
        byte = reader.byte()
        if byte == 0xFF:
            kind = reader.byte()
            body = reader.take(reader.variable())
            if kind == 0x2F:
                break
            name = name or (_text(body) if kind in (0x03, 0x04) else "")
            _meta(found, tick, kind, body)
            continue
        if byte in (0xF0, 0xF7):
            reader.take(reader.variable())
            continue
        status, first = (byte, None) if byte >= 0x80 else (status, byte)
        if status >> 4 not in _DATA_BYTES:
            raise ScoreError("a track of the MIDI file holds bytes that are no MIDI message")
        values = [first] if first is not None else []
        values += [reader.byte() for _ in range(_DATA_BYTES[status >> 4] - len(values))]
        count += status >> 4 == 0x9
        if count > _MOST_NOTES:
            raise ScoreError(f"a track of the MIDI file has more than {_MOST_NOTES} notes")
        channel = status & 0xF
        part = parts.setdefault(channel, MidiPart(number, channel))
        _message(part, held, tick, status >> 4, [int(v or 0) & 0x7F for v in values])
    for waiting in held.values():
        for note in waiting:
            note.end = max(note.onset + 1, tick)
    for part in parts.values():
        part.name = name
        if part.notes:
            found.parts.append(part)
    if number == 0 and not any(part.notes for part in parts.values()):
        found.title = name


def _message(
    part: MidiPart,
    held: dict[tuple[int, int], list[MidiNote]],
    tick: int,
    kind: int,
    values: list[int],
) -> None:
    if kind == 0xC and part.program is None:
        part.program = values[0]
    elif kind == 0x9 and values[1] > 0:
        note = MidiNote(tick, tick, values[0], values[1])
        part.notes.append(note)
        held.setdefault((part.channel, values[0]), []).append(note)
    elif kind in (0x8, 0x9):
        waiting = held.get((part.channel, values[0]))
        if waiting:
            waiting.pop(0).end = tick


def _meta(found: MidiFile, tick: int, kind: int, body: bytes) -> None:
    if kind == 0x51 and len(body) == 3 and any(body):
        found.tempos.append((tick, 60e6 / int.from_bytes(body, "big")))
    elif kind == 0x58 and len(body) >= 2 and body[0] and body[1] <= 6:
        found.times.append((tick, body[0], 2 ** body[1]))
    elif kind == 0x59 and len(body) >= 1:
        sharps = int.from_bytes(body[:1], "big", signed=True)
        if -7 <= sharps <= 7:
            found.keys.append((tick, sharps))


def _text(body: bytes) -> str:
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        text = body.decode("latin-1")
    return " ".join("".join(c for c in text if c.isprintable() or c == " ").split())
