"""How instruments sound: pooled spectra by pitch and age of the note, from several sources.

A template is a power spectrum in dB on the pools of `auditor.sound.spectrum`, for
six ages of a note; 0 dB is the mean power of the note's first half second.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from auditor.model_files import model_path
from auditor.sound.spectrum import POOL_HZ
from auditor.units import midi_to_hz

# Frames since the onset, half open; one frame is 23 ms. The first age starts a frame
# early, because that frame's window already reaches into the note. The sixth age is
# what rings on after the note's end.
AGE_FRAMES: tuple[tuple[int, int], ...] = ((-1, 2), (2, 7), (7, 19), (19, 42), (42, 10_000))
AGES = len(AGE_FRAMES) + 1
FLOOR_DB = -75.0
SOURCES: tuple[str, ...] = ("fluid", "muse", "csgm", "recorded", "tonejs")

# Instruments without templates of their own, and whose stand in.
RELATIVES: dict[str, tuple[str, ...]] = {
    "alto-flute": ("flute",),
    "bass-flute": ("flute",),
    "soprano-recorder": ("recorder",),
    "tenor-recorder": ("recorder",),
    "bass-recorder": ("recorder", "flute"),
    "oboe-damore": ("oboe", "english-horn"),
    "heckelphone": ("english-horn", "bassoon"),
    "sarrusophone": ("bassoon", "baritone-saxophone"),
    "e-flat-clarinet": ("clarinet",),
    "basset-clarinet": ("clarinet",),
    "basset-horn": ("clarinet",),
    "bass-clarinet": ("clarinet",),
    "contrabass-clarinet": ("clarinet",),
    "contrabassoon": ("bassoon",),
    "bass-saxophone": ("baritone-saxophone",),
    "cornet": ("trumpet",),
    "cornett": ("trumpet", "recorder"),
    "flugelhorn": ("trumpet", "horn"),
    "piccolo-trumpet": ("trumpet",),
    "bass-trumpet": ("trombone", "trumpet"),
    "alto-trombone": ("trombone",),
    "bass-trombone": ("trombone",),
    "contrabass-trombone": ("trombone", "tuba"),
    "euphonium": ("tuba", "trombone"),
    "wagner-tuba": ("horn", "tuba"),
    "ophicleide": ("tuba",),
    "serpent": ("tuba", "bassoon"),
    "crotales": ("glockenspiel",),
    "handbells": ("tubular-bells", "glockenspiel"),
    "cimbalom": ("harpsichord", "piano"),
    "mandolin": ("guitar",),
    "lute": ("guitar",),
    "banjo": ("guitar",),
    "bass-guitar": ("guitar", "double-bass+pizz"),
    "harmonium": ("organ",),
    "accordion": ("organ",),
    "viola-damore": ("viola-solo",),
    "viola-da-gamba": ("cello-solo",),
    "string-section": ("violin", "viola", "cello", "double-bass"),
    "violin-solo": ("violin",),
    "viola-solo": ("viola",),
    "cello-solo": ("cello",),
    "double-bass-solo": ("double-bass",),
    "tom-toms": ("tom-tom",),
    "tenor-drum": ("tom-tom", "snare-drum"),
    "bongos": ("tom-tom",),
    "congas": ("tom-tom",),
    "timbales": ("tom-tom", "snare-drum"),
    "finger-cymbals": ("triangle",),
    "temple-blocks": ("wood-block",),
    "claves": ("wood-block",),
    "whip": ("snare-drum", "wood-block"),
    "anvil": ("cowbell", "triangle"),
    "bell-tree": ("sleigh-bells", "triangle"),
    "maracas": ("tambourine",),
    "thunder-sheet": ("tam-tam",),
}
# So alike that each tells what another sounds like. Bowed strings, plucked strings and brass
# were tried too: they help where fonts judge fonts and harm where they judge recorded notes;
# flutes let a plain tone pass for one an octave off.
_ALIKE: tuple[tuple[str, ...], ...] = (
    ("soprano-saxophone", "alto-saxophone", "tenor-saxophone", "baritone-saxophone"),
)
# How far a neighbouring pitch tells, and how soon it counts less, in semitones.
_REACH, _WANES = 5.0, 3.0
_BY_KIND: dict[str, tuple[str, ...]] = {
    "sustained": ("clarinet", "oboe", "horn", "violin-solo"),
    "plucked": ("harp", "guitar"),
    "struck": ("marimba", "piano", "glockenspiel"),
}
_UNPITCHED: tuple[str, ...] = ("snare-drum", "bass-drum", "cymbals", "tom-tom")


@cache
def _source(name: str) -> dict[str, tuple[NDArray[np.float64], NDArray[np.float64]]]:
    with np.load(model_path(f"timbre/{name}.npz")) as data:
        keys = {n.split("/")[0] for n in data.files}
        return {
            k: (data[f"{k}/pitch"].astype(float), data[f"{k}/db"].astype(float)) for k in keys
        }


@cache
def shipped_keys() -> tuple[str, ...]:
    """Every pitched template key of the shipped sources."""
    keys = {k for s in SOURCES for k, (pitches, _) in _source(s).items() if pitches[0] > 0}
    return tuple(sorted(keys))


@cache
def pitches_of(key: str) -> NDArray[np.float64]:
    """Pitches that the shipped sources have of a key, rising."""
    return np.unique(np.concatenate([_source(s)[key][0] for s in SOURCES if key in _source(s)]))


def has_own(key: str, sources: Sequence[str] = SOURCES) -> bool:
    """Tell whether the sources know this very key, not only a relative."""
    return any(key in _source(s) for s in sources)


def template_keys(
    key: str, *, family: str, kind: str, pitched: bool, sources: Sequence[str]
) -> tuple[str, ...]:
    """Find the template keys that stand for an instrument: its own, else its relatives'."""
    have = {k for s in sources for k in _source(s)}
    if key in have:
        return (key,)
    plain = key.split("+")[0]
    for candidate in (key, plain):
        stand_in = tuple(k for k in RELATIVES.get(candidate, ()) if k in have)
        if stand_in:
            return stand_in
    if plain in have:
        return (plain,)
    if family == "voice":
        return ("voice",)
    if not pitched:
        return _UNPITCHED
    return _BY_KIND[kind]


