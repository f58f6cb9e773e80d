"""Stems against their mix: where each begins, how loud it is in it, and what is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from auditor.sound.spectrum import RATE_HZ
from auditor.units import clock

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]

# Sums of so many samples: sum and sample keep a mix the sum of its stems, whatever they
# fold over, so gains and coarse places can be found on an eighth of the data.
THINNED = 8
_STRETCH_S = 20.0
# A place counts when the agreement there stands so far above that of other places, and
# above that at the usual place.
_STANDS_OUT, _OVER_USUAL = 6.0, 1.25
# Share of a stem's power that must turn up in the mix, as amplitude; half of it is lost
# when the true place lies between two thinned samples.
_FOUND = 0.25
# Gains are taken when they leave this much less over; a fader moves that far.
_BETTER, _GAIN_DB = 0.8, 30.0
# Share of the mix's power that rounding leaves: nothing is to be gained below it.
_ROUNDING = 1e-9
_SAID_DB = 0.3
# What is left over is said to lie in a stretch that holds this much of it, if half of the mix
# is longer.
_MOST_OF_IT = 0.9
# What is left in one place is worth a word from this share of the mix's power there.
MUCH = 10**-2.5
# Seconds by which its place is told.
STEP_S = 0.1
# So like the sum of the stems, as a correlation, is what a limiter or a fader took away.
_ALIKE = 0.5
# Half of what the stems hold must leave the mix with them, or they are another take.
_COHERENT = 0.5


def thinned(samples: F32) -> F32:
    """Sums of `THINNED` samples each."""
    size = samples.size // THINNED * THINNED
    out: F32 = samples[:size].reshape(-1, THINNED).sum(axis=1)
    return out


def moved(samples: NDArray[np.float32], lag: int, size: int) -> F32:
    """Samples begun `lag` samples later, cut or filled to `size`."""
    out = np.zeros(size, np.float32)
    first, last = max(lag, 0), min(size, samples.size + lag)
    if last > first:
        out[first:last] = samples[first - lag : last - lag]
    return out


def offset_of(stem: F32, mix: F32, usual: int = 0) -> int | None:
    """Samples by which a stem must be moved to lie where the mix has it.

    Parameters
    ----------
    stem, mix : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    usual
        The lag to be expected, which another one has to beat.

    Returns
    -------
    int or None
        Positive if the file begins later than the mix does; None if the stem cannot be
        found in the mix.
    """
    few, whole = thinned(stem), thinned(mix)
    energy = float((few.astype(np.float64) ** 2).sum())
    if energy <= 1e-12:
        return None
    match = _agreement(few, whole)
    best = int(np.argmax(match))
    lag = best if best < match.size - few.size else best - match.size
    everywhere = float(np.sqrt(np.mean(match**2)))
    stands = match[best] > _STANDS_OUT * everywhere and match[best] > _FOUND * energy
    if not stands:
        return None
    if match[best] < _OVER_USUAL * match[round(usual / THINNED)]:
        return _refined(stem, mix, usual)
    return _refined(stem, mix, lag * THINNED)


def _agreement(stem: F32, mix: F32) -> F64:
    """Correlation of a stem with the mix at every lag, negative ones at the end."""
    size = scipy.fft.next_fast_len(stem.size + mix.size, real=True)
    spectrum = scipy.fft.rfft(mix, size) * np.conj(scipy.fft.rfft(stem, size))
    return np.asarray(scipy.fft.irfft(spectrum, size), np.float64)


def _refined(stem: F32, mix: F32, lag: int) -> int:
    """Best lag to the sample, over the stem's loudest stretch."""
    size = int(_STRETCH_S * RATE_HZ)
    blocks = stem[: stem.size // size * size].reshape(-1, size)
    start = int(np.argmax((blocks**2).sum(axis=1))) * size if len(blocks) else 0
    piece = stem[start : start + size].astype(np.float64)
    reach = 2 * THINNED
    around = moved(mix, reach - start - lag, piece.size + 2 * reach).astype(np.float64)
    match = [float(around[k : k + piece.size] @ piece) for k in range(2 * reach + 1)]
    return lag + int(np.argmax(match)) - reach


@dataclass(frozen=True, slots=True)
class Sum:
    """How stems add up to a mix.

    Parameters
    ----------
    gains : ndarray, shape (stems,)
        Amplitude of each stem in the mix over that in its file.
    left_db
        Power of the mix less that sum, in dB of the mix.
    coherent
        True if the stems are in the mix as they are, sample by sample.
    """

    gains: F64
    left_db: float
    coherent: bool


def add_up(stems: Sequence[F32], mix: F32) -> Sum:
    """Compare stems, each in its place, with the mix.

    Parameters
    ----------
    stems
        Thinned, each of the mix's length.
    mix : ndarray, shape (samples,)
        Thinned.
    """
    table = np.stack(stems).astype(np.float64)
    whole = mix.astype(np.float64)
    total = float(whole @ whole) + 1e-20
    gram, agreement = table @ table.T, table @ whole
    one = np.ones(len(table))
    left = _left(one, gram, agreement, total)
    gains = _faders(gram, agreement)
    better = _left(gains, gram, agreement, total)
    if left > _ROUNDING and better < _BETTER * left:
        left = better
    else:
        gains = one
    held = float(gains @ gram @ gains)
    coherent = left * total < total - _COHERENT * held
    if not coherent:
        # Another take: only its loudness as a whole can be brought to that of the mix.
        gains = one * float(np.sqrt(min(total / max(float(one @ gram @ one), 1e-20), 1e6)))
        gains = one if len(table) < 2 else gains
    return Sum(gains, float(10 * np.log10(max(left, 1e-12))), coherent)


def _left(gains: F64, gram: F64, agreement: F64, total: float) -> float:
    """Share of the mix's power that stems at these gains leave."""
    return max(float(total - 2 * gains @ agreement + gains @ gram @ gains) / total, 0.0)


def _faders(gram: F64, agreement: F64) -> F64:
    """Gains that leave least; those beyond what faders do stay 1."""
    power = np.diag(gram)
    hold = 1e-6 * power + 1e-9 * power.max() + 1e-20
    gains = np.linalg.solve(gram + np.diag(hold), agreement + hold)
    limit = 10 ** (_GAIN_DB / 20)
    return np.where((gains > 1 / limit) & (gains < limit), gains, 1.0)


def gain_words(names: Sequence[str], gains: F64) -> str:
    """A sentence about gains that are not 1, or empty."""
    db = 20 * np.log10(gains)
    if np.abs(db).max() < _SAID_DB:
        return ""
    if np.ptp(db) < _SAID_DB:
        return f"all stems are {db.mean():+.1f} dB in the mix, which was taken into account"
    said = ", ".join(
        f"{name} {d:+.1f}" for name, d in zip(names, db, strict=True) if abs(d) >= _SAID_DB
    )
    return f"stems stand in the mix at other levels than in their files (dB): {said}"


def _most_of_it(rest: F32) -> tuple[int, int] | None:
    """Seconds between which most of what is left over lies; None if it lies everywhere.

    Parameters
    ----------
    rest : ndarray, shape (samples,)
        The mix less its stems.
    """
    total = np.concatenate([[0.0], np.cumsum(_by_second(rest))])
    wanted = _MOST_OF_IT * total[-1]
    # The shortest stretch that holds so much, its end for every beginning.
    ends = np.searchsorted(total, total[:-1] + wanted - 1e-12 * total[-1])
    long = np.where(ends < total.size, ends - np.arange(ends.size), total.size)
    first = int(np.argmin(long))
    if total[-1] <= 0 or 2 * long[first] > ends.size:
        return None
    return first, first + int(long[first])


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What is much in one place of what stems leave of a mix.

    Parameters
    ----------
    start_s, end_s
        Whole seconds between which most of it lies.
    share
        Its power over that of the mix there.
    taken
        True if it is like the sum of the stems, as what a limiter or a fader takes away is.
    """

    start_s: int
    end_s: int
    share: float
    taken: bool

    def words(self) -> str:
        """Say so in a sentence."""
        when = f"from {clock(self.start_s)} to {clock(self.end_s)} the mix"
        much = f"({10 * np.log10(self.share):.0f} dB of it there)"
        if self.taken:
            like = "as after a limiter or a fader"
            return f"{when} is not as loud as its stems together, {like} {much}"
        return f"{when} holds something that is in no stem {much}"


def left_somewhere(rest: F32, mix: F32) -> LeftOver | None:
    """Whether what little is left of a mix is much in one place.

    Parameters
    ----------
    rest, mix : ndarray, shape (samples,)
        The mix less its stems, and the mix.
    """
    span = _most_of_it(rest)
    if span is None:
        return None
    here = slice(*span)
    share = _by_second(rest)[here].sum() / max(_by_second(mix)[here].sum(), 1e-20)
    if share < MUCH:
        return None
    at = slice(span[0] * RATE_HZ, span[1] * RATE_HZ)
    left, known = np.asarray(rest[at], np.float64), np.asarray(mix[at] - rest[at], np.float64)
    alike = abs(left @ known) / max(float(np.sqrt((left @ left) * (known @ known))), 1e-20)
    return LeftOver(*span, float(share), bool(alike > _ALIKE))


def left_shares(rest: F32, mix: F32) -> F64:
    """Power of what is left over that of the mix, for each `STEP_S`, shape (steps,)."""
    size = int(STEP_S * RATE_HZ)
    out: F64 = _power_of(rest, size) / np.maximum(_power_of(mix, size), 1e-20)
    return out


def _by_second(samples: F32) -> F64:
    return _power_of(samples, RATE_HZ)


def _power_of(samples: F32, size: int) -> F64:
    """Power of each stretch of so many samples."""
    count = samples.size // size + 1
    power = np.zeros(count * size)
    power[: samples.size] = np.asarray(samples, np.float64) ** 2
    each: F64 = power.reshape(count, size).sum(axis=1)
    return each
