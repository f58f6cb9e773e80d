"""What each note of a score sounds like: templates by line, timbre, pitch, dynamic and age."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.sound.spectrum import POOL_HZ
from auditor.timbre.dynamics import brightness_db
from auditor.timbre.library import Learned, Library
from auditor.timbre.templates import RELATIVES, blended, has_own, template_keys


@dataclass(frozen=True, slots=True)
class LineTimbre:
    """What a line's instrument is, as far as its sound goes.

    Parameters
    ----------
    key, family, kind, pitched
        As in the instrument table.
    """

    key: str
    family: str
    kind: str
    pitched: bool


@dataclass(frozen=True, slots=True)
class Palette:
    """Where the templates of some lines come from.

    Parameters
    ----------
    lines
        What each line's instrument is.
    tuning
        Offset from A4 = 440 Hz in semitones.
    sources
        Shipped template sources to draw on.
    library
        The user's own templates, which come first.
    """

    lines: Sequence[LineTimbre]
    tuning: float
    sources: Sequence[str]
    library: Library | None

    def learned(self, line: int, timbre: str) -> Learned | None:
        """The library's own voice of a timbre; a relative's only if nothing else is known."""
        if self.library is None:
            return None
        voices, (plain, _, way) = self.library.voices, timbre.partition("+")
        if timbre in voices:
            return voices[timbre]
        if way == "short":
            return voices.get(plain)
        known = has_own(timbre, self.sources) or has_own(plain, self.sources)
        kin = () if known else RELATIVES.get(plain, ())
        return next((voices[key] for key in kin if key in voices), None)

    def shipped(self, line: int, timbre: str, pitch: float) -> NDArray[np.float64]:
        """Every source's template in dB, shape (sources, AGES, pools); NaN where none."""
        kind = self.lines[line]
        keys = template_keys(
            timbre,
            family=kind.family,
            kind=kind.kind,
            pitched=kind.pitched,
            sources=self.sources,
        )
        return blended(keys, pitch + self.tuning, self.sources)


def atom_rows(
    atoms: NDArray[np.int64],
    colours: NDArray[np.int64],
    timbres: Sequence[str],
    palette: Palette,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Template power of each atom, and how each source's template differs from it.

    Parameters
    ----------
    atoms : ndarray of int, shape (atoms, 3)
        Colour, dynamic step and age of each.
    colours : ndarray of int, shape (colours, 3)
        Line, timbre and sounding pitch of each.
    timbres
        Names of the timbres.
    palette
        Where templates come from.

    Returns
    -------
    rows : ndarray, shape (atoms, pools), float32
        Power; 1 over the pools for the mean of a note's first half second at mf.
    unlike : ndarray, shape (sources, atoms, pools), float32
        Difference of each source from it, natural logarithm of power.
    """
    rows = np.empty((len(atoms), POOL_HZ.size), np.float32)
    unlike = np.zeros((len(palette.sources), *rows.shape), np.float32)
    tables: dict[int, NDArray[np.float64]] = {}
    # Neighbours of one colour and step differ in age only and are made at once.
    other = np.flatnonzero(np.diff(atoms[:, :2], axis=0).any(axis=1)) + 1
    for first, last in pairwise(np.unique([0, *other, len(atoms)]).tolist()):
        alike, (colour, step, _) = slice(first, last), atoms[first].tolist()
        line, timbre, pitch = colours[colour].tolist()
        age = atoms[alike, 2]
        voice = palette.learned(line, timbres[timbre])
        if voice is not None:
            learned = voice.template(pitch + palette.tuning, float(step))
            rows[alike] = 10 ** (learned[age] / 10)
            continue
        if colour not in tables:
            tables[colour] = palette.shipped(line, timbres[timbre], pitch)
        each = tables[colour][:, age]
        centre = np.nanmean(each, axis=0)
        family = palette.lines[line].family
        rows[alike] = 10 ** ((centre + brightness_db(family, step - 3.0)) / 10)
        unlike[:, alike] = np.nan_to_num(each - centre) * (np.log(10) / 10)
    return rows, unlike
