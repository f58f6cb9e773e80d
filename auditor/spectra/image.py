"""Where lines sit in the stereo image, and how that tells them apart.

Left and right are taken as middle and side, half their sum and half their difference. A line
of power v in the middle, seated at t and d wide, has of both the covariance
``v * [[1, t], [t, t**2 + d]]``: panned by amplitude it has t times its middle in its side; d
is what of its side does not follow its middle (reflections, the width of a section). The mix's
covariance is the sum over lines; its fit is measured by the log-determinant divergence, which
is the Itakura-Saito divergence of matrices [1]_. What is said of a line's power is said of the
middle, which is all that a mono mix has.

References
----------
.. [1] H. Sawada, H. Kameoka, S. Araki, N. Ueda, "Multichannel extensions of non-negative
       matrix factorization with complex-valued data", IEEE Trans. Audio Speech Lang.
       Process. 21 (2013), 971-982.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numba
import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# A pool of the two channels holds two values that hardly count for more than one, because
# reflections colour every partial anew. Found on made mixes (seeds 5000 to 5013): errors of
# notes rise from here to 1, those of lines also below.
TRUST = 0.5
# Priors of where lines sit: spread of t around the middle; d, and its spread in natural log.
_SEAT_SD, _WIDTH, _WIDTH_SD = 0.4, 0.05, 1.5
_FARTHEST, _NARROWEST, _WIDEST = 0.95, 0.003, 2.0
# Side of every line that no seat explains, and the highest correlation of middle and side: both
# keep the model from claiming that a seat is known to the last decimal.
_SPILL, _ALIKE = np.float32(0.01), np.float32(0.9999)


def in_halves(run: Callable[[int, int, int], None], pools: int) -> None:
    """Call with 0 and 1, and with the bounds of the lower and the upper pools, both at once."""
    with ThreadPoolExecutor(2) as both:
        list(both.map(run, (0, 1), (0, pools // 2), (pools // 2, pools)))


@numba.njit(cache=True, fastmath=True)
def _gather(first, last, atom, line, level, atoms, low, place, active, own):  # type: ignore[no-untyped-def]
    """Power of each line that sounds in a segment; how many there are."""
    count = 0
    for e in range(first, last):
        k = line[e]
        if place[k] < 0:
            place[k] = count
            active[count] = k
            own[count] = 0.0
            count += 1
        to = own[place[k]]
        h, row = np.float32(level[e]), atoms[atom[e], low : low + to.size]
        for f in range(to.size):
            to[f] += h * row[f]
    return count


@numba.njit(cache=True, fastmath=True)
def _add_up(own, active, count, seat, wide, model):  # type: ignore[no-untyped-def]
    """Add the lines' covariances to `model`, shape (3, pools): middle, cross, side."""
    for i in range(count):
        t = np.float32(seat[active[i]])
        q = np.float32(t * t + wide[active[i]]) + _SPILL
        for f in range(model.shape[1]):
            v = own[i, f]
            model[0, f] += v
            model[1, f] += v * t
            model[2, f] += v * q


@numba.njit(cache=True, fastmath=True)
def _weigh(mix, model, weight, ceiling, inverse, surprise):  # type: ignore[no-untyped-def]
    """Inverse R^-1 of the model and R^-1 X R^-1, both times the segment's weight."""
    for f in range(model.shape[1]):
        m, s = model[0, f], model[2, f]
        most = _ALIKE * np.sqrt(m * s)
        x = min(max(model[1, f], -most), most)
        over = np.float32(1.0) / (m * s - x * x)
        a, b, c = s * over, -x * over, m * over
        p, r, q = mix[0, f], mix[1, f], mix[2, f]
        low, high = a * p + b * r, a * r + b * q
        left, right = b * p + c * r, b * r + c * q
        fits = np.float32(0.5) * (low + right)
        scale = weight if fits <= ceiling else weight * ceiling / fits
        surprise[0, f] = scale * (low * a + high * b)
        surprise[1, f] = scale * (low * b + high * c)
        surprise[2, f] = scale * (left * b + right * c)
        inverse[0, f] = weight * a
        inverse[1, f] = weight * b
        inverse[2, f] = weight * c


@numba.njit(cache=True, fastmath=True)
def _judge(own, model, seat, wide, weight, inverse, surprise, asks, has):  # type: ignore[no-untyped-def]
    """What a unit of one line's power asks for and has; slopes and curvatures of t and d.

    Only pools that the line rules say where it sits: a covered line would follow the errors
    of its coverer's template.
    """
    nothing, two, t = np.float32(0.0), np.float32(2.0), np.float32(seat)
    q = np.float32(t * t + wide) + _SPILL
    over = np.float32(1.0) / weight
    slope_t, slope_d = np.float32(0.0), np.float32(0.0)
    bend_t, bend_d = np.float32(0.0), np.float32(0.0)
    for f in range(own.size):
        a, b, c = inverse[0, f], inverse[1, f], inverse[2, f]
        asks[f] = max(surprise[0, f] + two * t * surprise[1, f] + q * surprise[2, f], nothing)
        has[f] = max(a + two * t * b + q * c, nothing)
        share = own[f] / model[0, f]
        v = share * share * own[f]
        up = surprise[2, f] - c
        slope_t += two * v * (surprise[1, f] - b + t * up)
        slope_d += v * up
        v *= own[f] * over
        u = b + two * t * c
        bend_t += v * (b * b + two * (a + two * t * b) * c + u * u)
        bend_d += v * c * c
    return slope_t, slope_d, bend_t, bend_d