def shifted(spectrum_db: NDArray[np.float64], semitones: float) -> NDArray[np.float64]:
    """Move a spectrum along log frequency, shape (..., pools) in and out.

    Partials keep their width on the pools; the move is at most a few semitones.
    """
    if semitones == 0:
        return spectrum_db
    low, part, inside = _move(semitones)
    below = spectrum_db[..., low]
    moved = below + (spectrum_db[..., low + 1] - below) * part
    return np.where(inside, moved, FLOOR_DB)


@lru_cache(maxsize=256)
def _move(
    semitones: float,
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.bool_]]:
    """Pool below, share of the one above, and whether there is any, each of shape (pools,)."""
    at = np.maximum(POOL_HZ * 2 ** (-semitones / 12), POOL_HZ[0])
    low = np.minimum(np.searchsorted(POOL_HZ, at, side="right") - 1, POOL_HZ.size - 2)
    part = (at - POOL_HZ[low]) / (POOL_HZ[low + 1] - POOL_HZ[low])
    return low, np.minimum(part, 1.0), at <= POOL_HZ[-1]


def variants(
    keys: Sequence[str], pitch: float, sources: Sequence[str] = SOURCES
) -> NDArray[np.float64]:
    """Every source's template of a pitch, shape (variants, AGES, pools), dB.

    Parameters
    ----------
    keys
        Template keys, from `template_keys`.
    pitch
        Sounding MIDI pitch, tuning offset included (fractions of a semitone).
    sources
        Names of the sources to draw on.
    """
    rows = []
    for source in sources:
        table = _source(source)
        for key in keys:
            if key in table:
                pitches, spectra = table[key]
                if pitches.size == 1 and pitches[0] == 0:
                    rows.append(spectra[0])
                    continue
                k = int(np.argmin(np.abs(pitches - pitch)))
                rows.append(shifted(spectra[k], pitch - pitches[k]))
    return np.array(rows)


