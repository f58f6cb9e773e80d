"""How far each filter of the ear is driven: roex filters whose lower skirt follows level.

Two ways lead there. `tone_excitation` takes single components and is exact; `Ear` takes
the half-Cam bands of line spectra. In both the filters' shapes are set by everything that
sounds together, so that excitation adds over lines.

References
----------
.. [1] ANSI S3.4-2007 and ISO 532-2:2017, formulas 2 to 5 (roex filter, skirts).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray

from auditor.hearing.bands import FINE_CAM, BandTables, band_tables, ear_transfer_db
from auditor.units import cam_to_hz, db_to_power, hz_to_erb, power_to_db

# [1]: a filter answers to nothing farther away than twice its centre frequency.
_REACH = 2.0
# Level classes of the pipeline, dB per ERB; the skirt moves by 0.35 per dB, so the
# weights between classes 5 dB apart are straight enough (see tests/hearing).
_CLASS_DB: NDArray[np.float64] = np.arange(20.0, 121.0, 5.0)
# Places inside a source band over which its filter weight is averaged.
_PLACES = 8


def roex_weight(
    source_hz: NDArray[np.float64],
    level_db: NDArray[np.float64],
    centre_hz: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Power weight of sources in rounded-exponential filters [1]_.

    Parameters
    ----------
    source_hz : ndarray, shape (n, 1)
        Frequencies of the sources.
    level_db : ndarray, shape (n, 1) or (1, 1)
        Level in dB per ERB at each source, behind the middle ear.
    centre_hz : ndarray, shape (filters,)
        Filter centres.

    Returns
    -------
    ndarray, shape (n, filters)
    """
    upper = 4.0 * centre_hz / hz_to_erb(centre_hz)
    at_1k = 4000.0 / hz_to_erb(1000.0)
    lower = np.maximum(upper - 0.35 * (upper / at_1k) * (level_db - 51.0), 0.1)
    g = (source_hz - centre_hz) / centre_hz
    pg = np.where(g < 0, lower, upper) * np.abs(g)
    weight: NDArray[np.float64] = np.where(np.abs(g) > _REACH, 0.0, (1.0 + pg) * np.exp(-pg))
    return weight


