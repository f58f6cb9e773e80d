"""Which bars are really played, in which order and roughly when: the coarse pass.

A Viterbi search over the bars of the page on chroma. Transitions the page asks for
are cheap, any bar end may jump to any bar start for a price, and what is not in the
score goes to a filler state.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.expected import Events, chroma_rows, pitch_rows
from auditor.alignment.jumps import cheapest_walk
from auditor.alignment.path import unit_rows
from auditor.alignment.pauses import without_pauses
from auditor.score.notes import Score
from auditor.sound.features import CHROMA_FPS, Features

# Prices in wholly mismatched frames of 0.2 s. On 38 made performances, nine of them with
# cuts, extra passages or repeats left out, 6 with an uneven price of 0.16 to 0.2 put no bar
# wrong; 8 missed one extra passage of eight bars, 10 also two cuts of nine.
JUMP = 6.0
_LOOP = 0.5
# A walk straight through is believed unless another order explains the sound better by
# this much for each place where it leaves the page's order: where bars repeat, chroma
# alone cannot tell one pass from the next.
_DEPARTURE = 1.0
# A reading that stands still or races to make the page's order fit pays this an octave of
# tempo, beyond what a fermata does (2.5 times), against this many bars on both sides.
_HALTING, _FERMATA, _AROUND = 4.0, 1.3, 4
# Strange sound in the place of bars left out, as long as they are within this factor.
_EXCHANGE = 1.3
_NEVER = 1e4
_UNEVEN = 0.18
# Above what right scores cost on the mean (0.09 to 0.21 a frame), falling with the level: a
# fading room says little about what is played.
_FILLER = 0.36
_FILLER_SILENT = 0.05
_LOUD_DB = -20.0
# Stresses the strong classes, which tell one chord from the next.
_SHARPER = 2.0
_SILENT_DB = -50.0
_TEMPO = 100.0
_SCALES = (1.0, 0.72, 1.38)
_LONG_S = 1200.0
_MANY_FRAMES = 3000

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
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
    """What the coarse pass found.

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
    """

    visits: tuple[Visit, ...]
    strange: Spans
    cost: float
    explained: float


def find_order(score: Score, notes: Events, features: Features, foreign: Spans = ()) -> Order:
    """Search for the order of bars that explains the sound best.

    `foreign` are stretches in seconds that are known not to be in the score.
    """
    pool = 2 if features.duration_s < _LONG_S else 4
    fps = CHROMA_FPS / pool
    heard, level = _heard(features, pool)
    for start, end in foreign:
        heard[round(start * fps) : round(end * fps)] = 0.0
    kept = without_pauses(level < _SILENT_DB, fps)
    order = _found(score, notes, features.duration_s, heard[kept], level[kept], fps)
    return with_pauses(order, kept, fps)


def _found(
    score: Score, notes: Events, duration_s: float, heard: F32, level: F64, fps: float
) -> Order:
    page = _Page(score)
    sounding = np.flatnonzero((level >= _SILENT_DB) & (heard.any(axis=1)))
    length = (sounding[-1] - sounding[0] + 1) / fps if sounding.size else duration_s
    # The page's tempo marks may be missing or not be followed: one tempo is tried too.
    sizes = [
        bar_s * (scale * length / max(float(bar_s.sum()), 1e-3))
        for bar_s in (page.nominal_s, page.even_s)
        for scale in _SCALES
    ]
    found = {}
    for straight in (True, False):
        walks = [
            _search(page, notes, heard, level, fps, sized, straight=straight)
            for sized in _likely(page, notes, heard, level, fps, sizes, straight=straight)
        ]
        price, bars, costs = min(walks, key=lambda walk: walk[0])
        found[straight] = price, _order(page, bars, costs, level, fps, straight=straight)
    if not found[False][1].visits:
        # The search gave the sound up as foreign: let the gate judge a straight reading.
        walks = [
            _search(page, notes, heard, level, fps, sized, straight=True, filler=_NEVER)
            for sized in sizes
        ]
        _, bars, costs = min(walks, key=lambda walk: walk[0])
        return _order(page, bars, costs, level, fps, straight=True)
    if _only_exchanges(found[False][1], found[True][1]):
        return found[True][1]
    gain = found[False][0] + _DEPARTURE * _departures(found[False][1]) - found[True][0]
    gain += _HALTING * (_halts(page, found[False][1]) - _halts(page, found[True][1]))
    return found[gain >= 0.0][1]


def _likely(
    page: _Page,
    notes: Events,
    heard: F32,
    level: F64,
    fps: float,
    sizes: list[F64],
    *,
    straight: bool,
) -> list[F64]:
    """Tempos worth a search: all of them, or for a long sound the best at half the rate."""
    if len(heard) < _MANY_FRAMES:
        return sizes
    half = len(heard) // 2 * 2
    rough = unit_rows(heard[:half].reshape(-1, 2, 12).mean(axis=1), 0.0)
    loud = level[:half].reshape(-1, 2).max(axis=1)
    prices = [
        _search(page, notes, rough, loud, fps / 2, sized, straight=straight)[0]
        for sized in sizes
    ]
    return [sizes[int(np.argmin(prices))]]


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


def _departures(order: Order) -> int:
    """Count the places where an order is not the page's."""
    bars = [visit.bar for visit in order.visits]
    leaps = sum(b != a + 1 for a, b in pairwise(bars))
    return leaps + len(order.strange)


