"""One search for the order of bars: what is heard, what is expected, prices, a reading."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.ndimage
from numpy.typing import NDArray

from auditor.alignment.jumps import cheapest_walk
from auditor.alignment.levels import tones
from auditor.alignment.page import Page
from auditor.alignment.pauses import without_pauses
from auditor.alignment.visits import Order, Spans, Visit
from auditor.sound.features import CHROMA_FPS, PITCH_FPS, Features

# Frames a second of the search, and beyond so many seconds.
_FPS, _LONG_S, _LONG_FPS = 5.0, 1200.0, 2.5
# Silence lies so far under the loudest frame of the whole; amid soft music, for music from
# pp to ff spans 50 dB, so far under the loudest of the seconds around, down to a floor.
_SILENT_DB, _UNDER_DB, _FLOOR_DB, _AROUND_S = -50.0, -25.0, -65.0, 3.0
# A fading room says little about what is played: music that is not in the score costs less.
# It shows by falling far under the loudest frame of the last seconds; soft music does not.
_LAST_S, _LOUD_DB, _FADED_DB = 3.0, -20.0, -50.0
_FILLER_SILENT = 0.05
NEVER = 1e4
_QUIET = 1e-3
# Strange sound shorter than this is not worth a word.
_LEAST_STRANGE_S = 2.0

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I64 = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Heard:
    """The sound as the search sees it, its long silences shortened.

    Parameters
    ----------
    chroma : ndarray, shape (frames, 12)
        Compressed power by pitch class; zero in what is known to be foreign.
    pitch : ndarray, shape (frames, 85)
        The same by semitone, without the noise under it.
    fallen_db : ndarray, shape (frames,)
        dB below the loudest frame of the last seconds.
    silent : ndarray of bool, shape (frames,)
        Frames without sound.
    kept : ndarray of int, shape (frames,)
        Frames of the whole sound that these are.
    fps
        Frames a second.
    """

    chroma: F32
    pitch: F32
    fallen_db: F64
    silent: NDArray[np.bool_]
    kept: I64
    fps: float

    def filler(self, price: float) -> F64:
        """Price of calling each frame music that is not in the score, shape (frames,)."""
        out = np.interp(self.fallen_db, [_FADED_DB, _LOUD_DB], [_FILLER_SILENT, price])
        out[self.silent] = _FILLER_SILENT
        out[~self.silent & ~self.chroma.any(axis=1)] = 0.0
        return np.asarray(out)

    def halved(self) -> Heard:
        """Half as many frames."""
        half = len(self.chroma) // 2 * 2
        return replace(
            self,
            chroma=self.chroma[:half].reshape(-1, 2, 12).mean(axis=1),
            pitch=self.pitch[:half:2],
            fallen_db=self.fallen_db[:half].reshape(-1, 2).max(axis=1),
            silent=np.asarray(self.silent[:half].reshape(-1, 2).all(axis=1)),
            kept=self.kept[:half:2],
            fps=self.fps / 2,
        )


def heard(features: Features, foreign: Spans = ()) -> Heard:
    """Features as the search sees them; `foreign` stretches (seconds) are not in the score."""
    fps = _FPS if features.duration_s < _LONG_S else _LONG_FPS
    pool, fine = round(CHROMA_FPS / fps), round(PITCH_FPS / fps)
    frames = min(len(features.chroma) // pool, len(features.pitch) // fine)
    chroma = features.chroma[: frames * pool].reshape(frames, pool, 12).mean(axis=1)
    level = features.level_db[: frames * pool].reshape(frames, pool).max(axis=1)
    bins = features.pitch.shape[1]
    pitch = np.zeros((frames, bins), np.float32)
    for k in range(fine):
        pitch += features.pitch[k : frames * fine : fine]
    pitch = tones(pitch / np.float32(fine))
    for start, end in foreign:
        chroma[round(start * fps) : round(end * fps)] = 0.0
        pitch[round(start * fps) : round(end * fps)] = 0.0
    fallen = level - _loudest(level, round(_LAST_S * fps), past=True)
    around = _loudest(level, round(2 * _AROUND_S * fps), past=False)
    silent = level < np.clip(around + _UNDER_DB, _FLOOR_DB, _SILENT_DB)
    kept = without_pauses(silent, fps)
    return Heard(chroma[kept], pitch[kept], fallen[kept], silent[kept], kept, fps)


def _loudest(level_db: F64, frames: int, *, past: bool) -> F64:
    """Loudest of so many frames, the last ones or those around, shape as given."""
    origin = frames // 2 if past else 0
    out: F64 = scipy.ndimage.maximum_filter1d(
        level_db, frames + 1, origin=origin, mode="nearest"
    )
    return out


@dataclass(frozen=True, slots=True)
class Prices:
    """What a search pays, in wholly mismatched frames.

    Parameters
    ----------
    jump, leave
        For leaving the page's order, and for beginning, ending or going astray inside it.
    loop
        For a repeat the page asks for.
    uneven
        For each step off one frame of the page a frame.
    filler : ndarray, shape (frames,)
        For calling a frame music that is not in the score.
    """

    jump: float
    leave: float
    loop: float
    uneven: float
    filler: F64


@dataclass(frozen=True, slots=True)
class Walk:
    """What one search found.

    Parameters
    ----------
    price
        Of the whole walk.
    rows : ndarray of int, shape (frames, 2)
        Row of the written bar (of the played axis, if straight) in each frame, -1 in what
        is not in the score; and number of the visit.
    cost : ndarray, shape (frames,)
        Unlikeness of each frame; the filler's price outside the score.
    straight
        Whether it runs through the played axis once.
    """

    price: float
    rows: I64
    cost: F64
    straight: bool


def search(
    page: Page,
    sound: Heard,
    profile: F32,
    expected: F32,
    edges: I64,
    prices: Prices,
    *,
    straight: bool,
) -> Walk:
    """Search the cheapest order.

    Parameters
    ----------
    profile : ndarray, shape (frames, bins)
        Unit rows of the sound.
    expected : ndarray, shape (states, bins)
        Unit rows of the played axis.
    edges : ndarray of int, shape (bars + 1,)
        First state of each bar of the played axis, and their number.
    prices
        As above.
    straight
        Run through the played axis once, and nowhere else.
    """
    bars = np.arange(edges.size - 1) if straight else page.first
    rows = np.concatenate([expected[edges[p] : edges[p + 1]] for p in bars])
    starts = np.concatenate([[0], np.cumsum(np.diff(edges)[bars])]).astype(np.int64)
    follows = np.eye(bars.size, k=1, dtype=np.bool_) if straight else page.follows()
    total, state = cheapest_walk(
        np.ascontiguousarray(profile),
        sound.silent,
        rows,
        starts,
        follows,
        prices.filler,
        NEVER if straight else prices.jump,
        NEVER if straight else prices.leave,
        prices.loop,
        prices.uneven,
    )
    cost = prices.filler.copy()
    inside = state >= 0
    cost[inside] = 1.0 - np.einsum("ij,ij->i", profile[inside], rows[state[inside]])
    return Walk(float(total), _encode(state, starts), cost, straight)


def _encode(state: I64, starts: I64) -> I64:
    row = np.searchsorted(starts, state, side="right") - 1
    row[state < 0] = -1
    back = np.concatenate([[False], (np.diff(state) < 0) & (state[1:] >= 0)])
    new = np.concatenate([[True], (np.diff(row) != 0)]) | back
    return np.stack([row, np.cumsum(new)], axis=1)


def reading(page: Page, sound: Heard, walk: Walk) -> Order:
    """Put a walk into bars and seconds (of the sound with its silences shortened)."""
    bars, fps = walk.rows, sound.fps
    final = int(np.max(np.flatnonzero(bars[:, 0] >= 0), initial=-1))
    rows: list[int] = []
    spans: list[tuple[float, float]] = []
    strange: list[tuple[float, float]] = []
    cuts = np.flatnonzero(np.diff(bars[:, 1])) + 1
    for group in np.split(np.arange(len(bars)), cuts):
        row = int(bars[group[0], 0])
        span = float(group[0] / fps), float((group[-1] + 1) / fps)
        if row < 0:
            if (~sound.silent[group]).sum() / fps > _LEAST_STRANGE_S:
                strange.append(span)
            continue
        if not walk.straight and group[-1] == final and rows:
            jumped = not page.follows()[rows[-1], row]
            # A jump into a bar that likes the fading room is no music.
            if jumped and float(sound.fallen_db[group].mean()) < _LOUD_DB:
                continue
        rows.append(row)
        spans.append(span)
    played = rows if walk.straight else page.passes(rows)
    sounding = ~sound.silent
    inside = (bars[:, 0] >= 0) & sounding
    return Order(
        tuple(Visit(bar, *span) for bar, span in zip(played, spans, strict=True)),
        tuple(strange),
        float(walk.cost[sounding].mean()) if sounding.any() else 1.0,
        float(inside.sum() / max(1, sounding.sum())),
    )


def quiet(rows: F32) -> float:
    """Length below which rows of the page fade to nothing."""
    return _QUIET * float(rows.max(initial=0.0) + 1e-9)
