"""Where the score's quarters lie in the sound's seconds, and how sure we are.

The only module that knows both axes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Stretch:
    """A run of the played axis that sounds without a jump.

    Parameters
    ----------
    quarters : ndarray, shape (knots,)
        Strictly rising places on the played axis.
    seconds : ndarray, shape (knots,)
        Strictly rising times in the sound.
    """

    quarters: NDArray[np.float64]
    seconds: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BarTime:
    """When a bar of the played axis sounds, and how far that can be trusted.

    Parameters
    ----------
    bar
        Index on the played axis.
    start_s, end_s
        Seconds; NaN when the bar was not played.
    confidence
        0 to 1: probability that the bar's onsets are placed within 150 ms.
    reason
        Empty when nothing is wrong; else a few plain words.
    """

    bar: int
    start_s: float
    end_s: float
    confidence: float
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Timeline:
    """Quarters and seconds, both ways.

    Parameters
    ----------
    stretches
        Runs without a jump, in the order they sound.
    bars
        One entry for each bar of the played axis.
    order
        Bar indices of the played axis in the order they really sound.
    surprises
        One sentence for each repeat not taken, cut, or music that is not in the score.
    fit
        Whole-file figures of the gate, by name (dimensionless).
    """

    stretches: tuple[Stretch, ...]
    bars: tuple[BarTime, ...]
    order: tuple[int, ...]
    surprises: tuple[str, ...] = ()
    fit: tuple[tuple[str, float], ...] = ()

    def seconds(self, quarters: ArrayLike) -> NDArray[np.float64]:
        """First time each place sounds.

        Parameters
        ----------
        quarters : array_like, shape (n,)
            Places on the played axis.

        Returns
        -------
        ndarray, shape (n,)
            Seconds; NaN where the place was not played.
        """
        q = np.asarray(quarters, dtype=np.float64)
        out = np.full(q.shape, np.nan)
        for run in self.stretches:
            inside = (
                np.isnan(out) & (q >= run.quarters[0] - 1e-6) & (q <= run.quarters[-1] + 1e-6)
            )
            out[inside] = np.interp(q[inside], run.quarters, run.seconds)
        return out

    def quarters(self, seconds: ArrayLike) -> NDArray[np.float64]:
        """Place on the played axis that sounds at each time.

        Parameters
        ----------
        seconds : array_like, shape (n,)
            Times in the sound.

        Returns
        -------
        ndarray, shape (n,)
            Quarters; NaN before the music, after it and where it is not in the score.
        """
        s = np.asarray(seconds, dtype=np.float64)
        out = np.full(s.shape, np.nan)
        for run in self.stretches:
            inside = (s >= run.seconds[0] - 1e-6) & (s <= run.seconds[-1] + 1e-6)
            out[inside] = np.interp(s[inside], run.seconds, run.quarters)
        return out
