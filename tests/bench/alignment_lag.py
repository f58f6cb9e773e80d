"""How late the analysis sees single notes begin: the table behind `attack`.

    python tests/bench/alignment_lag.py [FONT ...]

Fifteen dry notes of each instrument; prints, in ms after the note-on, the tenth percentile
and the middle of the rise, and the width between them.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import fonts
import numpy as np
import soundfile

from auditor.sound.features import LOWEST, ONSET_FPS, listen

# General MIDI programs (from 0) and the range they are tried in.
PLAYERS = {
    "piano": (0, 57, 80), "celesta": (8, 60, 84), "glockenspiel": (9, 79, 96),
    "vibraphone": (11, 57, 80), "marimba": (12, 50, 80), "xylophone": (13, 60, 84),
    "bells": (14, 60, 77), "organ": (19, 50, 80), "guitar": (24, 45, 70),
    "violin": (40, 57, 88), "viola": (41, 50, 72), "cello": (42, 38, 62),
    "double bass": (43, 31, 48), "pizzicato": (45, 50, 80), "harp": (46, 45, 84),
    "timpani": (47, 40, 52), "strings": (48, 50, 80), "slow strings": (49, 50, 80),
    "choir": (52, 50, 76), "trumpet": (56, 57, 80), "trombone": (57, 45, 65),
    "tuba": (58, 34, 55), "horn": (60, 48, 70), "saxophone": (65, 50, 76),
    "oboe": (68, 60, 84), "english horn": (69, 54, 76), "bassoon": (70, 38, 62),
    "clarinet": (71, 52, 80), "piccolo": (72, 74, 95), "flute": (73, 62, 90),
}  # fmt: skip
_NOTES, _EVERY_S, _BEFORE, _AFTER = 15, 2.0, 10, 40


def lag(font: str, program: int, low: int, high: int) -> tuple[float, float]:
    """Tenth percentile and middle of the rise, medians over the notes, ms."""
    pitches = np.linspace(low, high, _NOTES).round().astype(int)
    starts = 1.0 + _EVERY_S * np.arange(_NOTES)
    events = [(0, 0, bytes([0xC0, program])), (0, 1, bytes([0xB0, 91, 0]))]
    for k, (start, pitch) in enumerate(zip(starts, pitches, strict=True)):
        loud = (50, 80, 105)[k % 3]
        events.append((round(1000 * start), 3, bytes([0x90, pitch, loud])))
        events.append((round(1000 * start) + 900, 2, bytes([0x80, pitch, 0])))
    events.append((round(1000 * (starts[-1] + _EVERY_S)), 9, b"\xff\x01\x00"))
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder, "a.mid"), Path(folder, "a.wav")
        midi.write_bytes(fonts.midi_file(events))
        command = ["fluidsynth", "-ni", "-q", "-g", "0.4", "-r", "44100", "-R", "0", "-C", "0"]
        command += ["-F", str(wave), str(fonts.require(font)), str(midi)]
        subprocess.run(command, capture_output=True, check=True)
        samples, _ = soundfile.read(wave, dtype="float32")
    flux = listen(samples.mean(axis=1)).flux.astype(float)
    found = []
    for start, pitch in zip(starts, pitches, strict=True):
        at = round(start * ONSET_FPS)
        bins = [pitch - LOWEST, min(pitch - LOWEST + 12, flux.shape[1] - 2)]
        share = np.cumsum(flux[at - _BEFORE : at + _AFTER, bins].sum(axis=1))
        frames = np.arange(share.size) - _BEFORE
        found.append(1000 / ONSET_FPS * np.interp([0.1, 0.5], share / share[-1], frames))
    first, middle = np.median(found, axis=0)
    return float(first), float(middle)


def main() -> None:
    for font in sys.argv[1:] or ("fluid", "timgm"):
        print(f"{font:14s} first tenth  middle  width")
        for name, (program, low, high) in PLAYERS.items():
            first, middle = lag(font, program, low, high)
            print(f"  {name:14s} {first:8.0f} {middle:8.0f} {middle - first:6.0f}")


if __name__ == "__main__":
    main()