def level_per_erb_db(
    hz: NDArray[np.float64],
    among_hz: NDArray[np.float64],
    among_power: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Level within one ERB around each frequency, shape (n,)."""
    half = 0.5 * hz_to_erb(hz)[:, None] + 1e-9
    near = np.abs(among_hz[None, :] - hz[:, None]) <= half
    return power_to_db(near @ among_power)


def tone_excitation(
    hz: ArrayLike,
    level_db: ArrayLike,
    *,
    with_hz: ArrayLike = (),
    with_level_db: ArrayLike = (),
    cam: NDArray[np.float64] = FINE_CAM,
) -> NDArray[np.float64]:
    """Exact excitation pattern of steady components.

    Parameters
    ----------
    hz, level_db : array_like, shape (n,)
        Components: frequency and dB SPL in free field.
    with_hz, with_level_db : array_like, shape (m,)
        Components that sound at the same time and help to set the filters' shapes, but
        do not count as excitation.
    cam : ndarray, shape (filters,)
        Filter centres in Cam.

    Returns
    -------
    ndarray, shape (filters,)
        Power re 20 µPa squared.
    """
    f = np.atleast_1d(np.asarray(hz, dtype=np.float64))
    power = db_to_power(np.atleast_1d(level_db) + ear_transfer_db(f))
    other = np.atleast_1d(np.asarray(with_hz, dtype=np.float64))
    other_power = db_to_power(np.atleast_1d(with_level_db) + ear_transfer_db(other))
    level = level_per_erb_db(f, np.append(f, other), np.append(power, other_power))
    weight = roex_weight(f[:, None], level[:, None], cam_to_hz(cam))
    return power @ weight


def _class_weights(cam: NDArray[np.float64]) -> NDArray[np.float32]:
    """Filter weights between bands for each level class, shape (classes, bands, bands).

    A band's power may lie anywhere in it: the weight is the mean over places inside.
    """
    step = float(cam[1] - cam[0])
    inside = (np.arange(_PLACES) + 0.5) / _PLACES - 0.5
    source = cam_to_hz((cam[:, None] + step * inside).ravel())[:, None]
    out = np.empty((_CLASS_DB.size, cam.size, cam.size), dtype=np.float32)
    for k, level in enumerate(_CLASS_DB):
        weight = roex_weight(source, np.full((1, 1), level), cam_to_hz(cam))
        out[k] = weight.reshape(cam.size, _PLACES, cam.size).mean(axis=1)
    return out


def _transfer(cam: NDArray[np.float64]) -> NDArray[np.float32]:
    """Mean power gain of the outer and middle ear inside each band."""
    step = float(cam[1] - cam[0])
    inside = (np.arange(_PLACES) + 0.5) / _PLACES - 0.5
    gain = db_to_power(ear_transfer_db(cam_to_hz(cam[:, None] + step * inside)))
    mean: NDArray[np.float32] = gain.mean(axis=1).astype(np.float32)
    return mean


@numba.njit(cache=True, nogil=True)
def _between(weights, k, part, out):  # type: ignore[no-untyped-def]
    """Weights between level classes k and k + 1; out (frames, bands, bands)."""
    for f in range(k.shape[0]):
        for b in range(k.shape[1]):
            low, high, p = weights[k[f, b], b], weights[k[f, b] + 1, b], part[f, b]
            for c in range(low.size):
                out[f, b, c] = low[c] * (np.float32(1.0) - p) + high[c] * p


@dataclass(frozen=True, slots=True)
class Ear:
    """The pipeline's ear for one band axis; make it with `ear_for`.

    Parameters
    ----------
    tables
        Constants at the bands.
    transfer : ndarray, shape (bands,)
        Power gain from free field to cochlea inside each band.
    weights : ndarray, shape (classes, bands, bands)
        Filter weight from source band to filter at each level class.
    """

    tables: BandTables
    transfer: NDArray[np.float32]
    weights: NDArray[np.float32]

    def excite(self, power: NDArray[np.float32]) -> NDArray[np.float32]:
        """Excitation of every line, filters shaped by their sum.

        Parameters
        ----------
        power : ndarray, shape (frames, lines, bands), float32
            Free-field power re 20 µPa squared.

        Returns
        -------
        ndarray, shape (frames, lines, bands), float32
        """
        heard = power * self.transfer
        total = heard.sum(axis=1)
        near = total.copy()
        # One ERB is two half-Cam bands: the band itself and half of each neighbour.
        near[:, 1:] += 0.5 * total[:, :-1]
        near[:, :-1] += 0.5 * total[:, 1:]
        level = power_to_db(near)
        place = np.clip((level - _CLASS_DB[0]) / 5.0, 0.0, _CLASS_DB.size - 1.001)
        k = place.astype(np.int64)
        weight = np.empty((*k.shape, power.shape[2]), np.float32)
        _between(self.weights, k, (place - k).astype(np.float32), weight)
        excitation: NDArray[np.float32] = np.matmul(heard, weight)
        return excitation


def ear_for(band_cam: NDArray[np.float64]) -> Ear:
    """Ear for equally spaced bands, half a Cam apart as in `auditor.spectra.line_spectra`."""
    return _ear_at(tuple(band_cam.tolist()))


@lru_cache(maxsize=4)
def _ear_at(cam: tuple[float, ...]) -> Ear:
    """Ears are kept: a passage that is heard again costs less than its filters."""
    band_cam = np.array(cam)
    return Ear(
        tables=band_tables(band_cam),
        transfer=_transfer(band_cam),
        weights=_class_weights(band_cam),
    )
