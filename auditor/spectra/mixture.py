"""Line spectra from the mix: score-informed decomposition with timbre templates."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numba
import numpy as np
from numpy.typing import NDArray

from auditor.sound.spectrum import POOL_HZ, frame_times, pooled_power
from auditor.spectra.activity import Activity, PlayedNotes, activity
from auditor.spectra.explained import Decomposed
from auditor.spectra.fitting import Fitted, fit
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB, LineSpectra
from auditor.spectra.palette import LineTimbre, Palette, atom_rows
from auditor.spectra.problem import PARTIALS, Problem, Settings
from auditor.spectra.tails import give_tails, late_power
from auditor.timbre.library import Library
from auditor.timbre.templates import SOURCES
from auditor.units import hz_to_cam, midi_to_hz, power_to_db

# What the channels have apart, against their middle: less is dither, or the loss of a codec.
_MONO = 1e-5


def band_split() -> NDArray[np.float32]:
    """Share of each pool's power that falls to each band, shape (pools, bands).

    A pool between two band centres is shared linearly, which keeps its centroid.
    """
    place = (hz_to_cam(POOL_HZ) - BAND_CAM[0]) / (BAND_CAM[1] - BAND_CAM[0])
    place = np.clip(place, 0.0, BAND_CAM.size - 1.0)
    out = np.zeros((POOL_HZ.size, BAND_CAM.size), np.float32)
    low = np.minimum(place.astype(int), BAND_CAM.size - 2)
    rows = np.arange(POOL_HZ.size)
    out[rows, low] = 1.0 - (place - low)
    out[rows, low + 1] = place - low
    return out


def band_power(power: NDArray[np.float32]) -> NDArray[np.float32]:
    """Pooled power to band power, shape (frames, pools) to (frames, bands)."""
    return power @ band_split()


def mix_spectra(
    samples: NDArray[np.float32],
    notes: PlayedNotes,
    lines: Sequence[LineTimbre],
    calibration_db: float,
    *,
    tuning: float = 0.0,
    sources: Sequence[str] = SOURCES,
    settings: Settings | None = None,
    library: Library | None = None,
    known: NDArray[np.float32] | None = None,
    side: NDArray[np.float32] | None = None,
    watch: Callable[[Decomposed], None] | None = None,
) -> LineSpectra:
    """Decompose a mix.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    notes
        What the score says sounds when.
    lines
        One for each row of the result.
    calibration_db
        dB SPL of a full-scale mean square of 1.
    tuning
        Offset of the mix from A4 = 440 Hz in semitones.
    sources
        Template sources to draw on.
    settings
        Priors of the fit.
    library
        Templates of the instruments that sound; what it lacks comes from `sources`.
    known : ndarray, shape (frames, pools)
        Power in the mix that none of the lines gave.
    side : ndarray, shape (samples,)
        Half the difference of left and right, where `samples` is half their sum; None in
        mono. It is not listened to where `known` is given.
    watch
        Called with the decomposition before it is summed into lines.

    Returns
    -------
    LineSpectra
        With `source` ``mix``.
    """
    power = pooled_power(samples)
    frames = activity(notes, len(power))
    palette = Palette(lines, tuning, sources, library)
    late = late_power(power if known is None else np.maximum(power - known, 0.0))
    problem = _problem(power, late, frames, notes, palette, known)
    if side is not None and known is None:
        image = _image(samples, side, power, late, frames)
        if image is not None:
            problem = replace(problem, image=image[0], image_tails=image[1])
    fitted = fit(problem, settings or Settings())
    if watch is not None:
        watch(Decomposed(notes, problem, fitted, frames.bounds, palette))
    level, confidence = _split(power - late, frames, problem, fitted, len(lines))
    give_tails(level, band_power(late))
    return LineSpectra(
        level_db=_calibrated(level, calibration_db),
        frame_s=frame_times(len(power)),
        band_cam=BAND_CAM,
        confidence=confidence,
        source="mix",
    )


def _image(
    middle: NDArray[np.float32],
    side: NDArray[np.float32],
    power: NDArray[np.float32],
    late: NDArray[np.float32],
    frames: Activity,
) -> tuple[NDArray[np.float32], NDArray[np.float32]] | None:
    """Covariance of middle and side, and of their tails; None where both say the same."""
    apart = pooled_power(side)
    most = np.sqrt(power * apart)
    cross = np.clip(0.5 * (pooled_power(middle + side) - power - apart), -most, most)
    whole = [float(each.sum(dtype=np.float64)) for each in (power, cross, apart)]
    if whole[0] * whole[2] - whole[1] ** 2 < _MONO * whole[0] ** 2:
        return None
    apart_late = late_power(apart)
    # What rings on comes from where it was played.
    cross_late = cross * (np.sqrt(late * apart_late) / np.maximum(most, np.float32(1e-15)))
    kinds = ((power, cross, apart), (late, cross_late, apart_late))
    now, tails = (np.stack([_segments(k, frames) for k in three], axis=1) for three in kinds)
    return now, tails


def _calibrated(power: NDArray[np.float32], calibration_db: float) -> NDArray[np.float32]:
    out = np.empty_like(power)
    for k, line in enumerate(power):
        out[k] = power_to_db(line * 10 ** (calibration_db / 10), FLOOR_DB)
    return out


def _problem(
    power: NDArray[np.float32],
    late: NDArray[np.float32],
    frames: Activity,
    notes: PlayedNotes,
    palette: Palette,
    known: NDArray[np.float32] | None,
) -> Problem:
    length = np.diff(frames.bounds)
    loudness = np.clip(np.round(notes.dynamic), -1, 6).astype(np.int64)
    colour_key = np.stack([notes.line, notes.timbre, notes.pitch], axis=1)
    colours, note_colour = np.unique(colour_key, axis=0, return_inverse=True)
    atom_key = np.stack([note_colour[frames.note], loudness[frames.note], frames.age], axis=1)
    atoms, entry_atom = np.unique(atom_key, axis=0, return_inverse=True)
    rows, unlike = atom_rows(atoms, colours, notes.timbres, palette)
    tuning = palette.tuning
    own = [palette.learned(row[0], notes.timbres[row[1]]) is not None for row in colours]
    return Problem(
        power=_segments(power, frames),
        tails=_segments(late, frames),
        weight=np.minimum(length, 6).astype(np.float32) ** 0.5,
        first=frames.first,
        note=frames.note,
        age=frames.age,
        atom=entry_atom.astype(np.int64),
        templates=rows,
        unlike=unlike,
        partial=_partials(colours[:, 2] + tuning * (colours[:, 2] > 0)),
        atom_colour=atoms[:, 0].astype(np.int64),
        colour_line=colours[:, 0].astype(np.int64),
        note_line=notes.line,
        expected_db=_expected(notes, palette),
        own=np.array(own, dtype=bool),
        known=None if known is None else _segments(known, frames),
    )


def _segments(power: NDArray[np.float32], frames: Activity) -> NDArray[np.float32]:
    """Mean power of each segment, shape (segments, pools)."""
    length = np.diff(frames.bounds)
    mean = np.add.reduceat(power, frames.bounds[:-1], axis=0) / length[:, None]
    return np.asarray(mean, np.float32)


def _expected(notes: PlayedNotes, palette: Palette) -> NDArray[np.float64]:
    """Expected level of each note; within a line as the library plays it, where it is known.

    How loud a line is against the others stays what instruments and players let one expect:
    the library's own balance is the maker's, and faders stand between.
    """
    out = notes.level_db.copy()
    keys = np.stack([notes.line, notes.timbre], axis=1)
    for line, timbre in np.unique(keys, axis=0):
        voice = palette.learned(int(line), notes.timbres[timbre])
        if voice is None:
            continue
        rows = np.flatnonzero((notes.line == line) & (notes.timbre == timbre))
        level = [voice.level(float(notes.pitch[r]), float(notes.dynamic[r])) for r in rows]
        out[rows] = np.array(level) - np.mean(level) + out[rows].mean()
    return out


def _partials(pitch: NDArray[np.float64]) -> NDArray[np.int64]:
    """Find the nearest partial of each pool, shape (pitches, pools)."""
    number = np.round(POOL_HZ[None] / midi_to_hz(pitch)[:, None]).astype(np.int64)
    number[(number >= PARTIALS) | (pitch[:, None] <= 0)] = 0
    return number


@numba.njit(cache=True, fastmath=True)
def _share(power, bounds, first, atom, line, level, atoms, floor, low, part, out, confidence):  # type: ignore[no-untyped-def]
    """Wiener split of every frame into lines, pools gathered into bands."""
    lines = out.shape[0]
    pools = power.shape[1]
    own = np.zeros((lines, pools), np.float32)
    active = np.zeros(lines, np.bool_)
    total = np.empty(pools, np.float32)
    for s in range(len(bounds) - 1):
        own[:] = 0.0
        active[:] = False
        for f in range(pools):
            total[f] = floor[s, f]
        for e in range(first[s], first[s + 1]):
            h = np.float32(level[e])
            row = atoms[atom[e]]
            k = line[e]
            active[k] = True
            for f in range(pools):
                own[k, f] += h * row[f]
                total[f] += h * row[f]
        for k in range(lines):
            if not active[k]:
                continue
            for f in range(pools):
                own[k, f] /= total[f]
            for t in range(bounds[s], bounds[s + 1]):
                whole = np.float32(1e-20)
                sure = np.float32(0.0)
                for f in range(pools):
                    p = own[k, f] * power[t, f]
                    out[k, t, low[f]] += p * (1 - part[f])
                    out[k, t, low[f] + 1] += p * part[f]
                    whole += p
                    sure += p * own[k, f]
                confidence[k, t] = sure / whole


def _split(
    power: NDArray[np.float32], frames: Activity, problem: Problem, fitted: Fitted, lines: int
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    out = np.zeros((lines, len(power), BAND_CAM.size), np.float32)
    confidence = np.zeros((lines, len(power)), np.float32)
    split = band_split()
    low = np.minimum(np.argmax(split > 0, axis=1), BAND_CAM.size - 2)
    part = split[np.arange(POOL_HZ.size), low + 1]
    _share(
        power, frames.bounds, frames.first, problem.atom, problem.note_line[problem.note],
        fitted.level, fitted.atoms, fitted.floor, low, part, out, confidence,
    )  # fmt: skip
    return out, confidence
