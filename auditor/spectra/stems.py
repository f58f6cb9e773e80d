"""Line spectra from stems: one sound file for each part, matched by name."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from auditor.errors import InputError
from auditor.score.instruments import named, numbers_of, words_of
from auditor.score.notes import Part
from auditor.sound.spectrum import frame_times, pooled_power
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB, LineSpectra
from auditor.spectra.mixture import band_power
from auditor.units import power_to_db

# How well a file name fits a part's name; a fit below the last is none at all.
_SAME_WORDS, _SAME_DESK, _SAME_INSTRUMENT, _SAME_PLACE = 8.0, 6.0, 3.0, 0.5


def match_stems(files: Sequence[Path], parts: Sequence[Part]) -> dict[int, Path]:
    """Find each part's file by name, in any language the instrument table knows.

    A number in front of a file name is taken for the part's place if nothing else tells
    two files apart.

    Parameters
    ----------
    files
        Sound files.
    parts
        Parts that have notes.

    Returns
    -------
    dict
        File by part number.

    Raises
    ------
    InputError
        If a part with notes is left without a file.
    """
    fit = np.array([[_fit(path.stem, part) for path in files] for part in parts])
    rows, columns = linear_sum_assignment(-fit.reshape(len(parts), len(files)))
    found = {
        parts[r].number: files[c] for r, c in zip(rows, columns, strict=True) if fit[r, c] > 0
    }
    missing = [part.name for part in parts if part.number not in found]
    if missing:
        spare = sorted(p.name for p in set(files) - set(found.values()))
        raise InputError(
            f"no stem was found for {', '.join(missing)}; name each file after its part"
            + (f" (not matched: {', '.join(spare)})" if spare else "")
        )
    return found


def _fit(stem: str, part: Part) -> float:
    place = re.match(r"\s*(\d+)[\s_.\-]+(?=\D)", stem)
    name = stem[place.end() :] if place else stem
    name = re.sub(r"[_\-.]+", " ", name)
    here = _SAME_PLACE if place and int(place.group(1)) == part.number else 0.0
    if words_of(name) == words_of(part.name):
        return _SAME_WORDS + here
    entry = named(name)
    if entry is None or entry.instrument.key != part.instrument.key:
        return 0.0
    mine, theirs = numbers_of(name), numbers_of(part.name)
    if mine == theirs:
        return _SAME_DESK + here
    return _SAME_INSTRUMENT + here if not (mine and theirs) else here / 2


def stem_spectra(samples: NDArray[np.float32], gain_db: float) -> LineSpectra:
    """Line spectra of stems as they are.

    Parameters
    ----------
    samples : ndarray, shape (lines, samples), float32
        One stem a line at 44.1 kHz, at the level it has in the mix.
    gain_db
        dB SPL of a full-scale mean square of 1.

    Returns
    -------
    LineSpectra
        With `source` ``stems`` and full confidence.
    """
    lines = len(samples)
    first = band_power(pooled_power(samples[0]))
    level = np.empty((lines, *first.shape), np.float32)
    for k in range(lines):
        power = first if k == 0 else band_power(pooled_power(samples[k]))
        level[k] = power_to_db(power * 10 ** (gain_db / 10), FLOOR_DB)
    return LineSpectra(
        level_db=level,
        frame_s=frame_times(len(first)),
        band_cam=BAND_CAM,
        confidence=np.ones((lines, len(first)), np.float32),
        source="stems",
    )
