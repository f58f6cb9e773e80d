"""How level and spectrum of an instrument change with the written dynamic.

Single-player sound power in forte: J. Meyer, Acoustics and the Performance of Music, 5th
ed. (2009), rounded and quoted from memory; instruments not tabulated there take a relative's
figure. They serve as a prior that the sound itself overrules, with a spread of several dB.

The range from pp to ff after the same book's figures for single tones, from memory. The
slope with dynamics follows its "dynamic tone-colour factor": in strings the level near
3 kHz follows the strongest partials nearly dB by dB, in woodwind a little faster, in
brass about twice as fast (direction published, sizes from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from auditor.sound.spectrum import POOL_HZ

FORTE = 4.0  # dynamic steps: pp 0, p 1, mp 2, mf 3, f 4, ff 5

# key: (sound power of one player in forte in dB re 1 pW, range pp to ff in dB)
_POWER: dict[str, tuple[float, float]] = {
    "piccolo": (94, 20),
    "flute": (91, 20),
    "oboe": (93, 18),
    "english-horn": (92, 18),
    "clarinet": (93, 30),
    "bassoon": (93, 22),
    "horn": (102, 35),
    "trumpet": (101, 30),
    "trombone": (101, 33),
    "tuba": (104, 32),
    "timpani": (100, 40),
    "harp": (86, 24),
    "xylophone": (95, 30),
    "glockenspiel": (92, 28),
    "celesta": (82, 18),
    "piano": (96, 30),
    "violin": (89, 28),
    "viola": (87, 28),
    "cello": (90, 28),
    "double-bass": (92, 28),
    "cymbals": (104, 40),
    "bass-drum": (104, 40),
    "snare-drum": (100, 35),
    "triangle": (90, 30),
}
_BY_FAMILY: dict[str, tuple[float, float]] = {
    "woodwind": (92, 22),
    "saxophone": (96, 26),
    "brass": (101, 32),
    "percussion": (96, 32),
    "plucked": (86, 24),
    "keyboard": (92, 26),
    "strings": (89, 28),
    "voice": (95, 28),
    "other": (92, 26),
}
_PIZZ_DROP_DB = 9.0  # plucked against bowed forte; common practice, no source

# dB per octave above 700 Hz for one step of dynamics.
_BRIGHTNESS: dict[str, float] = {
    "woodwind": 0.6,
    "saxophone": 1.1,
    "brass": 1.9,
    "percussion": 0.8,
    "plucked": 0.6,
    "keyboard": 0.8,
    "strings": 0.6,
    "voice": 0.8,
    "other": 0.8,
}


def _octaves(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Octaves above 700 Hz that count."""
    out: NDArray[np.float64] = np.clip(np.log2(hz / 700.0), 0.0, 3.5)
    return out


_OCTAVES = _octaves(POOL_HZ)


def has_figure(key: str) -> bool:
    """Tell whether the table has a power for this very instrument."""
    return key in _POWER


def power_level_db(
    key: str,
    family: str,
    dynamic: ArrayLike,
    players: ArrayLike = 1.0,
    *,
    plucked: bool = False,
) -> NDArray[np.float64]:
    """Sound power level in dB re 1 pW of a line at a written dynamic.

    Parameters
    ----------
    key, family
        Of the instrument table.
    dynamic : array_like, shape (n,)
        Dynamic steps.
    players : array_like
        n equal players add 10 lg n.
    plucked
        True for pizzicato.
    """
    forte, span = _POWER.get(key, _BY_FAMILY.get(family, _BY_FAMILY["other"]))
    step = span / 5.0
    level = forte - (_PIZZ_DROP_DB if plucked else 0.0)
    out: NDArray[np.float64] = (
        level
        + step * (np.asarray(dynamic, dtype=np.float64) - FORTE)
        + 10.0 * np.log10(np.maximum(np.asarray(players, dtype=np.float64), 1.0))
    )
    return out


def brightness_db(
    family: str, steps: float, hz: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """Change of the spectrum in dB when the dynamic rises by `steps`.

    Per pool, or at the frequencies `hz` where they are given.
    """
    slope = _BRIGHTNESS.get(family, _BRIGHTNESS["other"])
    octaves = _OCTAVES if hz is None else _octaves(hz)
    out: NDArray[np.float64] = np.clip(octaves * slope * steps, -24.0, 12.0)
    return out
