"""Makes the timbre templates of models/timbre from sound fonts and recorded notes.

    python models/make_timbre.py font NAME FILE      one sound font (needs fluidsynth)
    python models/make_timbre.py notes NAME FOLDER   recorded notes: FOLDER/index.csv with
                                                     columns file, instrument, midi, label,
                                                     or folders of notes like flute/A4.mp3

Each source becomes models/timbre/NAME.npz: for every instrument key its pitches (every
third semitone) and the pooled power spectrum in dB of six ages of a note (see
auditor/timbre/templates.py), 0 dB being the mean power of its first half second.
SOURCES.md says where each came from and on what terms.
"""

from __future__ import annotations

import csv
import struct
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import soundfile as sf
import soxr
from recorded_notes import at_true_rate, named_notes

from auditor.sound.spectrum import POOL_HZ, RATE_HZ
from auditor.timbre.taking import take

OUT = Path(__file__).parent / "timbre"
STEP = 3  # semitones between templates
HELD_S, SLOT_S = 1.5, 2.6

# key: (lowest, highest MIDI pitch of a template, [(bank, program) ...] in General MIDI, the
# first that the font has); "+pizz" marks plucked strings.
PITCHED = {
    "piccolo": (74, 108, [(0, 72)]), "flute": (59, 98, [(0, 73)]),
    "oboe": (58, 93, [(0, 68)]), "english-horn": (52, 84, [(0, 69)]),
    "clarinet": (49, 95, [(0, 71)]),
    "bassoon": (34, 76, [(0, 70)]), "recorder": (60, 98, [(0, 74)]),
    "soprano-saxophone": (55, 88, [(0, 64)]), "alto-saxophone": (48, 83, [(0, 65)]),
    "tenor-saxophone": (43, 78, [(0, 66)]), "baritone-saxophone": (35, 71, [(0, 67)]),
    "horn": (34, 79, [(0, 60)]), "trumpet": (51, 88, [(0, 56)]),
    "trombone": (33, 76, [(0, 57)]), "tuba": (24, 66, [(0, 58)]),
    "timpani": (35, 62, [(0, 47)]), "glockenspiel": (76, 109, [(0, 9)]),
    "xylophone": (60, 109, [(0, 13)]), "vibraphone": (52, 90, [(0, 11)]),
    "marimba": (40, 97, [(0, 12)]), "tubular-bells": (58, 79, [(0, 14)]),
    "celesta": (59, 109, [(0, 8)]), "piano": (21, 108, [(0, 0)]),
    "harpsichord": (28, 90, [(0, 6)]), "organ": (24, 98, [(0, 19)]),
    "harp": (23, 104, [(0, 46)]), "guitar": (38, 84, [(0, 24)]),
    "voice": (40, 86, [(0, 52)]),
    "violin-solo": (53, 104, [(0, 40)]), "viola-solo": (46, 92, [(0, 41)]),
    "cello-solo": (34, 83, [(0, 42)]), "double-bass-solo": (22, 68, [(0, 43)]),
    "violin": (53, 101, [(20, 49), (0, 48)]), "viola": (46, 92, [(30, 49), (0, 48)]),
    "cello": (34, 83, [(40, 49), (0, 48)]), "double-bass": (22, 68, [(50, 49), (0, 48)]),
    "violin+pizz": (53, 98, [(20, 45), (0, 45)]), "viola+pizz": (46, 88, [(30, 45), (0, 45)]),
    "cello+pizz": (34, 80, [(40, 45), (0, 45)]),
    "double-bass+pizz": (22, 64, [(50, 45), (0, 45)]),
}  # fmt: skip
UNPITCHED = {
    "bass-drum": [36], "snare-drum": [38], "cymbals": [49], "suspended-cymbal": [51],
    "tam-tam": [52], "triangle": [81], "tambourine": [54], "wood-block": [76],
    "castanets": [85], "tom-tom": [47], "cowbell": [56], "sleigh-bells": [83],
}  # fmt: skip
RECORDED = {
    "violin": "violin-solo", "viola": "viola-solo", "cello": "cello-solo",
    "double-bass": "double-bass-solo", "double-bass-pizz": "double-bass+pizz",
    "french-horn": "horn", "tenor-trombone": "trombone", "bass-trombone": "bass-trombone",
    "alto-flute": "alto-flute", "bass-clarinet": "bass-clarinet",
    "contrabass": "double-bass-solo", "saxophone": "alto-saxophone",
}  # fmt: skip
# Soft notes, 20 to 40 dB darker in the upper partials than any other source at mf.
SOFT = {"tonejs": ("horn", "trombone", "trumpet")}


def _vlq(n: int) -> bytes:
    out = [n & 127]
    while n := n >> 7:
        out.insert(0, (n & 127) | 128)
    return bytes(out)


def _midi(path: Path, events: list[tuple[int, bytes]]) -> None:
    body, last = b"\x00\xff\x51\x03\x0f\x42\x40", 0
    for at, message in sorted(events, key=lambda e: e[0]):
        body += _vlq(at - last) + message
        last = at
    body += b"\x00\xff\x2f\x00"
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000)
    path.write_bytes(head + b"MTrk" + struct.pack(">I", len(body)) + body)


