"""How a performance of the alignment bench sounds: sound fonts or recorded notes, and rooms.

Recorded notes are read from the folder that the environment variable
``AUDITOR_BENCH_NOTES`` names (an ``index.csv`` with file, instrument, midi, label).
"""

from __future__ import annotations

import os
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import fonts
import numpy as np
import soundfile
from mixes_recorded import Recordings, Take, _shaped
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from auditor.score.instruments import table
from auditor.score.notes import Instrument, Score

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
RATE_HZ = 44_100
# A measured tremolo or a roll strikes this often.
_STRIKE_S = 0.085
_PIZZICATO, _DRUM = 45, 38

# General MIDI programs (from 0) for high, middle and low parts.
PALETTES = {
    "strings": ((40, 40, 48), (41, 48), (42, 42, 43)),
    "winds": ((73, 68, 71), (71, 69, 60), (70, 70)),
    "brass": ((56, 61), (60, 57), (57, 58)),
    "plucked": ((45, 13, 46), (45, 46, 12), (45, 46)),
    "mixed": ((73, 40, 68, 56), (71, 60, 41, 45), (70, 42, 57, 43)),
}
# What a score would call the players of a program.
_KEYS = {
    12: "marimba", 13: "xylophone", 40: "violin", 41: "viola", 42: "cello", 43: "double-bass",
    45: "violin", 46: "harp", 48: "string-section", 56: "trumpet", 57: "trombone", 58: "tuba",
    60: "horn", 61: "trumpet", 68: "oboe", 69: "english-horn", 70: "bassoon", 71: "clarinet",
    73: "flute",
}  # fmt: skip
# Recorded notes stand in for what was not recorded.
_RECORDED = {
    "flute": "alto-flute", "string-section": "violin", "tuba": "bass-trombone",
    "english-horn": "oboe", "harp": "double-bass pizzicato", "marimba": "xylophone",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sounding:
    """One note as it is played: index in the score, seconds, MIDI pitch actually played."""

    index: int
    on_s: float
    off_s: float
    pitch: int


@dataclass(frozen=True, slots=True)
class Playing:
    """Everything between the score and the sound file."""

    score: Score
    notes: Sequence[Sounding]
    programs: Sequence[int]
    gains: F64
    end_s: float
    cents: float = 0.0
    wet: bool = False


def programs(score: Score, palette: str, rng: np.random.Generator) -> list[int]:
    known = {entry.instrument.key: entry.program for entry in table()}
    out = []
    for line in score.lines:
        pitches = [n.pitch for n in score.notes if n.line == line.number and not n.unpitched]
        middle = float(np.median(pitches)) if pitches else 60.0
        choice = PALETTES.get(palette, PALETTES["mixed"])
        group = choice[0 if middle > 66 else 1 if middle > 54 else 2]
        drawn = int(group[rng.integers(len(group))])
        own = known.get(line.instrument.key, 41) - 1
        struck = not line.instrument.pitched or line.instrument.key == "timpani"
        out.append(max(own, 0) if palette == "written" or struck else drawn)
    return out


def named(score: Score, drawn: Sequence[int]) -> Score:
    """Write the players drawn into the score, as the page of a mock-up would name them."""
    by_key = {entry.instrument.key: entry.instrument for entry in table()}

    def of(line: int, old: Instrument) -> Instrument:
        fits = old.pitched and old.key != "timpani" and drawn[line - 1] in _KEYS
        return by_key[_KEYS[drawn[line - 1]]] if fits else old

    plucked = {k + 1 for k, p in enumerate(drawn) if p == _PIZZICATO}
    lines = tuple(replace(x, instrument=of(x.number, x.instrument)) for x in score.lines)
    notes = tuple(
        replace(n, techniques=(*n.techniques, "pizz")) if n.line in plucked else n
        for n in score.notes
    )
    return replace(score, lines=lines, notes=notes)


def render(playing: Playing, font: str, rng: np.random.Generator, wave: Path) -> None:
    """Play into a file."""
    samples = (
        _recorded(playing, rng) if font == "recorded" else _synthesised(playing, font, rng)
    )
    if playing.wet:
        samples = in_hall(samples, rng, 2.6, 1.0)
    soundfile.write(wave, 0.7 * samples / np.abs(samples).max(), RATE_HZ)


def in_hall(samples: F32, rng: np.random.Generator, rt60_s: float, share: float) -> F32:
    """Add a tail of noise that falls by 60 dB in `rt60_s`, `share` of the dry energy."""
    time = np.arange(int(rt60_s * RATE_HZ)) / RATE_HZ
    tail = rng.standard_normal(time.size) * 10 ** (-3 * time / rt60_s)
    tail[: RATE_HZ // 100] = 0
    tail *= np.sqrt(share / np.sum(tail**2))
    wet = fftconvolve(samples, tail.astype(np.float32))
    out: F32 = (np.pad(samples, (0, time.size - 1)) + wet).astype(np.float32)
    return out


def _synthesised(playing: Playing, font: str, rng: np.random.Generator) -> F32:
    channels = _channels(playing.programs)
    events = [(0, 0, bytes([0xC0 | c, playing.programs[k]])) for k, c in enumerate(channels)]
    events += [(0, 1, bytes([0xB0 | c, 91, 60])) for c in set(channels)]
    if playing.cents:
        bend = round(8192 + 8192 * playing.cents / 200)
        low, high = bend & 127, bend >> 7
        events += [(0, 1, bytes([0xE0 | c, low, high])) for c in set(channels)]
    events += _messages(playing, channels, rng)
    events.append((round(1000 * playing.end_s), 9, b"\xff\x01\x00"))
    with tempfile.TemporaryDirectory() as folder:
        midi, raw = Path(folder, "a.mid"), Path(folder, "a.wav")
        midi.write_bytes(fonts.midi_file(events))
        command = ["fluidsynth", "-ni", "-q", "-g", "0.4", "-r", "44100", "-R", "1", "-C", "0"]
        command += ["-o", "synth.polyphony=512", "-F", str(raw)]
        subprocess.run(
            [*command, str(fonts.require(font)), str(midi)], capture_output=True, check=True
        )
        samples, _ = soundfile.read(raw, dtype="float32")
    return np.asarray(samples.mean(axis=1) if playing.wet else samples, np.float32)


def _channels(drawn: Sequence[int]) -> list[int]:
    """One channel for each line while they last (10 is for drums), then shared ones."""
    free = [c for c in range(16) if c != 9]
    out: list[int] = []
    for k, program in enumerate(drawn):
        if k < len(free):
            out.append(free[k])
        else:
            shared = [c for c, p in zip(out, drawn, strict=False) if p == program]
            out.append(shared[0] if shared else free[-1])
    return out


def _messages(
    playing: Playing, channels: list[int], rng: np.random.Generator
) -> Iterator[tuple[int, int, bytes]]:
    for played in playing.notes:
        note = playing.score.notes[played.index]
        channel = 9 if note.unpitched else channels[note.line - 1]
        loud = 72 + 8 * (note.dynamic - 3) + playing.gains[note.line - 1] + rng.normal(0, 4)
        pitch = _DRUM if note.unpitched else played.pitch
        struck = bytes([0x90 | channel, pitch, int(np.clip(loud, 25, 120))])
        stopped = bytes([0x80 | channel, pitch, 0])
        for on, off in _strikes(played, "tremolo" in note.techniques):
            yield round(1000 * on), 3, struck
            yield max(round(1000 * off), round(1000 * on) + 20), 2, stopped


def _strikes(played: Sounding, tremolo: bool) -> Iterator[tuple[float, float]]:
    if not tremolo or played.off_s - played.on_s < 2 * _STRIKE_S:
        yield played.on_s, played.off_s
        return
    at = played.on_s
    while at < played.off_s - 0.5 * _STRIKE_S:
        yield at, at + 0.9 * _STRIKE_S
        at += _STRIKE_S


@cache
def _takes() -> dict[str, list[Take]]:
    folder = os.environ.get("AUDITOR_BENCH_NOTES", "")
    if not folder:
        raise SystemExit("set AUDITOR_BENCH_NOTES to a folder of recorded notes")
    return Recordings([Path(folder)]).sources[0]


def _recorded(playing: Playing, rng: np.random.Generator) -> F32:
    """Every note from the nearest recorded one; it starts 5 ms before it can be heard."""
    out = np.zeros(int((playing.end_s + 3) * RATE_HZ), np.float32)
    for played in playing.notes:
        note = playing.score.notes[played.index]
        line = playing.score.lines[note.line - 1]
        name = _RECORDED.get(line.instrument.key, line.instrument.key)
        if "pizz" in note.techniques:
            name = "double-bass pizzicato"
        takes = _takes().get(name) or _takes()["violin"]
        pitch = played.pitch + playing.cents / 100
        take = min(takes, key=lambda t: abs(t.pitch - pitch))
        held = line.instrument.kind == "sustained" and "pizz" not in note.techniques
        tone = _shaped(take, pitch, played.off_s - played.on_s, held)
        loud = 1.5 * (note.dynamic - 3) + 0.5 * playing.gains[note.line - 1] + rng.normal(0, 1)
        first = int(played.on_s * RATE_HZ)
        out[first : first + tone.size] += 10 ** (loud / 20) * tone[: out.size - first]
    return in_hall(out, rng, 1.2, 0.15)
