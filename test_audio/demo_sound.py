"""Sounds of the demo: recorded notes, resampled, and struck or plucked ones made from modes.

Sources of the made sounds: N. H. Fletcher and T. D. Rossing, "The Physics of Musical
Instruments", 2nd ed., Springer 1998: preferred modes of a kettledrum near 1, 1.5, 1.98, 2.44
and 2.89 (chapter 18), xylophone bars tuned to 1 : 3 with the next mode near 6 (chapter 19),
the plucked string (chapter 2). Quoted from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import librosa
import numpy as np
import soundfile as sf
from demo_reading import midi
from numpy.typing import NDArray

RATE = 44100
FURTHEST = 3  # semitones a recording may be resampled
# Recordings left out: their measured pitch is not the one they are named after.
MISNAMED = ("cello/As4", "clarinet/Fs6", "trumpet/As3", "trumpet/C3")

Sound = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Recording:
    """One recorded note: sounding pitch (fractional MIDI), mono samples from its attack on."""

    pitch: float
    samples: Sound


def _attack(samples: Sound) -> int:
    """Return where to start: 90 ms before half the peak level, so that slow starts are cut."""
    hop = RATE // 200
    frames = samples[: samples.size // hop * hop].reshape(-1, hop)
    level = np.sqrt(np.mean(frames**2, axis=1))
    half = int(np.argmax(level > 0.5 * level.max())) * hop
    first = int(np.argmax(level > 0.03 * level.max())) * hop
    return max(first, half - int(0.09 * RATE), 0)


def _measured(samples: Sound, named: float) -> float:
    """Pitch found near the named one, in MIDI; the name itself if the two disagree."""
    hz = 440.0 * 2.0 ** ((named - 69.0) / 12.0)
    piece = samples[int(0.1 * RATE) : int(0.6 * RATE)]
    frame = 8192 if hz < 200 else 4096
    found = librosa.yin(piece, fmin=hz / 1.5, fmax=hz * 1.5, sr=RATE, frame_length=frame)
    cents = 1200.0 * np.log2(float(np.median(found)) / hz)
    return named + cents / 100.0 if abs(cents) < 60 else named


def load(folder: Path) -> list[Recording]:
    """Read the recordings of one package folder, lowest first."""
    recordings = []
    for path in sorted(folder.glob("*.mp3")):
        name = re.match(r"([A-G]s?\d)", path.stem)
        instrument = folder.name.removeprefix("tonejs-instrument-").removesuffix("-mp3")
        if name is None or f"{instrument}/{name[1]}" in MISNAMED or " " in path.stem:
            continue
        samples, rate = sf.read(path)
        if rate != RATE:
            raise ValueError(f"{path} is at {rate} Hz, expected {RATE}")
        samples = samples[_attack(samples) :]
        recordings.append(
            Recording(_measured(samples, midi(name[1].replace("s", "#"))), samples)
        )
    return sorted(recordings, key=lambda recording: recording.pitch)


def nearest(recordings: list[Recording], pitch: float, lean: float) -> list[Recording]:
    """Return recordings within the limit of `pitch`, those near `pitch + lean` first."""
    near = [r for r in recordings if abs(r.pitch - pitch) <= FURTHEST + 0.6]
    if not near:
        raise ValueError(f"no recording within {FURTHEST} semitones of MIDI {pitch}")
    return sorted(near, key=lambda r: abs(r.pitch - pitch - lean))


def _resample(samples: Sound, ratio: float, size: int) -> Sound:
    """Read `size` samples at `ratio` times the speed, between four times finer points."""
    need = min(samples.size, int(size * ratio) + 64)
    fine = librosa.resample(samples[:need], orig_sr=1, target_sr=4, res_type="soxr_hq")
    place = np.arange(size) * ratio * 4.0
    return np.interp(place, np.arange(fine.size), fine, right=0.0)


def _looped(samples: Sound, size: int) -> Sound:
    """Lengthen a note by crossfading back into its steady middle."""
    usable = int(0.85 * samples.size)
    if size <= usable:
        return samples
    fade = int(0.12 * RATE)
    start = int(0.45 * usable)
    body = samples[start:usable].copy()
    ramp = np.sin(0.5 * np.pi * np.linspace(0.0, 1.0, fade))
    out = samples[:usable].copy()
    while out.size < size:
        out[-fade:] *= ramp[::-1]
        out[-fade:] += body[:fade] * ramp
        out = np.concatenate([out, body[fade:]])
    return out


def _even(samples: Sound, strength: float = 0.6) -> Sound:
    """Take most of a recording's own swelling out, so that the page decides the level."""
    hop = RATE // 50
    count = samples.size // hop
    if count < 8:
        return samples
    level = np.sqrt(np.mean(samples[: count * hop].reshape(count, hop) ** 2, axis=1)) + 1e-6
    smooth = np.convolve(np.pad(level, 7, mode="edge"), np.ones(15) / 15, mode="valid")
    gain = np.clip((np.median(smooth) / smooth) ** strength, 0.5, 2.0)
    gain[:4] = gain[4]
    place = np.arange(samples.size) / hop - 0.5
    return samples * np.interp(place, np.arange(count), gain)


