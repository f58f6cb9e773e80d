"""How far the placing of each bar can be trusted, and whether the sound is this score at all.

Likeness alone says little: percussive mixes fit any score badly, thick ones fit many
scores well. So each bar is compared with decoys: the same bar transposed, and the same
bar somewhat earlier or later.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.levels import BLOCK_S as _BLOCK_S
from auditor.alignment.levels import Rows
from auditor.model_files import read_json

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]

MODEL = "alignment_confidence.json"
NAMES = ("fit", "pitch_margin", "time_margin", "onset_support", "tempo_oddness")
_TRANSPOSED = tuple(k for k in range(-6, 7) if k)
_SHIFTED_S = (0.3, 0.5, 0.8, 1.2, 2.0)
_ONSET_DECOYS_S = (0.12, 0.2, 0.3, 0.45)
_NEIGHBOURS = 4
# The warping wants weak partials too; telling scores apart wants the strong ones.
_SHARPER = 2.0
# Below these the reason is named, if the confidence is low.
_LOW_PITCH, _LOW_TIME, _ODD_TEMPO = 0.15, 0.01, 0.35
SURE = 0.8


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for the placing of each bar; NaN where a bar was not played.

    Parameters
    ----------
    figures : ndarray, shape (bars, 5)
        Columns as in `NAMES`: likeness (cosine); likeness less the best of the same
        bar transposed by up to six semitones; less the best of it moved by 0.3 to 2 s;
        onsets heard where expected, in standard deviations over other places;
        logarithm of the tempo against the bars around, without sign.
    silent : ndarray of bool, shape (bars,)
        True where the sound is silent while the bar should sound.
    """

    figures: F64
    silent: NDArray[np.bool_]


def gather(curves: Curves, level_db: F64, spans_s: F64, quarters: F64) -> Evidence:
    """Compare what is heard with what is expected and with decoys, bar by bar.

    Parameters
    ----------
    curves
        Of the whole sound.
    level_db : ndarray, shape (frames,)
        dB below the loudest frame.
    spans_s : ndarray, shape (bars, 2)
        Start and end of each bar in seconds, NaN if not played.
    quarters : ndarray, shape (bars,)
        Length of each bar.
    """
    fps = curves.fps
    sounding = curves.sounding & (level_db > -60.0)
    fit, *decoys = (_bar_means(c, sounding, spans_s, fps) for c in curves.pitch)
    moved, late = decoys[: len(_TRANSPOSED)], decoys[len(_TRANSPOSED) :]
    here, *elsewhere = (_bar_means(c, curves.starts, spans_s, fps) for c in curves.onset)
    spread = np.maximum(np.std(elsewhere, axis=0), 0.02)
    figures = np.stack(
        [
            fit,
            fit - np.max(moved, axis=0),
            fit - np.max(late, axis=0),
            (here - np.mean(elsewhere, axis=0)) / spread,
            _tempo_oddness(spans_s, quarters),
        ],
        axis=1,
    )
    loud = _bar_means(10.0 ** (level_db / 10.0), np.ones(len(level_db), np.bool_), spans_s, fps)
    return Evidence(figures, loud < 1e-6)


@dataclass(frozen=True, slots=True)
class Curves:
    """Likeness of each frame: as placed, then to each decoy; which frames sound, or start."""

    pitch: F32
    onset: F32
    sounding: NDArray[np.bool_]
    starts: NDArray[np.bool_]
    fps: int


def curves(heard: Rows, expected: Rows) -> Curves:
    """Likeness to the page as placed and to its decoys, frame by frame."""
    fps, frames = heard.fps, heard.frames
    late = [0, *_both_ways(_SHIFTED_S, fps)]
    places = [0, *_both_ways(_ONSET_DECOYS_S, fps)]
    pitch = np.zeros((len(late) + len(_TRANSPOSED), frames), np.float32)
    onset = np.zeros((len(places), frames), np.float32)
    sounding, starts = np.zeros(frames, np.bool_), np.zeros(frames, np.bool_)
    reach = max(late)
    block = _BLOCK_S * fps
    for first in range(0, frames, block):
        last = min(first + block, frames)
        low, high = max(0, first - reach), min(frames, last + reach)
        around = ((low - first + reach, last + reach - high), (0, 0))
        notes, rises = expected(first, last)
        heard_notes, heard_rises = (np.pad(r, around) for r in heard(low, high))
        here = slice(first, last)
        sounding[here] = np.einsum("ij,ij->i", notes, notes) > 0.1
        starts[here] = rises[:, -1] > 0.2
        notes, heard_notes = _sharpened(notes), _sharpened(heard_notes)
        pitch[0, here] = _likeness(heard_notes, notes, 0, reach)
        for k, step in enumerate(_TRANSPOSED, 1):
            pitch[k, here] = _likeness(heard_notes, _transposed(notes, step), 0, reach)
        for k, shift in enumerate(late[1:], 1 + len(_TRANSPOSED)):
            pitch[k, here] = _likeness(heard_notes, notes, shift, reach)
        for k, shift in enumerate(places):
            onset[k, here] = _likeness(heard_rises, rises, shift, reach)
    return Curves(pitch, onset, sounding, starts, fps)


