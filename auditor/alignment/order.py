"""Which bars are really played, in which order and roughly when: the coarse pass.

A Viterbi search over the bars of the page on chroma. Transitions the page asks for
are cheap, any bar end may jump to any bar start for a price, and what is not in the
score goes to a filler state.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from auditor.alignment.expected import Events, chroma_rows, pitch_rows
from auditor.alignment.path import unit_rows
from auditor.score.notes import Score
from auditor.sound.features import CHROMA_FPS, Features

# Prices in wholly mismatched frames of 0.2 s. Skips and inserts of four bars and more
# are found with jumps from 3 to 9; from 12 on short ones are missed.
JUMP = 8.0
_LOOP = 0.5
_UNEVEN = 0.12
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

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I64 = NDArray[np.int64]


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
    strange: tuple[tuple[float, float], ...]
    cost: float
    explained: float


def find_order(score: Score, notes: Events, features: Features) -> Order:
    """Search for the order of bars that explains the sound best."""
    pool = 2 if features.duration_s < _LONG_S else 4
    fps = CHROMA_FPS / pool
    heard, level = _heard(features, pool)
    silent = level < _SILENT_DB
    page = _Page(score)
    sounding = np.flatnonzero(~silent)
    length = (sounding[-1] - sounding[0] + 1) / fps if sounding.size else features.duration_s
    best = None
    # The page's tempo marks may be missing or not be followed: one tempo is tried too.
    for bar_s in (page.nominal_s, page.even_s):
        for scale in _SCALES:
            sized = bar_s * (scale * length / max(float(bar_s.sum()), 1e-3))
            found = _search(page, notes, heard, level, fps, sized)
            if best is None or found[0] < best[0]:
                best = found
    assert best is not None
    _, bars, costs = best
    return _order(page, bars, costs, level, fps)


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
    page: _Page, notes: Events, heard: F32, level: F64, fps: float, bar_s: F64
) -> tuple[float, I64, F64]:
    sizes = np.maximum(1, np.rint(bar_s * fps)).astype(np.int64)
    edges = np.concatenate([[0], np.cumsum(sizes)])
    quarters = np.array([b.onset for b in page.score.bars] + [page.score.duration])
    # A frame of the score is centred in its share of the bar, as a heard one is in its time.
    onset_s = (np.interp(notes.onset, quarters, edges) - 0.5) / fps
    offset_s = (np.interp(notes.offset, quarters, edges) - 0.5) / fps
    every = chroma_rows(pitch_rows(notes, onset_s, offset_s, int(edges[-1]), fps))
    rows = np.concatenate([every[edges[p] : edges[p + 1]] for p in page.first])
    starts = np.concatenate([[0], np.cumsum(sizes[page.first])]).astype(np.int64)
    expected = _profile(rows, 1e-3 * float(rows.max() + 1e-9))
    filler = np.interp(level, [_SILENT_DB, _LOUD_DB], [_FILLER_SILENT, _FILLER])
    total, state = _viterbi(
        heard,
        level < _SILENT_DB,
        expected,
        starts,
        page.follows(),
        filler,
        JUMP,
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


def _order(page: _Page, bars: I64, costs: F64, level: F64, fps: float) -> Order:
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
        if group[-1] == final and _only_fading(page, row, last, level[group]):
            continue
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


@njit(cache=True)
def _viterbi(
    heard: F32,
    silent: NDArray[np.bool_],
    expected: F32,
    starts: I64,
    follows: NDArray[np.bool_],
    filler_cost: F64,
    jump: float,
    loop: float,
    uneven: float,
) -> tuple[float, I64]:
    frames, states, bars = heard.shape[0], expected.shape[0], starts.size - 1
    bar_of = np.empty(states, np.int64)
    for b in range(bars):
        bar_of[starts[b] : starts[b + 1]] = b
    has_sound = np.zeros(states, np.bool_)
    for s in range(states):
        for k in range(12):
            if expected[s, k] > 0.05:
                has_sound[s] = True
    # 0 stay, 1 and 2 advance, 3 as the page asks, 4 jump, 5 out of the filler, 6 begin,
    # 7 advance by three
    code = np.zeros((frames, states), np.int8)
    asked = np.full((frames, bars), -1, np.int32)
    jumped = np.full(frames, -1, np.int32)
    filled = np.full(frames, -1, np.int32)
    old = np.full(states, np.inf)
    filler = np.inf
    for t in range(frames):
        # Cheapest bar end so far, for jumps and for the way into the filler.
        end_cost, end_bar = np.inf, -1
        if t > 0:
            for b in range(bars):
                price = old[starts[b + 1] - 1]
                if price < end_cost:
                    end_cost, end_bar = price, b
        jumped[t] = end_bar
        new = np.full(states, np.inf)
        for s in range(states):
            b = bar_of[s]
            best, which = old[s] + uneven, 0
            inner = s > starts[b]
            linked = inner or (b > 0 and follows[b - 1, b])
            if linked and s > 0 and old[s - 1] < best:
                best, which = old[s - 1], 1
            linked = s - 2 >= starts[b] or (s >= 2 and b > 0 and follows[b - 1, b])
            if linked and s >= 2 and bar_of[s - 2] >= b - 1 and old[s - 2] + uneven < best:
                best, which = old[s - 2] + uneven, 2
            linked = s - 3 >= starts[b]
            if linked and old[s - 3] + 2 * uneven < best:
                best, which = old[s - 3] + 2 * uneven, 7
            if not inner:
                for a in range(bars):
                    if follows[a, b] and a != b - 1:
                        price = old[starts[a + 1] - 1] + loop
                        if price < best:
                            best, which = price, 3
                            asked[t, b] = a
                if end_cost + jump < best:
                    best, which = end_cost + jump, 4
                leave = 0.0 if b == 0 and filled[t - 1] == -2 else 0.5 * jump
                if t > 0 and filler + leave < best:
                    best, which = filler + leave, 5
                if t == 0:
                    best, which = (0.0 if b == 0 else 0.5 * jump), 6
            if best == np.inf:
                continue
            if silent[t]:
                cost = 0.3 if has_sound[s] else 0.0
            elif not has_sound[s]:
                cost = 0.3
            else:
                dot = 0.0
                for k in range(12):
                    dot += heard[t, k] * expected[s, k]
                cost = 1.0 - dot
            new[s] = best + cost
            code[t, s] = which
        stay = filler_cost[t]
        if t == 0:
            filler, filled[t] = stay, -2
        else:
            entry = end_cost + (0.0 if end_bar == bars - 1 else 0.5 * jump)
            last_end = old[states - 1]
            source = end_bar
            if last_end < entry:
                entry, source = last_end, bars - 1
            if entry < filler:
                filler, filled[t] = entry + stay, source
            else:
                filler, filled[t] = filler + stay, (-2 if filled[t - 1] == -2 else -1)
        old = new
    # The sound may stop anywhere, but the end of the score is the likeliest place.
    best, at = filler, -1
    for s in range(states):
        price = old[s] + (0.0 if s >= states - 2 else 0.5 * jump)
        if price < best:
            best, at = price, s
    out = np.empty(frames, np.int64)
    s = at
    for t in range(frames - 1, -1, -1):
        out[t] = s
        if s < 0:
            if filled[t] >= 0:
                s = starts[filled[t] + 1] - 1
            continue
        which = code[t, s]
        if which == 1 or which == 2:
            s -= which
        elif which == 7:
            s -= 3
        elif which == 3:
            s = starts[asked[t, bar_of[s]] + 1] - 1
        elif which == 4:
            s = starts[jumped[t] + 1] - 1
        elif which == 5:
            s = -1
    return best, out
