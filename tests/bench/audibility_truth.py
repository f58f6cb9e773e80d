"""The truth about a made mix: its true stems, through our own hearing.

    audibility_truth.py CASE ...     prints the share of covered lines and notes

The truth of a case is kept beside it in heard.npz, under a print of the code that heard
it, so a change of the hearing model is never measured against an old truth.
"""

from __future__ import annotations

import hashlib
import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

import auditor
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Limits, Measures, NoteWindows
from auditor.sound.level import calibration_db
from auditor.spectra.stems import stem_spectra

LIMITS = Limits()


@dataclass(frozen=True, slots=True)
class Made:
    """A made case: what truth.json says, and the mix at 44.1 kHz.

    `mix` is the mean of its channels, `side` half their difference, left less right.
    """

    folder: Path
    parts: list[dict[str, Any]]
    notes: list[dict[str, Any]]
    seed: int
    font: str
    mix: NDArray[np.float32]
    side: NDArray[np.float32] | None = None

    @property
    def calibration_db(self) -> float:
        return calibration_db(self.mix)


def open_made(folder: Path) -> Made:
    """Read one case that mixes.py made."""
    if not (folder / "truth.json").exists():
        raise SystemExit(f"{folder} has no truth.json; make cases with tests/bench/mixes.py")
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    mix = soundfile.read(folder / "mix.flac", dtype="float32", always_2d=True)[0]
    side = (mix[:, 0] - mix[:, 1]) / 2 if mix.shape[1] == 2 else None
    return Made(
        folder, truth["parts"], truth["notes"], truth["seed"], truth["font"],
        mix.mean(axis=1), side,
    )  # fmt: skip


def true_windows(made: Made) -> NoteWindows:
    """When each note sounds, as rendered."""
    part = np.array([note["part"] - 1 for note in made.notes])
    held = np.array([bool(row["sustained"]) for row in made.parts])[part]
    return NoteWindows(
        line=part,
        onset_s=np.array([note["onset_s"] for note in made.notes]),
        offset_s=np.array([note["offset_s"] for note in made.notes]),
        pitch=np.array([note["pitch"] for note in made.notes]),
        sustained=held & ~np.array([bool(note["pizzicato"]) for note in made.notes]),
        instrument=tuple(str(row["instrument"]) for row in made.parts),
    )


def _code_print() -> str:
    home = Path(auditor.__file__).parent
    files = [
        *sorted((home / "hearing").glob("*.py")),
        *sorted((home / "spectra").glob("stems.py")),
    ]
    files += [home / "sound" / "spectrum.py", home / "sound" / "level.py"]
    return hashlib.sha256(b"".join(path.read_bytes() for path in files)).hexdigest()[:16]


def stems_of(made: Made) -> NDArray[np.float32]:
    """Stems of a case, mono, shape (parts, samples)."""
    paths = sorted((made.folder / "stems").glob("*.flac"))
    sounds = (soundfile.read(path, dtype="float32", always_2d=True)[0] for path in paths)
    return np.stack([sound.mean(axis=1) for sound in sounds])


def _stored(path: Path, code: str) -> tuple[Measures, Measures] | None:
    if not path.exists():
        return None
    with np.load(path) as data:
        if str(data["code"]) != code:
            return None
        names = Measures.__slots__
        lines = Measures(*(data[f"lines_{name}"] for name in names))
        notes = Measures(*(data[f"notes_{name}"] for name in names))
    return lines, notes


def truth_of(made: Made) -> tuple[Measures, Measures]:
    """Measures of lines and notes from the true stems."""
    path, code = made.folder / "heard.npz", _code_print()
    stored = _stored(path, code)
    if stored:
        return stored
    spectra = stem_spectra(stems_of(made), made.calibration_db)
    heard = listen(spectra, true_windows(made), (), LIMITS)
    table: dict[str, Any] = {"code": code}
    for kind, measures in (("lines", heard.lines), ("notes", heard.notes)):
        table |= {f"{kind}_{name}": getattr(measures, name) for name in Measures.__slots__}
    np.savez_compressed(path, **table)
    return heard.lines, heard.notes


def main() -> None:
    if len(sys.argv) < 2:
        raise SystemExit("usage: audibility_truth.py CASE ...")
    for folder in sys.argv[1:]:
        lines, notes = truth_of(open_made(Path(folder)))
        covered = [float((m.distinct_ratio < LIMITS.covered).mean()) for m in (lines, notes)]
        print(f"{folder}: {len(lines)} lines, {covered[0]:.2f} covered; "
              f"{len(notes)} notes, {covered[1]:.2f} covered", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