def _both_ways(seconds: tuple[float, ...], fps: int) -> list[int]:
    return [sign * round(s * fps) for s in seconds for sign in (-1, 1)]


def probabilities(figures: F64) -> F64:
    """Probability that a bar's onsets lie within 150 ms, shape (bars,); 0 if not played."""
    mean, scale, weight, bias = _model()
    z = (np.clip(figures, -5.0, 10.0) - mean) / scale
    p = 1.0 / (1.0 + np.exp(-(np.nan_to_num(z) @ weight + bias)))
    out: F64 = np.where(np.isnan(figures[:, 0]), 0.0, p)
    return out


def reason(figures: F64, probability: float, *, silent: bool) -> str:
    """Plain words for a bar that is not sure."""
    if np.isnan(figures[0]):
        return "not played"
    if silent:
        return "silent in the sound"
    if probability >= SURE:
        return ""
    if figures[1] < _LOW_PITCH:
        return "other notes sound than are written"
    if figures[2] < _LOW_TIME:
        return "the place is ambiguous"
    if figures[4] > _ODD_TEMPO:
        return "the tempo jumps here"
    return "the sound fits the notes only loosely"


@cache
def _model() -> tuple[F64, F64, F64, float]:
    data = read_json(MODEL)
    columns = [
        np.array([data[part][name] for name in NAMES]) for part in ("mean", "scale", "weight")
    ]
    return columns[0], columns[1], columns[2], float(data["bias"])


def _sharpened(rows: F32) -> F32:
    """Stress the strong bins, which tell one chord from the next."""
    out: F32 = rows**_SHARPER
    length = np.sqrt(np.einsum("ij,ij->i", out, out))
    out /= np.maximum(length, 1e-6)[:, None]
    return out


def _transposed(rows: F32, semitones: int) -> F32:
    out = np.zeros_like(rows)
    if semitones > 0:
        out[:, semitones:] = rows[:, :-semitones]
    else:
        out[:, :semitones] = rows[:, -semitones:]
    return out


def _likeness(heard: F32, expected: F32, frames: int, margin: int) -> F32:
    """Cosine of each expected row with the one heard so many frames earlier.

    `heard` begins `margin` frames before `expected` and ends as much after it.
    """
    start = margin - frames
    out: F32 = np.einsum("ij,ij->i", heard[start : start + len(expected)], expected)
    return out


def _bar_means(values: F32 | F64, use: NDArray[np.bool_], spans_s: F64, fps: int) -> F64:
    """Mean of the used frames of each bar; of all its frames if none is used."""
    out = np.full(len(spans_s), np.nan)
    for bar, (start, end) in enumerate(spans_s):
        if np.isfinite(start):
            first = min(max(0, round(start * fps)), len(values) - 1)
            last = max(first + 1, min(len(values), round(end * fps)))
            kept = values[first:last][use[first:last]]
            out[bar] = kept.mean() if kept.size else values[first:last].mean()
    return out


def _tempo_oddness(spans_s: F64, quarters: F64) -> F64:
    slow = np.log(np.maximum(spans_s[:, 1] - spans_s[:, 0], 1e-3) / np.maximum(quarters, 1e-3))
    out = np.full(len(slow), np.nan)
    for bar in np.flatnonzero(np.isfinite(slow)):
        around = np.concatenate(
            [slow[max(0, bar - _NEIGHBOURS) : bar], slow[bar + 1 : bar + 1 + _NEIGHBOURS]]
        )
        around = around[np.isfinite(around)]
        out[bar] = abs(slow[bar] - np.median(around)) if around.size else 0.0
    return out
