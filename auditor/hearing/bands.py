"""What the ear does at each place of the frequency axis: transfer, threshold, compression.

References
----------
.. [1] ANSI S3.4-2007, "Procedure for the computation of loudness of steady sounds":
       tables of the outer ear (free field), the middle ear, threshold excitation,
       the growth constant A and the exponent alpha.
.. [2] B. C. J. Moore, B. R. Glasberg and T. Baer, "A model for the prediction of
       thresholds, loudness and partial loudness", J. Audio Eng. Soc. 45 (1997), 224-240.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator

from auditor.units import cam_to_hz, db_to_power

# [1], free field; both ears' tables share all frequencies but the last two.
_EAR_HZ = (
    20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 750, 800, 1000,
    1250, 1500, 1600, 2000, 2500, 3000, 3150, 4000, 5000, 6000, 6300, 8000, 9000, 10000, 11200,
    12500, 14000, 15000, 16000,
)  # fmt: skip
_OUTER_HZ = (*_EAR_HZ, 20000)
_OUTER_DB = (
    0, 0, 0, 0, 0, 0, 0, 0, 0.1, 0.3, 0.5, 0.9, 1.4, 1.6, 1.7, 2.5, 2.7, 2.6, 2.6,
    3.2, 5.2, 6.6, 12.0, 16.8, 15.3, 15.2, 14.2, 10.7, 7.1, 6.4, 1.8, -0.9, -1.6, 1.9,
    4.9, 2.0, -2.0, 2.5, 2.5,
)  # fmt: skip
_MIDDLE_HZ = (*_EAR_HZ, 18000, 20000)
_MIDDLE_DB = (
    -39.6, -32, -25.85, -21.4, -18.5, -15.9, -14.1, -12.4, -11, -9.6, -8.3, -7.4, -6.2, -4.8,
    -3.8, -3.3, -2.9, -2.6, -2.6,
    -4.5, -5.4, -6.1, -8.5, -10.4, -7.3, -7, -6.6, -7, -9.2, -10.2, -12.2, -10.8, -10.1, -12.7,
    -15, -18.2, -23.8, -32.3, -45.5, -50,
)  # fmt: skip

# [1]: excitation at absolute threshold, dB; flat from 500 Hz up.
_THRESHOLD_HZ = (50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500)
_THRESHOLD_DB = (28.18, 23.9, 19.2, 15.68, 12.67, 10.09, 8.08, 6.3, 5.3, 4.5, 3.73)
# [1]: exponent and growth constant against the low-level gain in dB.
_ALPHA_GAIN_DB = (-25, -20, -15, -10, -5, 0)
_ALPHA = (0.26692, 0.25016, 0.23679, 0.22228, 0.21055, 0.20000)
_A_GAIN_DB = (-24.5, -22.8, -16.2, -11.2, -5.9, -2.5, -1.2, 0)
_A = (8.852, 8.358, 7.000, 6.107, 5.364, 4.982, 4.849, 4.72096)
# [2], figure 9 by a polynomial fit: signal-to-noise ratio at the filter at masked threshold.
_K_HZ = (50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000)
_K_DB = (13.5, 10.0, 7.1, 4.9, 3.1, 1.5, 0.4, -0.5, -1.3, -1.9, -2.3, -2.7, -2.9, -3.0)


def _through(x: tuple[float, ...], y: tuple[float, ...]) -> PchipInterpolator:
    return PchipInterpolator(np.asarray(x, np.float64), np.asarray(y, np.float64))


_outer = _through(_OUTER_HZ, _OUTER_DB)
_middle = _through(_MIDDLE_HZ, _MIDDLE_DB)
_threshold = _through(_THRESHOLD_HZ, _THRESHOLD_DB)
_alpha = _through(_ALPHA_GAIN_DB, _ALPHA)
_growth = _through(_A_GAIN_DB, _A)
_ratio = _through(tuple(np.log(_K_HZ)), _K_DB)


def ear_transfer_db(hz: ArrayLike) -> NDArray[np.float64]:
    """Gain in dB from free field to cochlea, outer and middle ear [1]_.

    Threshold excitation less threshold of hearing would serve too; measured against the
    1 kHz column of [1]_ it makes 40 dB 1.10 sone, the tables make it 1.00.

    Parameters
    ----------
    hz : array_like, shape (...)
        Frequencies; beyond 20 Hz to 20 kHz the ends are held.
    """
    f = np.clip(np.asarray(hz, dtype=np.float64), 20.0, 20_000.0)
    gain: NDArray[np.float64] = _outer(f) + _middle(f)
    return gain


@dataclass(frozen=True, slots=True)
class BandTables:
    """Constants of the loudness formulas at filter centres, arrays of shape (bands,).

    Parameters
    ----------
    cam, hz
        Centres on the ERB-number scale and in Hz.
    transfer
        Power gain from free field to cochlea.
    threshold
        Excitation (power) at absolute threshold.
    gain
        Low-level gain of the cochlear amplifier, 1 from 500 Hz up.
    alpha
        Exponent of growth.
    growth
        The constant A.
    ratio
        Signal-to-masker power ratio at masked threshold, K.
    step
        Spacing of the centres in Cam.
    """

    cam: NDArray[np.float64]
    hz: NDArray[np.float64]
    transfer: NDArray[np.float64]
    threshold: NDArray[np.float64]
    gain: NDArray[np.float64]
    alpha: NDArray[np.float64]
    growth: NDArray[np.float64]
    ratio: NDArray[np.float64]
    step: float


# Filter centres of the exact path: 50 Hz to 15 kHz every tenth of a Cam [1].
FINE_CAM: NDArray[np.float64] = np.arange(18, 390) / 10.0


def band_tables(cam: ArrayLike) -> BandTables:
    """Constants of [1]_ and [2]_ at equally spaced filter centres.

    Parameters
    ----------
    cam : array_like, shape (bands,)
        Centres on the ERB-number scale, equal steps.
    """
    centres = np.asarray(cam, dtype=np.float64)
    hz = cam_to_hz(centres)
    low = np.clip(hz, 50.0, 500.0)
    gain_db = np.clip(_threshold(500.0) - _threshold(low), -24.5, 0.0)
    return BandTables(
        cam=centres,
        hz=hz,
        transfer=db_to_power(ear_transfer_db(hz)),
        threshold=db_to_power(_threshold(low)),
        gain=db_to_power(gain_db),
        alpha=_alpha(gain_db),
        growth=_growth(gain_db),
        ratio=db_to_power(_ratio(np.log(np.clip(hz, 50.0, 1000.0)))),
        step=float(centres[1] - centres[0]) if centres.size > 1 else 1.0,
    )
