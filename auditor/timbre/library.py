"""A user's own template set: how their library sounds at several pitches and dynamics.

A set is a folder with ``templates.npz`` (numbers only) and ``library.json`` (what they are
and where they came from). Unlike the shipped sources it knows three dynamics, and how
loud each note came out.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.errors import InputError
from auditor.sound.spectrum import POOL_HZ
from auditor.timbre.templates import AGES, shifted

FORMAT = 1
TEMPLATES, ABOUT = "templates.npz", "library.json"
SET_FILES = (TEMPLATES, ABOUT)


@dataclass(frozen=True, slots=True)
class Learned:
    """One instrument, or one way of playing it, as a library sounds it.

    Parameters
    ----------
    pitch : ndarray, shape (pitches,)
        Sounding MIDI pitch, rising; a single 0 for what has no pitch.
    step : ndarray, shape (dynamics,)
        Dynamic steps, rising.
    db : ndarray, shape (pitches, dynamics, AGES, pools)
        Templates in dB, as `auditor.timbre.templates` has them.
    level_db : ndarray, shape (pitches, dynamics)
        Mean power of the first half second in dB of full scale.
    """

    pitch: NDArray[np.float64]
    step: NDArray[np.float64]
    db: NDArray[np.float64]
    level_db: NDArray[np.float64]

    def __post_init__(self) -> None:
        shape = (self.pitch.size, self.step.size)
        right = self.db.shape == (*shape, AGES, POOL_HZ.size) and self.level_db.shape == shape
        rising = bool((np.diff(self.pitch) > 0).all() and (np.diff(self.step) > 0).all())
        finite = np.isfinite(self.db).all() and np.isfinite(self.level_db).all()
        if not (right and rising and finite and min(shape) > 0):
            raise InputError(
                f"templates of {shape[0]} pitches and {shape[1]} dynamics have the shape "
                f"{self.db.shape} or numbers that cannot be; learn the library again"
            )

    def template(self, pitch: float, step: float) -> NDArray[np.float64]:
        """Template of a pitch at a dynamic, shape (AGES, pools), dB.

        Between learned pitches both neighbours are moved there and averaged; beyond the
        learned dynamics the outermost stands.
        """
        low, share = _between(self.step, step)
        spectra = self.db[:, low] * (1 - share)
        if share > 0:
            spectra = spectra + self.db[:, low + 1] * share
        if self.pitch.size == 1 and self.pitch[0] == 0:
            return np.asarray(spectra[0])
        near, part = _between(self.pitch, pitch)
        out = shifted(spectra[near], pitch - float(self.pitch[near])) * (1 - part)
        if part > 0:
            out = out + shifted(spectra[near + 1], pitch - float(self.pitch[near + 1])) * part
        return np.asarray(out)

    def level(self, pitch: float, step: float) -> float:
        """Level of a note in dB of full scale; beyond the learned dynamics it goes on rising.

        A step beyond changes it by what a step changes it on the whole.
        """
        near, part = _between(self.pitch, pitch)
        row = self.level_db[near]
        if part > 0:
            row = row * (1 - part) + self.level_db[near + 1] * part
        inside = float(np.interp(step, self.step, row))
        if self.step.size < 2:
            return inside
        slope = float((row[-1] - row[0]) / (self.step[-1] - self.step[0]))
        beyond = step - float(np.clip(step, self.step[0], self.step[-1]))
        return inside + max(slope, 0.0) * beyond


def _between(places: NDArray[np.float64], place: float) -> tuple[int, float]:
    """Index of the place below, and how far `place` lies towards the next, 0 to 1."""
    low = int(np.clip(np.searchsorted(places, place, "right") - 1, 0, places.size - 1))
    if low == places.size - 1 or place <= places[low]:
        return low, 0.0
    return low, float((place - places[low]) / (places[low + 1] - places[low]))


@dataclass(frozen=True, slots=True)
class Library:
    """A template set under a name.

    Parameters
    ----------
    name
        As the user called it.
    digest
        SHA-256 of its templates.
    voices
        What was learned, by template key (``flute``, ``violin+pizz``).
    """

    name: str
    digest: str
    voices: Mapping[str, Learned]


def libraries_folder() -> Path:
    """Where learned sets lie: the user's data folder (XDG Base Directory Specification)."""
    home = os.environ.get("XDG_DATA_HOME", "")
    base = Path(home) if Path(home).is_absolute() else Path.home() / ".local" / "share"
    return base / "auditor" / "libraries"


