"""How instruments sound: pooled spectra by pitch and age of the note, from several sources.

A template is a power spectrum in dB on the pools of `auditor.sound.spectrum`, for
six ages of a note; 0 dB is the mean power of the note's first half second.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from auditor.model_files import model_path
from auditor.sound.spectrum import POOL_HZ

# Frames since the onset, half open; one frame is 23 ms. The first age starts a frame
# early, because that frame's window already reaches into the note. The sixth age is
# what rings on after the note's end.
AGE_FRAMES: tuple[tuple[int, int], ...] = ((-1, 2), (2, 7), (7, 19), (19, 42), (42, 10_000))
AGES = len(AGE_FRAMES) + 1
FLOOR_DB = -75.0
SOURCES: tuple[str, ...] = ("fluid", "muse", "csgm", "recorded")

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
    at = POOL_HZ * 2 ** (-semitones / 12)
    flat = spectrum_db.reshape(-1, POOL_HZ.size)
    rows = [np.interp(at, POOL_HZ, row, right=FLOOR_DB) for row in flat]
    return np.array(rows).reshape(spectrum_db.shape)


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
