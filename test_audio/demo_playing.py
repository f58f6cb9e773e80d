"""Plays the demo overture: tempo, levels, sections of players and the room, one stem a part."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import demo_music as music
import numpy as np
from demo_reading import Event, midi, read
from demo_sound import (
    RATE,
    Recording,
    Sound,
    brighten,
    kettledrum,
    load,
    nearest,
    pizzicato,
    recorded_note,
    xylophone,
)
from scipy.signal import fftconvolve

LEAD_S, TAIL_S = 0.6, 2.6


@dataclass(frozen=True, slots=True)
class Voice:
    """How a part sounds.

    Parameters
    ----------
    source
        Package of recorded notes, or the name of a made sound.
    forte_db
        Sound power of one player at f, dB re 1 pW: after J. Meyer, "Acoustics and the
        Performance of Music", 5th ed., Springer 2009, chapter 3, from memory and rounded.
        Saxophone, xylophone, timpani and harp are estimates; horns 3 dB less, since their bells
        point away.
    step_db
        Change from one dynamic mark to the next.
    tilt_db
        Change above 3 kHz from one mark to the next: brass brightens most.
    pan
        -1 left to 1 right, as the listener sees the stage.
    register
        Pitch and dB pairs: where the instrument speaks weakly or strongly (common
        practice, no source).
    lean
        Semitones above the wanted pitch from which a recording is preferred.
    release_s
        How long a note takes to stop.
    tau_s
        Time constant of a plucked note.
    pluck_db
        First 0.2 s of a plucked note against a bowed one, an estimate.
    """

    source: str
    forte_db: float
    step_db: float
    tilt_db: float
    pan: float
    register: tuple[tuple[int, float], ...] = ((60, 0.0),)
    lean: float = 0.0
    release_s: float = 0.09
    tau_s: float = 0.3
    pluck_db: float = -4.0


LOW_FLUTE = ((60, -9.0), (67, -6.0), (72, -3.0), (79, 0.0), (84, 2.0), (96, 4.0))
THROAT = ((52, 1.0), (60, 0.0), (66, -2.0), (70, -2.0), (72, 0.0), (84, 2.0))
VOICES = {
    "flute": Voice("flute", 91, 4.5, 1.5, -0.15, LOW_FLUTE),
    "clarinet": Voice("clarinet", 93, 5.5, 1.5, -0.1, THROAT),
    "saxophone": Voice("saxophone", 95, 5.0, 1.5, 0.1),
    "bassoon": Voice("bassoon", 93, 5.0, 1.5, 0.15),
    "horn-1": Voice("french-horn", 99, 6.0, 3.0, -0.4),
    "horn-2": Voice("french-horn", 99, 6.0, 3.0, -0.45),
    "trumpet": Voice("trumpet", 101, 5.5, 3.0, 0.3),
    "trombone": Voice("trombone", 101, 6.0, 3.0, 0.4),
    "tuba": Voice("tuba", 102, 5.5, 2.5, 0.5),
    "timpani": Voice("kettledrum", 103, 5.0, 0.0, -0.05),
    "xylophone": Voice("xylophone", 102, 5.0, 0.0, -0.3),
    "harp": Voice("harp", 86, 5.0, 1.0, -0.5, release_s=0.6),
    "violin-1": Voice("violin", 89, 5.0, 0.8, -0.6),
    "violin-2": Voice("violin", 89, 5.0, 0.8, -0.3, tau_s=0.13),
    "viola": Voice("violin", 87, 5.0, 0.8, 0.3, lean=3.0, tau_s=0.25, pluck_db=-1.0),
    "violoncello": Voice("cello", 90, 5.0, 0.8, 0.55, tau_s=0.4, pluck_db=-2.0),
    "double-bass": Voice("contrabass", 92, 5.0, 0.8, 0.65, tau_s=0.9, pluck_db=2.0),
}
ACCENT_DB = 3.0
MADE = ("kettledrum", "xylophone")


def seconds(quarters: np.ndarray) -> np.ndarray:
    """Time of each place, from the page's tempi, a ritardando and a slow breathing of 2 %."""
    grid = np.arange(0, music.BARS * music.BEATS * 48 + 1) / 48.0
    bars = grid / music.BEATS + 1.0
    rate = np.zeros_like(grid)
    for first, (_, value) in music.TEMPI.items():
        rate[bars >= first] = value
    rate *= 1.0 + 0.02 * np.sin(2.0 * np.pi * grid / 16.0)
    first, last = music.RITARDANDO
    late = bars >= first
    start = 0.85 * rate[late][0]
    rate[late] = start + (last - start) * np.linspace(0.0, 1.0, late.sum())
    steps = np.diff(grid) * 60.0 / (0.5 * (rate[1:] + rate[:-1]))
    return LEAD_S + np.interp(quarters, grid, np.concatenate([[0.0], np.cumsum(steps)]))


def _sounding(event: Event, onset: float, end: float) -> float:
    """Seconds a note is held."""
    written = end - onset
    if "'" in event.marks:
        return 0.5 * written
    return written + (0.03 if "(" in event.marks or "~" in event.marks else -0.04)