def find_transposition(
    score: Score, notes: Events, features: Features
) -> tuple[int, float, float]:
    """Find the semitones by which the sound lies above the score, and how well that fits.

    Returns
    -------
    int, float, float
        -6 to 5; mean coarse cost a frame so transposed, and what is gained by it.
    """
    pool = 2 if features.duration_s < _LONG_S else 4
    heard, level = _heard(features, pool)
    page = _Page(score)
    costs = {}
    for shift in range(-6, 6):
        turned = np.roll(heard, -shift, axis=1)
        costs[shift] = min(
            _search(page, notes, turned, level, CHROMA_FPS / pool, bar_s * scale)[0]
            for bar_s in (page.nominal_s, page.even_s)
            for scale in (len(heard) * pool / CHROMA_FPS / max(float(bar_s.sum()), 1e-3),)
        ) / len(heard)
    best = min(costs, key=lambda s: costs[s])
    return best, costs[best], costs[0] - costs[best]


def _only_exchanges(order: Order, straight: Order) -> bool:
    """Whether an order only puts strange sound in the place of bars left out.

    Where both take the same time, the bars themselves sound there, unlike what is expected:
    a cut and an insertion of one length in one place do not happen by chance.
    """
    if not order.strange or len(order.strange) * 2 != _departures(order):
        return False
    at = {visit.bar: visit for visit in straight.visits}
    for a, b in pairwise(order.visits):
        if b.bar == a.bar + 1:
            continue
        left_out = [at[bar] for bar in range(a.bar + 1, b.bar) if bar in at]
        if b.bar < a.bar or not left_out:
            return False
        strange = sum(e - s for s, e in order.strange if a.start_s <= s and e <= b.end_s)
        straight_s = left_out[-1].end_s - left_out[0].start_s
        if not 1 / _EXCHANGE < (strange + 1e-9) / straight_s < _EXCHANGE:
            return False
    return True


def _halts(page: _Page, order: Order) -> float:
    """Octaves of tempo by which bars fall out of their neighbourhood, beyond a fermata's."""
    length = np.array([v.end_s - v.start_s for v in order.visits])
    slow = np.log2(np.maximum(length, 1e-3) / page.even_s[[v.bar for v in order.visits]])
    out = 0.0
    for k in range(slow.size):
        around = np.delete(slow[max(0, k - _AROUND) : k + _AROUND + 1], min(k, _AROUND))
        if around.size:
            out += max(0.0, abs(slow[k] - float(np.median(around))) - _FERMATA)
    return out