@numba.njit(cache=True, fastmath=True, nogil=True)
def stereo_pass(  # type: ignore[no-untyped-def]
    mix, beside, weight, first, atom, line, level, atoms, ceiling, seat, wide,
    low, high, num, den, anum, aden, moves,
):  # fmt: skip
    """As `fitting._pass` for middle and side, shape (segments, 3, pools); moves (4, lines)."""
    lines, pools = seat.size, high - low
    own = np.zeros((lines, pools), np.float32)
    asks, has = np.zeros_like(own), np.zeros_like(own)
    place, active = np.full(lines, -1), np.zeros(lines, np.int64)
    inverse, surprise = np.zeros((3, pools), np.float32), np.zeros((3, pools), np.float32)
    anum[:, low:high], aden[:, low:high], moves[:] = 0.0, 0.0, 0.0
    for s in range(len(mix)):
        a, b = first[s], first[s + 1]
        count = _gather(a, b, atom, line, level, atoms, low, place, active, own)
        here, model = mix[s, :, low:high].copy(), beside[s, :, low:high].copy()
        _add_up(own, active, count, seat, wide, model)
        _weigh(here, model, weight[s], ceiling, inverse, surprise)
        for i in range(count):
            k = active[i]
            move = _judge(
                own[i], model, seat[k], wide[k], weight[s], inverse, surprise, asks[i], has[i]
            )
            for j in range(4):
                moves[j, k] += move[j]
        for e in range(a, b):
            h, k, i = np.float32(level[e]), atom[e], place[line[e]]
            row, up, down = atoms[k, low:high], anum[k, low:high], aden[k, low:high]
            n, d = np.float32(0.0), np.float32(0.0)
            for f in range(pools):
                asked, had = h * row[f] * asks[i, f], h * row[f] * has[i, f]
                n += asked
                d += had
                up[f] += asked
                down[f] += had
            num[e], den[e] = n, d
        for i in range(count):
            place[active[i]] = -1


class Stereo:
    """The passes over a stereo mix, and where its lines sit.

    Parameters
    ----------
    mix, beside : ndarray, shape (segments, 3, pools), float32
        Covariance of middle and side, of the mix and of what no line owns.
    weight, first, atom, line
        Of segments and entries, as in `fitting.Problem`.
    trust
        How much the sound counts against the priors.
    """

    def __init__(
        self,
        mix: F32,
        beside: F32,
        weight: F32,
        entries: tuple[Ints, Ints, Ints],
        lines: int,
        trust: float,
        ceiling: float,
    ) -> None:
        self.seat: Floats = np.zeros(lines)
        self._wide: Floats = np.full(lines, _WIDTH)
        self._doubt: Floats = np.full(lines, _SEAT_SD**2)
        self._moves: Floats = np.zeros((2, 4, lines))
        self._mix, self._beside, self._weight, self._entries = mix, beside, weight, entries
        self._trust, self._ceiling = trust, np.float32(ceiling)

    def step(
        self, level: Floats, atoms: F32, found: F32, of_atoms: tuple[F32, F32], *, still: bool
    ) -> None:
        """Write into `found` and `of_atoms` what a mono pass does; move seats unless still."""

        def half(k: int, low: int, high: int) -> None:
            stereo_pass(  # type: ignore[call-arg]
                self._mix, self._beside, self._weight, *self._entries, level, atoms,
                self._ceiling, self.seat, self._wide + self._doubt, low, high, *found[k],
                *of_atoms, self._moves[k],
            )  # fmt: skip

        in_halves(half, atoms.shape[1])
        if not still:
            self._move(0.5)

    def _move(self, damping: float) -> None:
        slope_t, slope_d, bend_t, bend_d = self._trust * self._moves.sum(axis=0)
        hold = 1.0 / _SEAT_SD**2
        # A line that nowhere shows where it sits may sit anywhere: doubt is width to the fit.
        self._doubt = 1.0 / (bend_t + hold)
        move = self._doubt * (slope_t - hold * self.seat)
        seat = self.seat + damping * np.clip(move, -0.2, 0.2)
        self.seat = np.clip(seat, -_FARTHEST, _FARTHEST)
        hold, wide = 1.0 / _WIDTH_SD**2, np.log(self._wide)
        move = slope_d * self._wide - hold * (wide - np.log(_WIDTH))
        move /= bend_d * self._wide**2 + hold
        wide += damping * np.clip(move, -0.5, 0.5)
        self._wide = np.clip(np.exp(wide), _NARROWEST, _WIDEST)