def recorded_note(
    recording: Recording, pitch: float, seconds: float, release_s: float, ring: bool
) -> Sound:
    """Play one recording at `pitch`; mean power of its first 0.8 s is 1."""
    ratio = 2.0 ** ((pitch - recording.pitch) / 12.0)
    size = int((seconds + release_s) * RATE)
    source = recording.samples
    source = source if ring else _looped(source, int(size * ratio) + 64)
    note = _resample(source, ratio, size)
    note = note if ring else _even(note)
    head = note[int(0.03 * RATE) : int(0.8 * RATE)]
    note = note / (np.sqrt(np.mean(head**2)) + 1e-9)
    soft = int(0.008 * RATE)
    note[:soft] *= np.linspace(0.0, 1.0, soft)
    tail = min(int(release_s * RATE), note.size)
    note[-tail:] *= np.cos(0.5 * np.pi * np.linspace(0.0, 1.0, tail)) ** 2
    return note


def _modes(
    hz: Sound, gain: Sound, tau: Sound, seconds: float, rng: np.random.Generator
) -> Sound:
    t = np.arange(int(seconds * RATE)) / RATE
    heard = hz < 0.45 * RATE
    phase = rng.uniform(0.0, 2.0 * np.pi, hz.size)
    parts = gain[:, None] * np.exp(-t / tau[:, None])
    parts = parts * np.sin(2.0 * np.pi * hz[:, None] * t + phase[:, None])
    out: Sound = parts[heard].sum(axis=0)
    rise = int(0.002 * RATE)
    out[:rise] *= np.linspace(0.0, 1.0, rise)
    return out / (np.sqrt(np.mean(out[: int(0.2 * RATE)] ** 2)) + 1e-9)


def _tick(seconds: float, tau: float, rng: np.random.Generator) -> Sound:
    t = np.arange(int(seconds * RATE)) / RATE
    noise = np.diff(rng.standard_normal(t.size + 1)) * np.exp(-t / tau)
    return noise / np.sqrt(np.mean(noise[: int(0.2 * RATE)] ** 2))


def pizzicato(pitch: float, tau_s: float, bright: float, rng: np.random.Generator) -> Sound:
    """Plucked string; unit power over its first 0.2 s.

    `tau_s` is the time constant of the fundamental; a fingertip a quarter of the way along
    the string, higher modes dying sooner.
    """
    hz = 440.0 * 2.0 ** ((pitch - 69.0) / 12.0)
    k = np.arange(1, 33, dtype=float)
    gain = np.abs(np.sin(np.pi * k * 0.23)) / k ** (1.6 - 0.1 * bright)
    tau = tau_s / (1.0 + (k * hz / 1200.0) ** 1.2)
    out = _modes(hz * k * (1.0 + 5e-5 * k**2), gain, tau, 8 * tau_s, rng)
    return out + 0.04 * _tick(8 * tau_s, 0.004, rng)


def xylophone(pitch: float, bright: float, rng: np.random.Generator) -> Sound:
    """Xylophone bar struck with a hard mallet; unit power over its first 0.2 s."""
    hz = 440.0 * 2.0 ** ((pitch - 69.0) / 12.0)
    ratio = np.array([1.0, 3.0, 6.1, 9.9])
    gain = np.array([1.0, 0.22, 0.08, 0.03]) * 1.15 ** (bright * np.arange(4))
    tau = 0.22 * (523.0 / hz) ** 0.8 / np.array([1.0, 2.5, 5.0, 9.0])
    return _modes(hz * ratio, gain, tau, 1.2, rng) + 0.08 * _tick(1.2, 0.002, rng)


def kettledrum(pitch: float, bright: float, rng: np.random.Generator) -> Sound:
    """One timpani stroke; unit power over its first 0.2 s."""
    hz = 440.0 * 2.0 ** ((pitch - 69.0) / 12.0)
    ratio = np.array([0.85, 1.0, 1.5, 1.98, 2.44, 2.89, 3.36])
    gain = np.array([0.5, 1.0, 0.75, 0.45, 0.3, 0.2, 0.12]) * 1.12 ** (bright * np.arange(7))
    tau = np.array([0.12, 0.9, 0.7, 0.5, 0.35, 0.25, 0.2])
    return _modes(hz * ratio, gain, tau, 3.0, rng) + 0.05 * _tick(3.0, 0.006, rng)


def brighten(note: Sound, tilt_db: float) -> Sound:
    """Raise or lower everything above 3 kHz by `tilt_db`, nothing below 500 Hz, power kept."""
    spectrum = np.fft.rfft(note)
    hz = np.fft.rfftfreq(note.size, 1.0 / RATE)
    share = np.clip(np.log(np.maximum(hz, 1.0) / 500.0) / np.log(6.0), 0.0, 1.0)
    out = np.fft.irfft(spectrum * 10.0 ** (tilt_db * share / 20.0), note.size)
    return out * np.sqrt(np.sum(note**2) / (np.sum(out**2) + 1e-12))
