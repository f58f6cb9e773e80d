"""What published sound power says of an instrument, and how far it can be trusted.

The figures themselves stand once, in `auditor.timbre.dynamics`. Here is whose figure an
instrument takes, how its level moves with the register, and the spread of all that.

Spread: two tables of single-player power at forte, J. Meyer, Acoustics and the Performance
of Music, 5th ed. (2009; from memory) and I. Simurra's teaching table (UNICAMP, after
Henrique, Meyer 1995 and Patterson 1974; its author states 2 to 3 dB), agree within 4 dB. At
soft marks they part by up to 11 dB, because one gives slow single tones and the other
practical ranges. Timpani and harp keep within S. Weinzierl et al., J. Acoust. Soc. Am. 144
(2018), 1347, table I, as quoted by two notes on it. All other figures are guesses by kinship,
from memory; where there are published instantaneous peaks (L. Sivian, H. Dunn and S. White,
J. Acoust. Soc. Am. 2 (1931), 330, in watts in F. A. Everest, Master Handbook of Acoustics,
table 5-1) they stay below them at ff. The horn does not, by 5 dB at its top: sources disagree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from auditor.timbre.dynamics import FORTE, has_figure
from auditor.timbre.templates import RELATIVES

_TABLED = frozenset((
    "violin", "viola", "cello", "double-bass", "flute", "oboe", "clarinet", "bassoon", "horn",
    "trumpet", "trombone", "tuba",
))  # fmt: skip
_TABLED_SD, _QUOTED_SD, _GUESSED_SD, _RELATIVE_SD = 3.0, 4.0, 5.0, 6.0
_QUOTED = frozenset(("timpani", "harp"))
# The tables part by about so much more for each step below forte.
_SOFT_SD_PER_STEP = 1.5
# What one player, desk or conductor makes of the same mark; common practice, no source.
PLAYERS_SD = 2.0

# dB at the bottom, in the middle and at the top of the compass. Directions: a low flute is
# easily covered, a high piccolo cuts a tutti, a low oboe is more penetrating than a high one
# (The Idiomatic Orchestra, as quoted); low brass tones carry less power than high ones
# (Meyer 2009, ch. 3). Sizes from memory.
_REGISTER: dict[str, tuple[float, float, float]] = {
    "piccolo": (-8.0, 0.0, 3.0),
    "flute": (-6.0, 0.0, 4.0),
    "oboe": (2.0, 0.0, -2.0),
    "english-horn": (2.0, 0.0, -2.0),
    "clarinet": (0.0, -1.0, 2.0),
    "bassoon": (1.0, 0.0, -2.0),
    "horn": (-5.0, 0.0, 3.0),
    "trumpet": (-5.0, 0.0, 3.0),
    "trombone": (-4.0, 0.0, 2.0),
    "tuba": (-2.0, 0.0, 1.0),
}
_REGISTER_PLACES = (0.0, 0.5, 1.0)

# Relatives by power where the template's own is not enough.
_BY_POWER: dict[str, str] = {
    "recorder": "flute",
    "marimba": "xylophone",
    "vibraphone": "glockenspiel",
    "tubular-bells": "glockenspiel",
    "harpsichord": "celesta",
    "guitar": "harp",
    "suspended-cymbal": "cymbals",
    "tam-tam": "cymbals",
    "tom-tom": "snare-drum",
    "tambourine": "snare-drum",
    "wood-block": "xylophone",
    "castanets": "snare-drum",
    "cowbell": "triangle",
    "sleigh-bells": "triangle",
    "string-section": "violin",
}


@dataclass(frozen=True, slots=True)
class Figure:
    """Whose power an instrument takes.

    Parameters
    ----------
    key
        Instrument key in the table of powers; the instrument's own where nobody is near, and
        then its family's mean stands.
    sd_db
        Standard deviation of the figure at forte.
    source
        ``two tables``, ``quoted``, ``guessed``, ``relative`` or ``family``.
    """

    key: str
    sd_db: float
    source: str


def figure_of(key: str) -> Figure:
    """Whose figure stands for an instrument, its nearest relative's if it has none.

    Examples
    --------
    >>> figure_of("alto-flute").key, figure_of("alto-flute").sd_db
    ('flute', 6.0)
    """
    if key in _TABLED:
        return Figure(key, _TABLED_SD, "two tables")
    if key in _QUOTED:
        return Figure(key, _QUOTED_SD, "quoted")
    if has_figure(key):
        return Figure(key, _GUESSED_SD, "guessed")
    seen = {key}
    queue = [_BY_POWER.get(key, ""), *RELATIVES.get(key, ())]
    while queue:
        near = queue.pop(0).split("+")[0]
        if has_figure(near):
            return Figure(near, _RELATIVE_SD, "relative")
        if near and near not in seen:
            seen.add(near)
            queue += [_BY_POWER.get(near, ""), *RELATIVES.get(near, ())]
    return Figure(key, _RELATIVE_SD, "family")


def register_db(key: str, pitch: ArrayLike, low: float, high: float) -> NDArray[np.float64]:
    """Change of level with the register, dB against the middle of the compass.

    Parameters
    ----------
    key
        Instrument key.
    pitch : array_like, shape (n,)
        Sounding MIDI pitch.
    low, high
        Sounding compass of the instrument.
    """
    place = (np.asarray(pitch, dtype=np.float64) - low) / max(high - low, 1.0)
    knots = _REGISTER.get(key, (0.0, 0.0, 0.0))
    out: NDArray[np.float64] = np.interp(place, _REGISTER_PLACES, knots)
    return out


def figure_sd_db(figure: Figure, dynamic: float) -> float:
    """Standard deviation of a figure at a mark: it grows below forte."""
    return float(np.hypot(figure.sd_db, _SOFT_SD_PER_STEP * max(FORTE - dynamic, 0.0)))
