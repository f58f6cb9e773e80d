"""Line spectra from the score alone: what published powers and timbres put into a hall.

No sound is heard. Each note gets the power its instrument, players, mark and register let
one expect, the spectrum of its templates at that mark, and reaches the listener by

.. math:: L_p = L_W + G - 31 dB

with the strength G of the hall, re the free field at 10 m (ISO 3382-1 defines G; the form
for power follows from a sphere of 10 m, 10 lg(4 pi 100) = 31 dB). G is 4.0 to 5.5 dB in the
best halls (University of Nebraska concert-hall page). The hall's own ringing between notes
and its seats are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numba
import numpy as np
from numpy.typing import NDArray

from auditor.errors import InputError
from auditor.score.notes import Line, Note, Score
from auditor.sound.spectrum import HOP, POOL_HZ, RATE_HZ, frame_times
from auditor.spectra.activity import Activity, PlayedNotes, activity
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB, LineSpectra
from auditor.spectra.mixture import band_power
from auditor.spectra.palette import Palette, atom_rows
from auditor.spectra.playing import line_timbres, played_notes
from auditor.timbre.dynamics import power_level_db
from auditor.timbre.power import PLAYERS_SD, figure_of, figure_sd_db, register_db
from auditor.timbre.templates import AGES, SOURCES
from auditor.units import power_to_db

ROOM_GAIN_DB = 4.5
# Bounds of a hall; a living room has more, open air none.
_ROOM_GAINS = (-5.0, 20.0)
_SPHERE_DB = 31.0
# Frames of each age within a note's first half second, which the templates' 0 dB means.
_FIRST_HALF = np.array([3.0, 5.0, 12.0, 2.0, 0.0, 0.0])
# Seconds after the last note.
_END_S = 1.0


def check_room_gain(gain_db: float) -> None:
    """Refuse a strength G that is no hall's.

    Raises
    ------
    InputError
        Outside -5 to 20 dB.
    """
    if not _ROOM_GAINS[0] <= gain_db <= _ROOM_GAINS[1]:
        raise InputError(
            f"the room gain is {gain_db:g} dB; expected {_ROOM_GAINS[0]:g} to "
            f"{_ROOM_GAINS[1]:g} (concert halls have about 2 to 6)"
        )


def note_power_db(note: Note, line: Line) -> float:
    """Sound power level in dB re 1 pW that a note of a line may be expected to have."""
    instrument = line.instrument
    figure = figure_of(instrument.key)
    players = min(note.players, line.players) if note.players else line.players
    plucked = instrument.family == "strings" and "pizz" in note.techniques
    level = power_level_db(
        figure.key, instrument.family, note.dynamic, players, plucked=plucked
    )
    place = 0.0
    if instrument.pitched and not note.unpitched:
        low, high = float(instrument.low), float(instrument.high)
        place = float(register_db(figure.key, note.pitch, low, high))
    return float(level) + place


def line_sd_db(score: Score) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Spread of each line's level: what its instrument's figure leaves open, and its players.

    Returns
    -------
    figure, players : ndarray, shape (lines,)
        Standard deviations in dB; the first is common to all lines of one instrument.
    """
    dynamic: dict[int, list[float]] = {}
    for note in score.notes:
        dynamic.setdefault(note.line, []).append(note.dynamic)
    figure = [
        figure_sd_db(
            figure_of(line.instrument.key), float(np.mean(dynamic.get(line.number, [3.0])))
        )
        for line in score.lines
    ]
    return np.array(figure), np.full(len(score.lines), PLAYERS_SD)


def forecast_spectra(
    score: Score,
    onset_s: NDArray[np.float64],
    offset_s: NDArray[np.float64],
    *,
    room_gain_db: float = ROOM_GAIN_DB,
    frames: int | None = None,
    sources: Sequence[str] = SOURCES,
) -> LineSpectra:
    """Spectra of every line as the page lets one expect them in a hall.

    Parameters
    ----------
    score
        The page.
    onset_s, offset_s : ndarray, shape (notes,)
        When each note sounds, NaN where it does not.
    room_gain_db
        Strength G of the hall.
    frames
        Length of the result; the last note's end and a second more if None.
    sources
        Shipped template sources to draw on.

    Returns
    -------
    LineSpectra
        With `source` ``forecast``.

    Raises
    ------
    InputError
        If the room gain is no hall's.
    """
    check_room_gain(room_gain_db)
    kept = np.flatnonzero(np.isfinite(onset_s) & np.isfinite(offset_s))
    if frames is None:
        last = float(offset_s[kept].max()) if kept.size else 0.0
        frames = int((last + _END_S) * RATE_HZ / HOP) + 1
    row = {line.number: k for k, line in enumerate(score.lines)}
    level = np.array(
        [note_power_db(n, score.lines[row[n.line]]) for n in (score.notes[k] for k in kept)]
    )
    power = np.zeros((len(score.lines), frames, BAND_CAM.size), np.float32)
    if kept.size:
        notes = played_notes(score, onset_s, offset_s)
        palette = Palette(line_timbres(score), 0.0, sources, None)
        shape, atom, cuts = _shapes(notes, palette, frames)
        _add(power, notes, level + room_gain_db - _SPHERE_DB, shape, atom, cuts)
    for line in power:  # in place: a movement for full orchestra takes 300 MB
        line[:] = power_to_db(line, FLOOR_DB)
    return LineSpectra(
        level_db=power,
        frame_s=frame_times(frames),
        band_cam=BAND_CAM,
        confidence=np.ones((len(score.lines), frames), np.float32),
        source="forecast",
    )


