"""What lies beneath the lines: the loudness of the mix and where in pitch its weight is.

References
----------
.. [1] S. S. Stevens, "The measurement of loudness", J. Acoust. Soc. Am. 27 (1955),
       815-829: loudness grows as the 0.3 power of intensity.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.auditing import Audit
from auditor.hearing.measures import REGISTER_EDGES_HZ, REGISTERS
from auditor.spectra.line_spectra import LineSpectra
from auditor.units import cam_to_hz, db_to_power

_STEVENS = 0.3


@dataclass(frozen=True, slots=True)
class BarWeight:
    """One bar of the mix.

    Parameters
    ----------
    sone
        Mean loudness; NaN where the bar was not played or the sound not kept.
    registers
        Share of the loudness in each register band, bass first; NaN likewise.
    """

    sone: float
    registers: tuple[float, ...]


_UNKNOWN = BarWeight(math.nan, (math.nan,) * len(REGISTERS))


def bar_weights(audit: Audit) -> tuple[BarWeight, ...]:
    """Loudness and register weight of every played bar, in the order of the bars."""
    spectra = audit.spectra
    if spectra is None or len(audit.heard.mix_sone) != len(spectra.frame_s):
        return (_UNKNOWN,) * len(audit.timeline.bars)
    registers = _registers(spectra)
    weights = []
    for bar in audit.timeline.bars:
        if not (math.isfinite(bar.start_s) and math.isfinite(bar.end_s)):
            weights.append(_UNKNOWN)
            continue
        first, last = np.searchsorted(spectra.frame_s, (bar.start_s, bar.end_s))
        span = slice(int(first), max(int(last), int(first) + 1))
        weights.append(_weight(audit.heard.mix_sone[span], registers[span]))
    return tuple(weights)


def _weight(sone: NDArray[np.float64], registers: NDArray[np.float64]) -> BarWeight:
    if sone.size == 0:
        return _UNKNOWN
    total = registers.sum(axis=0)
    share = total / total.sum() if total.sum() > 0 else total * math.nan
    return BarWeight(float(sone.mean()), tuple(float(v) for v in share))


def _registers(spectra: LineSpectra) -> NDArray[np.float64]:
    """Loudness in each register after [1]_, without unit, shape (frames, registers)."""
    power = np.zeros(spectra.level_db.shape[1:])
    for level in spectra.level_db:
        power += db_to_power(level)
    loudness = power**_STEVENS
    which = np.searchsorted(REGISTER_EDGES_HZ, cam_to_hz(spectra.band_cam))
    return np.stack(
        [loudness[:, which == k].sum(axis=1) for k in range(len(REGISTERS))], axis=1
    )


@dataclass(frozen=True, slots=True)
class Ground:
    """One row of the picture beneath the lines of a system.

    Parameters
    ----------
    name
        What it shows.
    words
        Its run in words, for those who do not see it.
    path
        Steps, one a bar, in a box of one unit a bar and height 1.
    """

    name: str
    words: str
    path: str


def grounds(weights: Sequence[BarWeight], first: int, last: int) -> tuple[Ground, ...]:
    """Rows beneath a system: loudness, then the registers from the highest down.

    Heights are of the highest value in the whole piece, so that systems can be compared.
    Empty where nothing is known.
    """
    if not any(math.isfinite(w.sone) for w in weights):
        return ()
    span = slice(first, last + 1)
    sone = [w.sone for w in weights]
    rows = [ground("loudness", sone[span], most_of(sone), "{:.0f} sone")]
    shares = [[w.registers[k] for w in weights] for k in range(len(REGISTERS))]
    most = max(most_of(share) for share in shares)
    for name, share in reversed([*zip(REGISTERS, shares, strict=True)]):
        rows.append(ground(name, share[span], most, "{:.0%}"))
    return tuple(rows)


def most_of(values: Sequence[float]) -> float:
    """The highest known value; 1 where there is none above 0."""
    return max((v for v in values if math.isfinite(v)), default=0.0) or 1.0


def ground(name: str, values: Sequence[float], most: float, figure: str) -> Ground:
    """One row: steps in parts of `most`, and its run in words by a format of figures."""
    tops = (1 - (v / most if math.isfinite(v) else 0.0) for v in values)
    path = "M0 1" + "".join(f"V{top:.3f}h1" for top in tops) + "V1z"
    known = [v for v in values if math.isfinite(v)]
    if not known:
        return Ground(name, "not known here", path)
    words = f"{figure.format(min(known))} to {figure.format(max(known))}"
    return Ground(name, words.replace("%", " %"), path)
