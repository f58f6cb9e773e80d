"""Line spectra from stems: one sound file for each part, matched by name."""

from __future__ import annotations

import logging
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

_log = logging.getLogger(__name__)

# How well a file name fits a part's name; a fit of 0 is none at all. A number in front may
# be a desk ("2. Flöte") or a track ("02 Flute"): as a desk it counts a little less than as
# a place, unless the score writes it in front too.
_SAME_WORDS, _SAME_DESK, _SAME_INSTRUMENT, _SAME_PLACE = 8.0, 6.0, 3.0, 0.5
_DESK_IN_FRONT, _BOTH_IN_FRONT, _DESK_AMONG_NUMBERS = 3.2, 4.0, 2.0


def match_stems(files: Sequence[Path], parts: Sequence[Part]) -> dict[int, Path]:
    """Find each part's file by name, in any language the instrument table knows.

    A number in front of a file name is taken for the part's place if nothing else tells
    two files apart. Hidden files are passed over.

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
    files = [path for path in files if not path.name.startswith(".")]
    fit = np.array([[_fit(path.stem, part) for path in files] for part in parts])
    rows, columns = linear_sum_assignment(-fit.reshape(len(parts), len(files)))
    found = {
        parts[r].number: files[c] for r, c in zip(rows, columns, strict=True) if fit[r, c] > 0
    }
    spare = ", ".join(sorted(p.name for p in set(files) - set(found.values())))
    missing = [part.name for part in parts if part.number not in found]
    if missing:
        raise InputError(
            f"no stem was found for {', '.join(missing)}; name each file after its part"
            + (f" (not matched: {spare})" if spare else "")
        )
    if spare:
        _log.warning("these stems fit no part and are left aside: %s", spare)
    return found


def _fit(stem: str, part: Part) -> float:
    stem = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", stem)  # "ViolinII", "FrenchHorn"
    place = re.match(r"\s*(\d+)[\s_.\-]+(?=\D)", stem)
    name = stem[place.end() :] if place else stem
    here = _SAME_PLACE if place and int(place.group(1)) == part.number else 0.0
    if _plain(part.name) in (_plain(stem), _plain(name)):
        return _SAME_WORDS + here
    entry = named(name)
    if entry is None or entry.instrument.key != part.instrument.key:
        return 0.0
    return max(_desk_fit(name, part) + here, _front_fit(stem, part) if place else 0.0)


def _front_fit(stem: str, part: Part) -> float:
    if stem.lstrip().startswith("0") or _desks(stem) != _desks(part.name):
        return 0.0
    return _BOTH_IN_FRONT if part.name[:1].isdigit() else _DESK_IN_FRONT


def _desk_fit(name: str, part: Part) -> float:
    mine, theirs = _desks(name), _desks(part.name)
    if mine == theirs:
        return _SAME_DESK
    if not (mine and theirs):
        return _SAME_INSTRUMENT
    # "Overture v3 Flute 1": one of several numbers is the desk.
    return _DESK_AMONG_NUMBERS if set(theirs) < set(mine) else 0.0


def _desks(name: str) -> tuple[int, ...]:
    return numbers_of(name.replace("_", " "))


def _plain(name: str) -> tuple[str, ...]:
    """Words of a name, numbers without leading noughts."""
    return tuple(str(int(w)) if w.isdigit() else w for w in words_of(name))


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