def line_power(
    line: Line, notes: Sequence[Note], onset_s: NDArray[np.float64],
    offset_s: NDArray[np.float64], frames: int, *, sources: Sequence[str] = SOURCES,
) -> NDArray[np.float32]:  # fmt: skip
    """Band power of one line playing some notes, as published powers have it.

    Parameters
    ----------
    line
        Who plays.
    notes
        What; their dynamics, techniques and players count.
    onset_s, offset_s : ndarray, shape (notes,)
        When, from the first frame on.
    frames
        Length of the result.
    sources
        Shipped template sources to draw on.

    Returns
    -------
    ndarray, shape (frames, bands), float32
        Power re 1 pW; a room gain is the caller's.
    """
    out: NDArray[np.float32] = np.zeros((1, frames, BAND_CAM.size), np.float32)
    power: NDArray[np.float32] = out[0]
    if not notes:
        return power
    number = line.number
    own = [replace(n, line=number) for n in notes]
    page = Score("", (), (line,), (), tuple(own), 0)
    played = played_notes(page, onset_s, offset_s)
    level = np.array([note_power_db(n, line) for n in own])
    shape, atom, cuts = _shapes(played, Palette(line_timbres(page), 0.0, sources, None), frames)
    _add(out, played, level, shape, atom, cuts)
    return power


def _shapes(
    notes: PlayedNotes, palette: Palette, frames: int
) -> tuple[NDArray[np.float32], NDArray[np.int64], Activity]:
    """Band power of every atom, the atom of every entry, and the entries.

    A colour at a step sums to one over the pools in its first half second: brighter is a
    matter of shape, how loud is a matter of power.
    """
    cuts = activity(notes, frames)
    step = np.clip(np.round(notes.dynamic), -1, 6).astype(np.int64)
    colour_key = np.stack([notes.line, notes.timbre, notes.pitch], axis=1)
    colours, note_colour = np.unique(colour_key, axis=0, return_inverse=True)
    voice_key = np.stack([note_colour, step], axis=1)
    voices, note_voice = np.unique(voice_key, axis=0, return_inverse=True)
    atoms = np.column_stack(
        [np.repeat(voices, AGES, axis=0), np.tile(np.arange(AGES), len(voices))]
    )
    rows, _ = atom_rows(atoms, colours, notes.timbres, palette)
    whole = rows.reshape(len(voices), AGES, POOL_HZ.size)
    half = (whole.sum(axis=2) * _FIRST_HALF).sum(axis=1) / _FIRST_HALF.sum()
    bands = band_power((whole / half[:, None, None]).astype(np.float32).reshape(rows.shape))
    atom = note_voice[cuts.note] * AGES + cuts.age
    return bands, atom.astype(np.int64), cuts


def _add(
    power: NDArray[np.float32],
    notes: PlayedNotes,
    level_db: NDArray[np.float64],
    shape: NDArray[np.float32],
    atom: NDArray[np.int64],
    cuts: Activity,
) -> None:
    """Add every entry to its line, in place."""
    gain = (10 ** (level_db / 10)).astype(np.float32)[cuts.note]
    _add_entries(power, notes.line[cuts.note], cuts.segment, cuts.bounds, gain, shape, atom)


@numba.njit(cache=True, nogil=True)
def _add_entries(power, line, segment, bounds, gain, shape, atom):  # type: ignore[no-untyped-def]
    for e in range(segment.size):
        row = shape[atom[e]]
        for t in range(bounds[segment[e]], bounds[segment[e] + 1]):
            for b in range(row.size):
                power[line[e], t, b] += gain[e] * row[b]
