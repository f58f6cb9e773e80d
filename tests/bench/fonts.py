"""Sound fonts as players: note lists in, one stem per part out, through Debian's fluidsynth.

All parts are laid one after another in one MIDI file and cut apart afterwards, so a
font is loaded once for a whole passage. Two fonts of one group share samples or
lineage; whoever learns from one group is judged on the other.
"""

from __future__ import annotations

import shutil
import struct
import subprocess
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

RATE_HZ = 44_100
TAIL_S = 2.0
# Longest a released note may ring into the gap before the next part begins.
GAP_S = 1.0


@dataclass(frozen=True, slots=True)
class Font:
    """A sound font, the Debian package that brings it, and the group it belongs to."""

    path: Path
    package: str
    group: str


FONTS = {
    "fluid": Font(Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"), "fluid-soundfont-gm", "A"),
    "musescore": Font(
        Path("/usr/share/sounds/sf3/MuseScore_General_Full.sf3"),
        "musescore-general-soundfont",
        "A",
    ),
    "timgm": Font(Path("/usr/share/sounds/sf2/TimGM6mb.sf2"), "timgm6mb-soundfont", "B"),
    "csound": Font(Path("/usr/share/sounds/sf2/sf_GMbank.sf2"), "csound-soundfont", "B"),
}


@dataclass(frozen=True, slots=True)
class Played:
    """One note as a font plays it: seconds, MIDI pitch, velocity, General MIDI program."""

    onset_s: float
    offset_s: float
    pitch: int
    velocity: int
    program: int
    drum: bool = False


@dataclass(frozen=True, slots=True)
class Voice:
    """The notes of one part, and how many cents the whole part is out of tune."""

    notes: tuple[Played, ...]
    detune_cents: float = 0.0


def require(name: str) -> Path:
    """Path of a font, or a clear end of the program when something is missing."""
    if shutil.which("fluidsynth") is None:
        raise SystemExit("fluidsynth is missing; install Debian's package fluidsynth")
    if name not in FONTS:
        raise SystemExit(f"no sound font called {name}; choose from {', '.join(FONTS)}")
    font = FONTS[name]
    if not font.path.exists():
        raise SystemExit(f"{font.path} is missing; install Debian's package {font.package}")
    return font.path


def _length(value: int) -> bytes:
    """Variable-length quantity of the Standard MIDI File format."""
    out = [value & 127]
    while value := value >> 7:
        out.insert(0, value & 127 | 128)
    return bytes(out)


def midi_file(events: Iterable[tuple[int, int, bytes]]) -> bytes:
    """Write a one-track file of (milliseconds, rank among equals, message) events."""
    body = b"\x00\xff\x51\x03\x0f\x42\x40"  # one quarter a second, 1000 ticks a quarter
    last = 0
    for time, _, message in sorted(events, key=lambda event: event[:2]):
        body += _length(time - last) + message
        last = time
    body += b"\x00\xff\x2f\x00"
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000)
    return head + b"MTrk" + struct.pack(">I", len(body)) + body


def _events(voice: Voice, start_ms: int) -> Iterable[tuple[int, int, bytes]]:
    bend = int(np.clip(8192 + voice.detune_cents / 200 * 8192, 0, 16383))  # ±2 semitones
    yield start_ms, 0, bytes([0xB0, 11, 127])
    yield start_ms, 0, bytes([0xE0, bend & 127, bend >> 7])
    program = -1
    for note in sorted(voice.notes, key=lambda n: n.onset_s):
        channel = 9 if note.drum else 0
        on = start_ms + 10 + round(note.onset_s * 1000)
        off = max(on + 15, start_ms + 10 + round(note.offset_s * 1000))
        if note.program != program and not note.drum:
            program = note.program
            yield on, 2, bytes([0xC0, program])
        yield on, 3, bytes([0x90 | channel, note.pitch, note.velocity])
        yield off, 1, bytes([0x80 | channel, note.pitch, 0])


def play(voices: Sequence[Voice], font: str, seconds: float) -> NDArray[np.float32]:
    """Render every voice by itself.

    Returns
    -------
    ndarray, shape (voices, samples)
        Mono at 44.1 kHz, `seconds` plus a tail; 0 s is second 0 of the notes.
    """
    path = require(font)
    slot_ms = round((seconds + TAIL_S + GAP_S) * 1000)
    events = [event for k, voice in enumerate(voices) for event in _events(voice, k * slot_ms)]
    events.append((len(voices) * slot_ms, 9, b"\xff\x01\x00"))
    with tempfile.TemporaryDirectory() as folder:
        score, sound = Path(folder, "parts.mid"), Path(folder, "parts.wav")
        score.write_bytes(midi_file(events))
        command = ["fluidsynth", "-ni", "-q", "-g", "0.4", "-r", str(RATE_HZ), "-R", "0"]
        command += ["-C", "0", "-O", "float", "-T", "wav", "-F", str(sound), str(path)]
        done = subprocess.run([*command, str(score)], capture_output=True, check=False)
        if done.returncode or not sound.exists():
            raise SystemExit(f"fluidsynth failed on {path}: {done.stderr.decode()[-300:]}")
        joined = soundfile.read(sound, dtype="float32")[0].mean(axis=1)
    return _cut(joined, len(voices), slot_ms, seconds)


def _cut(
    joined: NDArray[np.float32], voices: int, slot_ms: int, seconds: float
) -> NDArray[np.float32]:
    size = int((seconds + TAIL_S) * RATE_HZ)
    out = np.zeros((voices, size), np.float32)
    for k in range(voices):
        start = round((k * slot_ms + 10) * RATE_HZ / 1000)
        piece = joined[start : start + size]
        out[k, : piece.size] = piece
    return out
