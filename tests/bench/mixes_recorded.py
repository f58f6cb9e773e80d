"""Made mixes from recorded single notes: timbres no sound font has lent to any template.

Two kinds of folder are read: one with an index.csv (columns file, instrument, midi,
label), and one of NAME/NOTE.mp3 such as npm's `tonejs-instrument-NAME-mp3` packages
unpacked into NAME (CC-BY 3.0; their levels are evened out, so levels come from
`mixes_players`). Files stay where they are; nothing is copied into the project.
"""

from __future__ import annotations

import csv
import re
import sys
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import soundfile
import soxr
from fonts import RATE_HZ
from mixes_players import CHAIRS, power_db
from mixes_sound import Samples

sys.path.insert(0, str(Path(__file__).parents[2] / "models"))
from recorded_notes import at_true_rate, named_notes

if TYPE_CHECKING:
    from mixes import Performance
    from mixes_music import Written

ALIASES = {
    "french-horn": "horn",
    "tenor-trombone": "trombone",
    "contrabass": "double-bass",
    "saxophone": "alto-saxophone",
    "double-bass-pizz": "double-bass pizzicato",
}
# Indexed by the written note: the strongest partial lies an octave above (measured).
WRITTEN_OCTAVE_BELOW = ("xylophone",)
# Farthest a recorded note is moved; beyond this its formants give it away.
FARTHEST_SEMITONES = 3
_LOUDNESS = {"p": 0.0, "m": 0.5, "f": 1.0, "v2": 0.0, "v3": 0.5, "v5": 1.0}


@dataclass(frozen=True, slots=True)
class Take:
    """One recorded note: its file, MIDI pitch, and how loud it was struck (0 to 1)."""

    path: Path
    pitch: int
    loudness: float


def _loudness(label: str) -> float:
    mark = re.search(r"v[235]$", label) or re.match(r"[pmf]", label)
    return _LOUDNESS.get(mark.group(), 0.5) if mark else 0.5


def _indexed(folder: Path) -> dict[str, list[Take]]:
    takes: dict[str, list[Take]] = defaultdict(list)
    with (folder / "index.csv").open(encoding="utf-8") as rows:
        for row in csv.DictReader(rows):
            key = ALIASES.get(row["instrument"], row["instrument"])
            pitch = int(row["midi"]) + 12 * (key in WRITTEN_OCTAVE_BELOW)
            take = Take(folder / row["file"], pitch, _loudness(row["label"]))
            takes[key].append(take)
    return takes


def _named(folder: Path) -> dict[str, list[Take]]:
    takes: dict[str, list[Take]] = defaultdict(list)
    for path, instrument, pitch in named_notes(folder):
        takes[ALIASES.get(instrument, instrument)].append(Take(path, pitch, 0.5))
    return takes


@lru_cache(maxsize=512)
def _take(path: Path, pitch: int) -> Samples:
    """Read a note from just before its attack on, mono at 44.1 kHz, at its true pitch."""
    samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    mono = at_true_rate(soxr.resample(samples.mean(axis=1), rate, RATE_HZ), pitch)
    loud = np.flatnonzero(np.abs(mono) > 0.03 * np.abs(mono).max())
    return np.asarray(mono[max(0, loud[0] - 220) :], np.float32)


def _stretch(samples: Samples, size: int) -> Samples:
    """Make a held tone last by going over its middle again, with a crossfade."""
    fade = RATE_HZ // 5
    first, last = int(0.3 * samples.size), int(0.75 * samples.size)
    if last - first < 2 * fade:
        return samples
    up = np.sqrt(np.linspace(0, 1, fade, dtype=np.float32))
    out = samples[:last]
    while out.size < size:
        middle = samples[first:last]
        seam = out[-fade:] * up[::-1] + middle[:fade] * up
        out = np.concatenate([out[:-fade], seam, middle[fade:]])
    return out


def _shaped(take: Take, pitch: float, length_s: float, sustained: bool) -> Samples:
    """One note of unit power, at the pitch and as long as the page asks."""
    shift = 2 ** ((pitch - take.pitch) / 12)
    tone = soxr.resample(_take(take.path, take.pitch), RATE_HZ * shift, RATE_HZ)
    size = int((length_s + (0.06 if sustained else 1.5)) * RATE_HZ)
    if sustained and tone.size < size:
        tone = _stretch(tone, size)
    tone = np.array(tone[:size], np.float64)
    fade = min(tone.size, int((0.06 if sustained else 0.4) * RATE_HZ))
    tone[-fade:] *= np.cos(np.linspace(0, np.pi / 2, fade)) ** 2
    judged = tone[: int((1.0 if sustained else 0.5) * RATE_HZ)]
    return np.asarray(tone / np.sqrt(np.mean(judged**2) + 1e-12), np.float32)


class Recordings:
    """Single notes by instrument key, from one or more folders.

    Parameters
    ----------
    folders
        Where to look; the first that has an instrument within reach is used.
    """

    def __init__(self, folders: Sequence[Path]) -> None:
        self.sources = []
        for folder in folders:
            if not folder.is_dir():
                raise SystemExit(f"{folder} is not a folder of recorded notes")
            indexed = (folder / "index.csv").exists()
            self.sources.append(_indexed(folder) if indexed else _named(folder))

    def _near(self, takes: Sequence[Take], note: Written) -> Take | None:
        reach = [t for t in takes if abs(t.pitch - note.pitch) <= FARTHEST_SEMITONES]
        wanted = note.dynamic / 5
        key = lambda t: (abs(t.loudness - wanted) > 0.3, abs(t.pitch - note.pitch), str(t.path))  # noqa: E731
        return min(reach, key=key) if reach else None

    def takes_for(self, show: Performance) -> list[Take] | None:
        """Return the nearest take for each note, or None if a note is out of reach."""
        instrument = CHAIRS[show.part.chair].instrument
        for source in self.sources:
            chosen = [
                self._near(source.get(instrument + " pizzicato" * note.pizzicato, ()), note)
                for note in show.part.notes
            ]
            found = [take for take in chosen if take is not None]
            if found and len(found) == len(chosen):
                return found
        return None

    def play(self, show: Performance, size: int, rng: np.random.Generator) -> Samples | None:
        """Play a part, natural levels within it; None if there are no notes for it.

        Returns
        -------
        ndarray, shape (size,)
            A section of strings is three takes, apart by some cents and milliseconds.
        """
        takes = self.takes_for(show)
        if takes is None:
            return None
        chair = CHAIRS[show.part.chair]
        out = np.zeros(size + 3 * RATE_HZ, np.float32)
        desks = 3 if chair.players > 1 else 1
        for take, note, on, off in zip(
            takes, show.part.notes, show.onsets, show.offsets, strict=True
        ):
            held = chair.sustained and not note.pizzicato
            level = power_db(chair.instrument, note.dynamic, pizzicato=note.pizzicato) - 120
            for _ in range(desks):
                cents, late = (rng.normal(0, 6), rng.uniform(0, 0.02)) if desks > 1 else (0, 0)
                tone = _shaped(take, note.pitch + cents / 100, off - on, held)
                start = int((on + late) * RATE_HZ)
                gain = np.float32(10 ** ((level + rng.normal(0, 1)) / 20))
                out[start : start + tone.size] += gain * tone[: out.size - start]
        return out[:size]