def _merge_ties(bars: list[list[Event]]) -> list[Event]:
    out: list[Event] = []
    for event in (e for bar in bars for e in bar if e.names):
        held = out[-1] if out and "~" in out[-1].marks else None
        if held is not None and held.names == event.names:
            held.length += event.length
            held.marks = held.marks.replace("~", "") + event.marks
        else:
            out.append(event)
    return out


class Player:
    """Plays one part into a mono buffer."""

    def __init__(self, part: music.DemoPart, bank: Path, rng: np.random.Generator) -> None:
        self.part, self.voice, self.rng = part, VOICES[part.key], rng
        made = self.voice.source in MADE
        folder = bank / f"tonejs-instrument-{self.voice.source}-mp3"
        self.recordings: list[Recording] = [] if made else load(folder)

    def play(self, size: int) -> Sound:
        """Return the part, dry, shape (size,)."""
        out = np.zeros(size)
        for stave in self.part.staves:
            for event in _merge_ties(read(stave)):
                onset, end = seconds(np.array([event.onset, event.onset + event.length]))
                for name in event.names:
                    self._note(out, event, midi(name), onset, _sounding(event, onset, end))
        return out

    def _level(self, event: Event, pitch: int) -> float:
        places, gains = zip(*self.voice.register, strict=True)
        level = self.voice.forte_db + self.voice.step_db * (event.dynamic - 4.0)
        level += float(np.interp(pitch, places, gains))
        level += ACCENT_DB if ">" in event.marks else 0.0
        return level + (self.voice.pluck_db if event.pizz else 0.0)

    def _note(self, out: Sound, event: Event, pitch: int, onset: float, held: float) -> None:
        level = self._level(event, pitch) + self.rng.normal(0.0, 0.6)
        strokes = np.arange(0.0, held, 1.0 / 13.0) if "*" in event.marks else np.zeros(1)
        copies = min(self.part.players, 5)
        gain = 10.0 ** ((level + 10.0 * np.log10(self.part.players / copies)) / 20.0)
        for stroke in strokes:
            for copy in range(copies):
                sound = self._one(event, pitch, held, copy) * gain
                late = np.clip(self.rng.normal(0.0, 0.005), -0.01, 0.01)
                late += self.rng.uniform(0.0, 0.022) if copies > 1 else 0.0
                start = int((onset + stroke + late) * RATE)
                stop = min(start + sound.size, out.size)
                out[start:stop] += sound[: stop - start]

    def _one(self, event: Event, pitch: int, held: float, copy: int) -> Sound:
        voice, louder = self.voice, event.dynamic - 3.0
        if voice.source == "kettledrum":
            return kettledrum(pitch, louder, self.rng)
        if voice.source == "xylophone":
            return xylophone(pitch, louder, self.rng)
        tuned = pitch + (self.rng.normal(0.0, 0.06) if self.part.players > 1 else 0.0)
        if event.pizz:
            return pizzicato(tuned, voice.tau_s, louder, self.rng)
        near = nearest(self.recordings, pitch, voice.lean)
        recording = near[copy % min(len(near), 2)]
        ring = voice.source == "harp"
        note = recorded_note(
            recording, tuned, held + (1.2 if ring else 0.0), voice.release_s, ring
        )
        return brighten(note, voice.tilt_db * louder)


def room(rng: np.random.Generator) -> tuple[Sound, Sound]:
    """Two impulse responses of a small hall: noise dying by 60 dB in 1.3 s, sooner up high."""
    t = np.arange(int(1.5 * RATE)) / RATE
    sides = []
    for _ in range(2):
        spectrum = np.zeros(t.size)
        for low, high, rt in (
            (0, 500, 1.4),
            (500, 2000, 1.25),
            (2000, 6000, 0.9),
            (6000, 16000, 0.5),
        ):
            noise = np.fft.rfft(rng.standard_normal(t.size))
            hz = np.fft.rfftfreq(t.size, 1.0 / RATE)
            noise[(hz < max(low, 60)) | (hz >= high)] = 0.0
            spectrum += np.fft.irfft(noise, t.size) * np.exp(-6.9 * t / rt)
        spectrum = np.concatenate([np.zeros(int(0.02 * RATE)), spectrum])
        sides.append(spectrum / np.sqrt(np.sum(spectrum**2)))
    return sides[0], sides[1]


def in_the_room(
    dry: Sound, pan: float, hall: tuple[Sound, Sound], wet_db: float = -7.0
) -> Sound:
    """Place a dry part on the stage: shape (2, samples)."""
    angle = (pan + 1.0) * np.pi / 4.0
    wet = 10.0 ** (wet_db / 20.0)
    sides = [
        direct * dry + wet * fftconvolve(dry, response)[: dry.size]
        for direct, response in zip((np.cos(angle), np.sin(angle)), hall, strict=True)
    ]
    return np.stack(sides)


def play_all(bank: Path, seed: int = 2026) -> dict[str, Sound]:
    """Play every part: stereo stems by part key, shape (2, samples), at one common scale."""
    rng = np.random.default_rng(seed)
    hall = room(rng)
    end = float(seconds(np.array([music.BARS * music.BEATS]))[0])
    size = int((end + TAIL_S) * RATE)
    return {
        part.key: in_the_room(Player(part, bank, rng).play(size), VOICES[part.key].pan, hall)
        for part in music.PARTS
    }