def render(font: str, notes: list[tuple[int, int, int, int]]) -> list[np.ndarray]:
    """One sound per note; notes are (channel, bank, program, pitch)."""
    events = []
    for k, (channel, bank, program, pitch) in enumerate(notes):
        at = int(k * SLOT_S * 1000)
        if channel != 9:
            events.append((at, bytes([0xB0 | channel, 0, bank])))
            events.append((at + 1, bytes([0xC0 | channel, program])))
        events.append((at + 100, bytes([0x90 | channel, pitch, 90])))
        events.append((at + 100 + int(HELD_S * 1000), bytes([0x80 | channel, pitch, 0])))
    events.append((int(len(notes) * SLOT_S * 1000), b"\xff\x01\x00"))
    with tempfile.TemporaryDirectory() as folder:
        midi, wav = Path(folder) / "a.mid", Path(folder) / "a.wav"
        _midi(midi, events)
        subprocess.run(
            ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE_HZ),
             "-O", "float", "-T", "wav", "-F", str(wav), font, str(midi)],
            check=True, capture_output=True,
        )  # fmt: skip
        sound, _ = sf.read(wav, dtype="float32", always_2d=True)
    mono = sound.mean(axis=1)
    out = []
    for k in range(len(notes)):
        a = int((k * SLOT_S + 0.1) * RATE_HZ)
        piece = mono[a : a + int((SLOT_S - 0.15) * RATE_HZ)]
        out.append(np.pad(piece, (0, max(0, int(2.4 * RATE_HZ) - len(piece)))))
    return out


def from_font(name: str, font: str) -> None:
    """Templates of one sound font."""
    table: dict[str, np.ndarray] = {}
    for key, (low, high, programs) in PITCHED.items():
        pitches = np.arange(low, high + 1, STEP)
        for bank, program in programs:
            if bank and name != "muse":
                continue
            sounds = render(font, [(0, bank, program, int(p)) for p in pitches])
            break
        keep = [k for k, s in enumerate(sounds) if np.abs(s).max() > 1e-4]
        table[f"{key}/pitch"] = pitches[keep].astype(np.int16)
        table[f"{key}/db"] = np.array(
            [take(sounds[k], HELD_S)[0] for k in keep], dtype=np.float16
        )
        print(key, len(keep), flush=True)
    for key, drums in UNPITCHED.items():
        sounds = [
            s for s in render(font, [(9, 0, 0, d) for d in drums]) if np.abs(s).max() > 1e-4
        ]
        if sounds:
            table[f"{key}/pitch"] = np.zeros(1, np.int16)
            table[f"{key}/db"] = np.array([take(sounds[0], HELD_S)[0]], dtype=np.float16)
    np.savez_compressed(OUT / f"{name}.npz", **table)


def _start(sound: np.ndarray) -> int:
    """Sample where a recorded note rises to -30 dB of its peak to stay, less 5 ms."""
    envelope = np.sqrt(np.convolve(sound**2, np.ones(256) / 256, mode="same"))
    loud = (envelope > envelope.max() * 10 ** (-30 / 20)).astype(np.float32)
    hold = RATE_HZ // 20  # a click before the note does not last 50 ms
    lasting = np.convolve(loud, np.ones(hold) / hold)[hold - 1 :]
    stays = np.flatnonzero((lasting > 0.9) & (loud > 0))
    first = int(stays[0]) if stays.size else int(np.argmax(loud))
    return max(0, first - RATE_HZ // 200)


def _notes_of(folder: Path) -> list[tuple[Path, str, int]]:
    """File, instrument and sounding pitch of every recorded note of a folder."""
    if not (folder / "index.csv").exists():
        return named_notes(folder)
    with (folder / "index.csv").open(encoding="utf-8") as f:
        # The xylophone's index gives written pitch; it sounds an octave higher.
        return [
            (folder / row["file"], row["instrument"],
             int(row["midi"]) + 12 * (row["instrument"] == "xylophone"))
            for row in csv.DictReader(f)
        ]  # fmt: skip


def from_notes(name: str, folder: str) -> None:
    """Templates of recorded notes; several takes of a pitch are averaged."""
    by_key: dict[str, dict[int, list[np.ndarray]]] = {}
    mended: dict[str, int] = {}
    for path, instrument, pitch in _notes_of(Path(folder)):
        sound, rate = sf.read(path, dtype="float32", always_2d=True)
        mono = sound.mean(axis=1)
        if rate != RATE_HZ:
            mono = soxr.resample(mono, rate, RATE_HZ)
        mono = mono[_start(mono) :]
        key = RECORDED.get(instrument, instrument)
        if key in SOFT.get(name, ()):
            continue
        if key not in ("timpani", "xylophone"):
            fixed = at_true_rate(mono, pitch)
            mended[key] = mended.get(key, 0) + (fixed is not mono)
            mono = fixed
        template, _ = take(mono, None)
        # A take that is silent 50 to 150 ms after its start begins with a click.
        if (10 ** (template[1] / 10)).sum() > 0.05:
            by_key.setdefault(key, {}).setdefault(pitch, []).append(template)
    table = {}
    for key, takes in sorted(by_key.items()):
        pitches = sorted(takes)
        table[f"{key}/pitch"] = np.array(pitches, dtype=np.int16)
        mean = [
            10 * np.log10(np.mean(10 ** (np.array(takes[p]) / 10), axis=0)) for p in pitches
        ]
        table[f"{key}/db"] = np.array(mean, dtype=np.float16)
        print(key, len(pitches), "mended:", mended.get(key, 0), flush=True)
    np.savez_compressed(OUT / f"{name}.npz", **table)


if __name__ == "__main__":
    if len(sys.argv) != 4 or sys.argv[1] not in ("font", "notes"):
        raise SystemExit(__doc__)
    OUT.mkdir(exist_ok=True)
    (from_font if sys.argv[1] == "font" else from_notes)(sys.argv[2], sys.argv[3])
    assert POOL_HZ.size
