"""Which known instrument a render sounds like."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from auditor.learning.notes import Taken
from auditor.sound.spectrum import POOL_HZ
from auditor.timbre.templates import SOURCES, pitches_of, shipped_keys, variants
from auditor.units import hz_to_cam

Floats = NDArray[np.float64]

# An instrument is doubted when another one's templates lie this much nearer. Two sound
# fonts against the templates of others: no right label of 54 was doubted, 69 % of the wrong
# ones were; chosen on these two fonts, and no test keeps it.
_NEARER = 1.45
_HEARD_DB = 40.0  # bands further below the strongest tell nothing
_MOST_DB = 20.0
_DECAY_WEIGHT = 0.3
_FEWEST, _SHARE = 3, 0.4
_NEAR_SEMITONES = 4.0


@cache
def _cams() -> Floats:
    """Sums pools into bands of one Cam, shape (pools, bands)."""
    cam = np.round(hz_to_cam(POOL_HZ)).astype(int)
    return np.asarray(cam[:, None] == np.unique(cam)[None], np.float64)


def _bands(template_db: Floats) -> Floats:
    return np.asarray(10 * np.log10(10 ** (template_db / 10) @ _cams() + 1e-6))


def distance(one_db: Floats, other_db: Floats) -> float:
    """How unlike two templates of one pitch are, dB: colour, and how they die away."""
    one, other = _bands(one_db), _bands(other_db)
    body = slice(1, 4)
    loud = np.maximum(one[body], other[body])
    counts = loud > loud.max() - _HEARD_DB
    apart = (one - other)[body][counts]
    apart = np.clip(apart - np.median(apart), -_MOST_DB, _MOST_DB)
    fall = [10 * np.log10((10 ** (b / 10)).sum(axis=-1)) for b in (one, other)]
    decay = abs(float((fall[0][4] - fall[0][1]) - (fall[1][4] - fall[1][1])))
    return float(np.sqrt(np.mean(apart**2))) + _DECAY_WEIGHT * min(decay, 30.0)


def rather_like(notes: Sequence[Taken], key: str) -> str | None:
    """Template key of an instrument the notes sound far more like, or None.

    Parameters
    ----------
    notes
        Held, plucked or struck notes with a pitch, without fault.
    key
        What they should be; None is the answer for what has no templates.
    """
    far = {k: d for k in shipped_keys() if (d := _far(notes, k)) is not None}
    if key not in far:
        return None
    nearest = min(far, key=lambda k: far[k])
    return None if far[key] <= _NEARER * far[nearest] or _kin(key, nearest) else nearest


def _kin(key: str, other: str) -> bool:
    """One instrument in two guises; plucked strings among themselves are no surprise."""
    plain = {k.partition("+")[0].removesuffix("-solo") for k in (key, other)}
    return len(plain) == 1 or (key.endswith("+pizz") and other.endswith("+pizz"))


def _far(notes: Sequence[Taken], key: str) -> float | None:
    """Median distance of the notes to a key's templates, None where they do not overlap."""
    known = pitches_of(key)
    near = [n for n in notes if np.abs(known - n.wanted.pitch).min() <= _NEAR_SEMITONES]
    if len(near) < max(_FEWEST, _SHARE * len(notes)):
        return None
    return float(
        np.median(
            [
                min(distance(n.template, v) for v in variants((key,), n.wanted.pitch, SOURCES))
                for n in near
            ]
        )
    )
