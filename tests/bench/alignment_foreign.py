"""Sound that is not in the score, put around and into performances with known times."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import scipy.signal
from alignment_items import Item, Performance, perform
from alignment_sets import FITTING, FITTING_HARD, FRESH_STRAIGHT
from numpy.typing import NDArray

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
RATE_HZ = 44_100


@dataclass(frozen=True, slots=True)
class Foreign:
    """What is put around an item.

    Parameters
    ----------
    item
        The performance.
    kind
        ``applause`` (before and after), ``count-in`` (four sticks), ``silence`` (12 s at
        a barline), ``after`` or ``before`` (another movement in the same file).
    other
        The other movement.
    """

    item: Item
    kind: str
    other: Item | None = None

    @property
    def name(self) -> str:
        return f"{self.kind} {self.item.name}"


@dataclass(frozen=True, slots=True)
class Surrounded:
    """The sound, where it is foreign (seconds), and the notes' true times."""

    samples: F32
    spans: tuple[tuple[float, float], ...]
    onset_s: F64

    def is_foreign(self, at: F64) -> NDArray[np.bool_]:
        out = np.zeros(at.size, np.bool_)
        for start, end in self.spans:
            out |= (at >= start) & (at < end)
        return out

    def is_piece(self, at: F64) -> NDArray[np.bool_]:
        inside = (at > np.nanmin(self.onset_s) + 0.1) & (at < np.nanmax(self.onset_s))
        return inside & ~self.is_foreign(at)


def around(case: Foreign, one: Performance, folder: Path) -> Surrounded:
    rng = np.random.default_rng(case.item.seed + 9000)
    own = one.sound.samples
    loud = float(np.sqrt(np.mean(own**2)))
    if case.kind == "silence":
        third = one.score.bars[len(one.score.bars) // 3].onset
        k = next(k for k, n in enumerate(one.score.notes) if n.onset >= third)
        at = max(0.0, float(one.onset_s[k]) - 0.05)
        cut = round(at * RATE_HZ)
        gap = np.zeros(12 * RATE_HZ, np.float32)
        later = np.where(one.onset_s >= at, one.onset_s + 12.0, one.onset_s)
        return Surrounded(
            np.concatenate([own[:cut], gap, own[cut:]]), ((at + 2, at + 12),), later
        )
    if case.kind == "count-in":
        lead = _sticks(rng, loud)
        tail = np.zeros(0, np.float32)
    elif case.kind == "applause":
        lead, tail = applause(rng, 9.0, loud), applause(rng, 14.0, loud)
    else:
        assert case.other is not None
        music = perform(case.other, folder).sound.samples[: 70 * RATE_HZ]
        gap = np.zeros(2 * RATE_HZ, np.float32)
        empty = np.zeros(0, np.float32)
        first = case.kind == "before"
        lead = np.concatenate([music, gap]) if first else empty
        tail = empty if first else np.concatenate([gap, music])
    start, stop = lead.size / RATE_HZ, (lead.size + own.size) / RATE_HZ
    end = stop + tail.size / RATE_HZ
    spans = tuple(s for s in ((0.0, start), (stop, end)) if s[1] > s[0])
    return Surrounded(np.concatenate([lead, own, tail]), spans, one.onset_s + start)


def applause(rng: np.random.Generator, seconds: float, loud: float) -> F32:
    """Make many hands: short noise bursts around 1 to 2 kHz, swelling and fading."""
    size = int(seconds * RATE_HZ)
    out = np.zeros(size)
    for at in rng.integers(0, size - 900, int(220 * seconds)):
        hz = rng.uniform(700, 2200)
        time = np.arange(900) / RATE_HZ
        burst = rng.standard_normal(900) * np.exp(-time / 0.004)
        out[at : at + 900] += burst * np.cos(2 * np.pi * hz * time) * rng.uniform(0.2, 1)
    out *= np.minimum(1, np.minimum(np.arange(size), np.arange(size)[::-1]) / (1.5 * RATE_HZ))
    return np.asarray(out * loud / np.sqrt(np.mean(out**2)), np.float32)


def _sticks(rng: np.random.Generator, loud: float) -> F32:
    """Four strokes of wood, half a second apart."""
    out = np.zeros(int(2.2 * RATE_HZ))
    time = np.arange(2000) / RATE_HZ
    stroke = rng.standard_normal(2000) * np.exp(-time / 0.008)
    b, a = scipy.signal.butter(2, [1500, 4000], "bandpass", fs=RATE_HZ)
    stroke = scipy.signal.lfilter(b, a, stroke)
    for k in range(4):
        at = int((0.1 + 0.5 * k) * RATE_HZ)
        out[at : at + 2000] += stroke
    return np.asarray(6 * loud * out / np.abs(out).max(), np.float32)


FITTING_FOREIGN = (
    Foreign(FITTING[0], "applause"),
    Foreign(FITTING[4], "applause"),
    Foreign(FITTING[5], "count-in"),
    Foreign(FITTING[2], "silence"),
    Foreign(FITTING[3], "after", FITTING[10]),
    Foreign(FITTING[8], "before", FITTING[5]),
    Foreign(FITTING[0], "after", FITTING_HARD[6]),
    Foreign(FITTING[1], "before", FITTING_HARD[6]),
)
FRESH_FOREIGN = (
    Foreign(FRESH_STRAIGHT[4], "applause"),
    Foreign(FRESH_STRAIGHT[0], "applause"),
    Foreign(FRESH_STRAIGHT[14], "applause"),
    Foreign(FRESH_STRAIGHT[7], "count-in"),
    Foreign(FRESH_STRAIGHT[3], "count-in"),
    Foreign(FRESH_STRAIGHT[1], "silence"),
    Foreign(FRESH_STRAIGHT[5], "silence"),
    Foreign(FRESH_STRAIGHT[2], "after", FRESH_STRAIGHT[3]),
    Foreign(FRESH_STRAIGHT[4], "before", FRESH_STRAIGHT[5]),
    Foreign(FRESH_STRAIGHT[6], "after", FRESH_STRAIGHT[7]),
    Foreign(FRESH_STRAIGHT[11], "before", FRESH_STRAIGHT[9]),
)