class _Page:
    """The written bars, each by the first bar of the played axis that plays it."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self.written = np.array([b.written_index for b in score.bars])
        _, self.first = np.unique(self.written, return_index=True)
        self.place = {int(self.written[p]): k for k, p in enumerate(self.first)}
        tempo, last = [], _TEMPO
        for bar in score.bars:
            last = bar.tempo or last
            tempo.append(last)
        quarters = np.array([b.duration for b in score.bars])
        self.nominal_s: F64 = quarters * 60.0 / np.array(tempo)
        self.even_s: F64 = quarters * 60.0 / _TEMPO

    def of(self, played: int) -> int:
        """Row of the written bar that a bar of the played axis plays."""
        return self.place[int(self.written[played])]

    def follows(self) -> NDArray[np.bool_]:
        """Tell where the page asks for b after a: true at [a, b]."""
        rows = len(self.first)
        out = np.zeros((rows, rows), np.bool_)
        for p in range(len(self.written) - 1):
            out[self.of(p), self.of(p + 1)] = True
        return out


def _heard(features: Features, pool: int) -> tuple[F32, F64]:
    frames = len(features.chroma) // pool
    chroma = features.chroma[: frames * pool].reshape(frames, pool, 12).mean(axis=1)
    level = features.level_db[: frames * pool].reshape(frames, pool).max(axis=1)
    return _profile(chroma, 0.0), level


def _profile(chroma: F32, floor: float) -> F32:
    """Make unit rows of chroma; their mean stays in, or thin and thick chords part too far."""
    return unit_rows(chroma**_SHARPER, floor)


def _search(
    page: _Page,
    notes: Events,
    heard: F32,
    level: F64,
    fps: float,
    bar_s: F64,
    *,
    straight: bool = False,
    filler: float = _FILLER,
) -> tuple[float, I64, F64]:
    """Search one order at one tempo; `straight` runs through the played axis once."""
    # Rounded along the whole, so that short bars do not all err the same way.
    sizes = np.maximum(1, np.diff(np.rint(np.cumsum(bar_s) * fps), prepend=0)).astype(np.int64)
    edges = np.concatenate([[0], np.cumsum(sizes)])
    quarters = np.array([b.onset for b in page.score.bars] + [page.score.duration])
    # A frame of the score is centred in its share of the bar, as a heard one is in its time.
    onset_s = (np.interp(notes.onset, quarters, edges) - 0.5) / fps
    offset_s = (np.interp(notes.offset, quarters, edges) - 0.5) / fps
    every = chroma_rows(pitch_rows(notes, onset_s, offset_s, int(edges[-1]), fps))
    bars = np.arange(sizes.size) if straight else page.first
    rows = np.concatenate([every[edges[p] : edges[p + 1]] for p in bars])
    starts = np.concatenate([[0], np.cumsum(sizes[bars])]).astype(np.int64)
    follows = np.eye(bars.size, k=1, dtype=np.bool_) if straight else page.follows()
    expected = _profile(rows, 1e-3 * float(rows.max() + 1e-9))
    foreign = np.interp(level, [_SILENT_DB, _LOUD_DB], [_FILLER_SILENT, filler])
    foreign[(level >= _SILENT_DB) & ~heard.any(axis=1)] = 0.0
    total, state = cheapest_walk(
        heard,
        level < _SILENT_DB,
        expected,
        starts,
        follows,
        foreign,
        _NEVER if straight else JUMP,
        _LOOP,
        _UNEVEN,
    )
    cost = np.full(len(state), _FILLER)
    inside = state >= 0
    cost[inside] = 1.0 - np.einsum("ij,ij->i", heard[inside], expected[state[inside]])
    return float(total), _encode(state, starts), cost


def _encode(state: I64, starts: I64) -> I64:
    """Row of the bar in each frame, -1 in the filler, counted on at each entry.

    Returns shape (frames, 2): row, and number of the visit.
    """
    row = np.searchsorted(starts, state, side="right") - 1
    row[state < 0] = -1
    back = np.concatenate([[False], (np.diff(state) < 0) & (state[1:] >= 0)])
    new = np.concatenate([[True], (np.diff(row) != 0)]) | back
    return np.stack([row, np.cumsum(new)], axis=1)


def _order(
    page: _Page, bars: I64, costs: F64, level: F64, fps: float, *, straight: bool
) -> Order:
    silent = level < _SILENT_DB
    final = int(np.max(np.flatnonzero(bars[:, 0] >= 0), initial=-1))
    visits: list[Visit] = []
    strange: list[tuple[float, float]] = []
    last = -1
    cuts = np.flatnonzero(np.diff(bars[:, 1])) + 1
    for group in np.split(np.arange(len(bars)), cuts):
        row = int(bars[group[0], 0])
        start, end = group[0] / fps, (group[-1] + 1) / fps
        if row < 0:
            if (~silent[group]).sum() / fps > 2.0:
                strange.append((float(start), float(end)))
            continue
        if straight:
            last = row
        elif group[-1] == final and _only_fading(page, row, last, level[group]):
            continue
        else:
            last = _played(page, row, last)
        visits.append(Visit(last, float(start), float(end)))
    sounding = ~silent
    inside = (bars[:, 0] >= 0) & sounding
    return Order(
        tuple(visits),
        tuple(strange),
        float(costs[sounding].mean()) if sounding.any() else 1.0,
        float(inside.sum() / max(1, sounding.sum())),
    )


def _only_fading(page: _Page, row: int, last: int, level: F64) -> bool:
    """Tell whether the last visit is a jump into a bar that likes the fading room."""
    jumped = last >= 0 and not page.follows()[page.of(last), row]
    return jumped and float(level.mean()) < _LOUD_DB


def _played(page: _Page, row: int, last: int) -> int:
    """Bar of the played axis that a visit of a written bar stands for.

    The next one if it fits, else the next that does, else the last that did.
    """
    fitting = np.flatnonzero(page.written == page.written[page.first[row]])
    later = fitting[fitting > last]
    return int(later[0]) if later.size else int(fitting[-1])
