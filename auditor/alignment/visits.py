"""The order in which bars sound: what a search finds, in seconds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

I64 = NDArray[np.int64]
Spans = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Visit:
    """One bar of the played axis as it passes in the sound."""

    bar: int
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Order:
    """What a search found.

    Parameters
    ----------
    visits
        Bars in the order they sound.
    strange
        Stretches in seconds that sound but are not in the score.
    cost
        Mean cost of a sounding frame, 0 to 1.
    explained
        Share of the sounding frames that bars of the score account for.
    contrast
        How much better the sound fits its places than others, 0 to about 1.
    """

    visits: tuple[Visit, ...]
    strange: Spans
    cost: float
    explained: float
    contrast: float = 0.0

    @property
    def bars(self) -> tuple[int, ...]:
        """Bars of the played axis in the order they sound."""
        return tuple(visit.bar for visit in self.visits)

    @property
    def departures(self) -> int:
        """Number of places where it is not the page's."""
        return sum(b != a + 1 for a, b in pairwise(self.bars)) + len(self.strange)


def with_pauses(order: Order, kept: I64, fps: float) -> Order:
    """Put what was left out of silences back, at the nearest barline."""
    starts = [round(v.start_s * fps) for v in order.visits]
    ends = [round(v.end_s * fps) for v in order.visits]
    for cut in np.flatnonzero(np.diff(kept) > 1) + 1:
        for k, (start, end) in enumerate(zip(starts, ends, strict=True)):
            if not start < cut < end:
                continue
            if cut - start <= end - cut:
                if k and ends[k - 1] == start:
                    ends[k - 1] = int(cut)
                starts[k] = int(cut)
            else:
                if k + 1 < len(starts) and starts[k + 1] == end:
                    starts[k + 1] = int(cut)
                ends[k] = int(cut)
            break
    visits = tuple(
        Visit(v.bar, float(kept[a]) / fps, float(kept[b - 1] + 1) / fps)
        for v, a, b in zip(order.visits, starts, ends, strict=True)
    )
    strange = tuple(
        (float(kept[round(a * fps)]) / fps, float(kept[round(b * fps) - 1] + 1) / fps)
        for a, b in order.strange
    )
    return replace(order, visits=visits, strange=strange)
