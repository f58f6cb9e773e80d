"""A render cut into its notes, and what is wrong with each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.learning.listing import Wanted, pitch_name
from auditor.learning.pitch import really, sounding_pitch
from auditor.learning.placing import Placing
from auditor.sound.spectrum import HOP, POOL_HZ, RATE_HZ, pooled_power
from auditor.timbre.taking import LEAD_FRAMES, take
from auditor.units import midi_to_hz

# Struck instruments whose partials are no multiples of one pitch (N. H. Fletcher, T. D.
# Rossing, The Physics of Musical Instruments, ch. 18 to 21): no period tells their note.
INHARMONIC = frozenset(
    ("timpani", "tubular-bells", "handbells", "crotales", "glockenspiel", "steel-drums",
     "cimbalom")
)  # fmt: skip
# A little above the noise of 16 bits (-98 dB of full scale).
SILENT_DBFS = -92.0
_UNDER_MEDIAN_DB = 50.0
_FULL_SCALE = 0.999
_CLIPPED_RUN = 3
# What another pitch may hold of a note's power. Over 27 sheets of two sound fonts the most
# was -14 dB in held notes and -10 dB in plucked ones, but for one harp string at -2 dB.
_SECOND_DB = {"held": -12.0, "plucked": -6.0}
_WRONG_SEMITONES = 0.5
_OWN_SHARE = 0.2
# Octave, third and fifth: where a single note's own partials lie.
_OF_ONE_NOTE = (0, 4, 7)
_GUARD_S = 0.05  # of a slot's end: the next note's first window reaches back


@dataclass(frozen=True, slots=True)
class Taken:
    """One note as rendered.

    Parameters
    ----------
    wanted
        What was asked for.
    template : ndarray, shape (AGES, pools)
        dB, as `auditor.timbre.taking.take`.
    level_db
        dB of full scale.
    pitch
        MIDI pitch that sounds, NaN where there is none to tell.
    ring_db
        Level just before the note against the note.
    decay_db
        How far the level falls from the note's start to its last held quarter.
    fault
        What is wrong with it, empty if nothing.
    """

    wanted: Wanted
    template: NDArray[np.float64]
    level_db: float
    pitch: float
    ring_db: float
    decay_db: float
    fault: str


def cut(
    samples: NDArray[np.float32],
    peaks: NDArray[np.bool_],
    notes: Sequence[Wanted],
    placing: Placing,
    *,
    harmonic: bool,
) -> tuple[Taken, ...]:
    """Cut a render into its notes; those beyond its end are left out.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    peaks : ndarray of bool, shape (hundredths of a second,)
        Where the file is at full scale.
    harmonic
        True if a period tells the pitch.
    """
    out = []
    starts = [n.start_s / placing.speed + placing.lag_s for n in notes]
    for k, note in enumerate(notes):
        end = starts[k + 1] if k + 1 < len(notes) else samples.size / RATE_HZ
        first, last = round(starts[k] * RATE_HZ), round((end - _GUARD_S) * RATE_HZ)
        last = min(last, samples.size)
        held = (note.end_s - note.start_s) / placing.speed
        if first < 0 or last - first < int(0.9 * held * RATE_HZ):
            continue
        previous = notes[k - 1].pitch if k else 0
        body = samples[first:last]
        clipped = bool(peaks[int(starts[k] * 100) : int(end * 100)].any())
        taken = _taken(note, body, _before(samples, first), held, previous, harmonic)
        out.append(_replaced(taken, "is clipped") if clipped and not taken.fault else taken)
    return _silent_told(out)


def _before(samples: NDArray[np.float32], first: int) -> NDArray[np.float32]:
    size = LEAD_FRAMES * HOP
    piece = samples[max(0, first - size) : first]
    return np.concatenate([np.zeros(size - piece.size, np.float32), piece])


def _taken(
    note: Wanted,
    body: NDArray[np.float32],
    before: NDArray[np.float32],
    held_s: float,
    previous: int,
    harmonic: bool,
) -> Taken:
    template, level = take(body, held_s, before)
    _, raw_level = take(body, held_s)
    ring = 10 * np.log10(float(pooled_power(before)[:2].sum(axis=1).mean()) + 1e-12)
    decay = _total(template[1]) - _total(template[4 if held_s > 1.0 else 2])
    pitch = float("nan")
    # What rings on from the note before is no sound of this one.
    fault = "is silent" if raw_level < SILENT_DBFS else ""
    if note.pitch and harmonic and raw_level > SILENT_DBFS and note.way != "short":
        steady = body[int(0.2 * RATE_HZ) : int(min(held_s, 0.95) * RATE_HZ)]
        pitch = sounding_pitch(steady, max(note.pitch - 26.0, 19.0))
        fault = _pitch_fault(note, pitch, template[3], previous, steady)
    return Taken(note, template, level, pitch, float(ring - raw_level), decay, fault)


def _replaced(taken: Taken, fault: str) -> Taken:
    return Taken(
        taken.wanted, taken.template, taken.level_db, taken.pitch, taken.ring_db,
        taken.decay_db, fault,
    )  # fmt: skip


def _total(row_db: NDArray[np.float64]) -> float:
    return float(10 * np.log10((10 ** (row_db / 10)).sum()))


def _silent_told(notes: list[Taken]) -> tuple[Taken, ...]:
    """Notes below what can be measured, or far below others of their dynamic, are silent."""
    if not notes:
        return ()
    out = []
    for note in notes:
        same = [n.level_db for n in notes if n.wanted.dynamic == note.wanted.dynamic]
        limit = max(SILENT_DBFS, float(np.median(same)) - _UNDER_MEDIAN_DB)
        out.append(_replaced(note, "is silent") if note.level_db < limit else note)
    return tuple(out)


def _pitch_fault(
    note: Wanted,
    pitch: float,
    spectrum_db: NDArray[np.float64],
    previous: int,
    steady: NDArray[np.float32],
) -> str:
    power = 10 ** (spectrum_db / 10)
    second = _second(power, note.pitch, previous)
    if second is not None and second[0] <= _SECOND_DB.get(note.way, 0.0):
        second = None
    off = pitch - note.pitch
    if np.isfinite(off) and abs(off) > _WRONG_SEMITONES and really(steady, note.pitch, off):
        said = pitch_name(round(pitch))
        octave = abs(abs(off) - 12.0) < _WRONG_SEMITONES
        if octave and (second is None or (second[1] - round(pitch)) % 12 in _OF_ONE_NOTE):
            return f"sounds an octave too {'low' if off < 0 else 'high'} ({said})"
        if second is None or not _there(power, note.pitch):
            return (
                f"sounds {abs(off):.1f} semitones too {'low' if off < 0 else 'high'} ({said})"
            )
    if second is not None:
        return f"holds a second sound ({pitch_name(second[1])}, {second[0]:.0f} dB)"
    return ""


def _there(power: NDArray[np.float64], wanted: int) -> bool:
    """Tell whether the wanted note's own partials hold a good share of the power."""
    own = _partial_power(power, float(midi_to_hz(wanted)) * np.arange(1.0, 9.0))
    return own > _OWN_SHARE * float(power.sum())