def check_name(name: str) -> str:
    """Give the name back if a library may be called so.

    Raises
    ------
    InputError
        If it is none of letters and digits, with spaces, dots and hyphens inside.
    """
    if not re.fullmatch(r"\w[\w .\-]{0,60}", name):
        raise InputError(
            f'"{name}" is no name for a library; give one of letters and digits: --name NAME'
        )
    return name


def save_library(
    folder: Path, name: str, voices: Mapping[str, Learned], about: Mapping[str, Any]
) -> None:
    """Write a set into a folder that is there; the same voices always give the same bytes.

    Parameters
    ----------
    about
        What else ``library.json`` shall say.

    Raises
    ------
    OSError
        If it cannot be written; what is half written stays.
    """
    table: dict[str, NDArray[Any]] = {}
    for key in sorted(voices):
        voice = voices[key]
        table[f"{key}/pitch"] = voice.pitch.astype(np.int16)
        table[f"{key}/step"] = voice.step.astype(np.int16)
        table[f"{key}/db"] = voice.db.astype(np.float16)
        table[f"{key}/level_db"] = voice.level_db.astype(np.float32)
    packed = io.BytesIO()
    np.savez_compressed(packed, **table)  # type: ignore[arg-type]
    digest = hashlib.sha256(packed.getvalue()).hexdigest()
    head = {"format": FORMAT, "name": name, "templates_sha256": digest}
    (folder / TEMPLATES).write_bytes(packed.getvalue())
    text = json.dumps(head | dict(about), ensure_ascii=False, indent=1)
    (folder / ABOUT).write_text(text + "\n", encoding="utf-8")


def find_library(name: str) -> Path:
    """Folder of a set, by its path or by the name it was learned under.

    Raises
    ------
    InputError
        If there is none.
    """
    for folder in (Path(name), libraries_folder() / name):
        if (folder / ABOUT).is_file():
            return folder
    known = ", ".join(known_libraries()) or "none yet"
    raise InputError(
        f"no library called {name} was learned, and {name} is no folder of one (learned: "
        f"{known}); make one with auditor kit and auditor learn"
    )


def known_libraries() -> tuple[str, ...]:
    """Names of the sets in the user's data folder."""
    folder = libraries_folder()
    if not folder.is_dir():
        return ()
    return tuple(sorted(p.name for p in folder.iterdir() if (p / ABOUT).is_file()))


def open_library(folder: Path) -> Library:
    """Read a set.

    Raises
    ------
    InputError
        If it is damaged, was changed by hand, or comes from a later version.
    """
    try:
        about = json.loads((folder / ABOUT).read_text(encoding="utf-8"))
        packed = (folder / TEMPLATES).read_bytes()
    except (OSError, ValueError) as err:
        raise InputError(
            f"{folder} is no library that can be read ({err}); learn it again"
        ) from err
    if not isinstance(about, dict) or about.get("format") != FORMAT:
        found = about.get("format") if isinstance(about, dict) else None
        raise InputError(
            f"{folder} has the format {found}, this version reads {FORMAT}; learn it again"
        )
    digest = hashlib.sha256(packed).hexdigest()
    if about.get("templates_sha256") != digest:
        raise InputError(
            f"{folder}: {TEMPLATES} is not the file that {ABOUT} describes; copy both again"
        )
    return Library(str(about.get("name") or folder.name), digest, _voices(folder, packed))


def _voices(folder: Path, packed: bytes) -> dict[str, Learned]:
    names = ("pitch", "step", "db", "level_db")
    try:
        with np.load(io.BytesIO(packed), allow_pickle=False) as data:
            keys = sorted({name.rpartition("/")[0] for name in data.files})
            return {
                key: Learned(*(data[f"{key}/{name}"].astype(np.float64) for name in names))
                for key in keys
            }
    except (KeyError, ValueError, TypeError, zipfile.BadZipFile) as err:
        raise InputError(f"{folder} holds damaged templates ({err}); learn it again") from err