def blended(
    keys: Sequence[str], pitch: float, sources: Sequence[str] = SOURCES
) -> NDArray[np.float64]:
    """What each source says of a pitch, neighbouring pitches and close relatives heard with it.

    A source's nearest template, the power around each of its partials brought to what the
    source's templates within five semitones have there on average (of dB, relatives
    included): one sample has partials of its own. docs/evaluation.md says what it brings.

    Parameters
    ----------
    keys
        Template keys, from `template_keys`.
    pitch
        Sounding MIDI pitch, tuning offset included (fractions of a semitone).
    sources
        Names of the sources to draw on.

    Returns
    -------
    ndarray, shape (sources, AGES, pools)
        dB; NaN where a source has nothing to say.
    """
    return _blended(tuple(keys), float(pitch), tuple(sources))


@lru_cache(maxsize=2048)
def _blended(
    keys: tuple[str, ...], pitch: float, sources: tuple[str, ...]
) -> NDArray[np.float64]:
    alike = {k for group in _ALIKE if not set(group).isdisjoint(keys) for k in group}
    out = np.full((len(sources), AGES, POOL_HZ.size), np.nan)
    # Where no source reaches the pitch, the nearest that the instrument itself has must do.
    for others, reach in ((sorted(alike.difference(keys)), _REACH), ((), np.inf)):
        for row, source in zip(out, sources, strict=True):
            table = _source(source)
            found = [_around(*table[key], pitch, reach) for key in keys if key in table]
            found += [_around(*table[key], pitch, reach) for key in others if key in table]
            known = [one for one in found if one is not None]
            if known:
                nearest = min(known, key=lambda one: one.apart).template
                row[:] = _evened(nearest, [one.cells_db for one in known], pitch)
        if np.isfinite(out).any():
            break
    out.flags.writeable = False
    return out


class _Around(NamedTuple):
    """A key around a pitch: the nearest template, how far it is, and the mean of the cells."""

    template: NDArray[np.float64]
    apart: float
    cells_db: NDArray[np.float64]


def _around(
    pitches: NDArray[np.float64], spectra: NDArray[np.float64], pitch: float, reach: float
) -> _Around | None:
    """Templates within reach of a pitch, brought to it; None if there are none."""
    if pitches.size == 1 and pitches[0] == 0:
        return _Around(spectra[0], 0.0, _cells_db(spectra[0], pitch))
    apart = pitch - pitches
    nearest = int(np.argmin(np.abs(apart)))
    if abs(apart[nearest]) > reach:
        return None
    near = np.flatnonzero(np.abs(apart) <= max(abs(apart[nearest]), _REACH))
    weight = np.exp(-np.abs(apart[near]) / _WANES)
    cells = [_cells_db(shifted(spectra[k], float(apart[k])), pitch) for k in near]
    template = shifted(spectra[nearest], float(apart[nearest]))
    mean = np.asarray(np.average(cells, axis=0, weights=weight))
    return _Around(template, abs(float(apart[nearest])), mean)


def _evened(
    template: NDArray[np.float64], cells_db: Sequence[NDArray[np.float64]], pitch: float
) -> NDArray[np.float64]:
    lift = np.mean(cells_db, axis=0) - _cells_db(template, pitch)
    return np.asarray(template + lift[..., _cell_of(pitch)])


@lru_cache(maxsize=512)
def _cell_of(pitch: float) -> NDArray[np.int64]:
    """Cell of each pool: the pools nearest to one partial of a pitch, shape (pools,)."""
    if pitch <= 0:
        return np.arange(POOL_HZ.size)
    number = np.round(POOL_HZ / float(midi_to_hz(pitch))).astype(np.int64)
    return np.asarray(np.unique(number, return_inverse=True)[1])


def _cells_db(template: NDArray[np.float64], pitch: float) -> NDArray[np.float64]:
    """Power of each cell in dB, shape (AGES, cells)."""
    cell = _cell_of(pitch)
    first = np.flatnonzero(np.diff(cell, prepend=-1))
    return np.asarray(10 * np.log10(np.add.reduceat(10 ** (template / 10), first, axis=-1)))