def _partial_power(power: NDArray[np.float64], hz: NDArray[np.float64]) -> float:
    """Power at some frequencies, within a third of a semitone or a bin."""
    hz = hz[hz < POOL_HZ[-1]]
    if not hz.size:
        return 0.0
    near = np.maximum(hz * (2 ** (0.35 / 12) - 1), 0.8 * RATE_HZ / 4096)
    hit = (np.abs(POOL_HZ[None] - hz[:, None]) <= near[:, None]).any(axis=0)
    return float(power[hit].sum())


def _second(power: NDArray[np.float64], wanted: int, previous: int) -> tuple[float, int] | None:
    """Loudest other pitch: its share of the power in dB, off the note's partials."""
    partials = float(midi_to_hz(wanted)) * np.arange(1.0, 400.0)
    partials = partials[partials < 1.1 * POOL_HZ[-1]]
    near = np.maximum(partials * (2 ** (0.6 / 12) - 1), 2.6 * RATE_HZ / 4096)
    free = ~(np.abs(POOL_HZ[None] - partials[:, None]) <= near[:, None]).any(axis=0)
    total = float(power.sum())
    found: tuple[float, int] | None = None
    for pitch in range(max(wanted - 24, 21), min(wanted + 25, 109)):
        if pitch in (wanted, previous):
            continue
        share = _partial_power(power * free, float(midi_to_hz(pitch)) * np.arange(1.0, 9.0))
        db = float(10 * np.log10(share / total + 1e-12))
        if found is None or db > found[0]:
            found = (db, pitch)
    return found


def full_scale(channels: NDArray[np.float32], rate_hz: int) -> NDArray[np.bool_]:
    """Hundredths of a second that hold runs at full scale, shape (hundredths,).

    Parameters
    ----------
    channels : ndarray, shape (samples, channels)
        As in the file.
    """
    full: NDArray[np.bool_] = np.abs(channels).max(axis=1) >= _FULL_SCALE
    run = full.copy()
    for k in range(1, _CLIPPED_RUN):
        run[k:] &= full[: full.size - k]
    out = np.zeros(full.size * 100 // rate_hz + 2, bool)
    out[np.flatnonzero(run) * 100 // rate_hz] = True
    return out
