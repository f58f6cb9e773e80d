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


def gather(
    heard: tuple[F32, F32],
    expected: tuple[F32, F32],
    level_db: F64,
    spans_s: F64,
    quarters: F64,
    fps: int,
) -> Evidence:
    """Compare what is heard with what is expected and with decoys, bar by bar.

    Parameters
    ----------
    heard, expected : pair of ndarray, shapes (frames, 85) and (frames, 86)
        Unit pitch rows and onset rows on one time axis.
    level_db : ndarray, shape (frames,)
        dB below the loudest frame.
    spans_s : ndarray, shape (bars, 2)
        Start and end of each bar in seconds, NaN if not played.
    quarters : ndarray, shape (bars,)
        Length of each bar.
    fps
        Frames a second.
    """
    sounding = (np.einsum("ij,ij->i", expected[0], expected[0]) > 0.1) & (level_db > -60.0)
    pitch, notes = _sharpened(heard[0]), _sharpened(expected[0])
    fit = _bar_means(_likeness(pitch, notes, 0, 0), sounding, spans_s, fps)
    moved = [
        _bar_means(_likeness(pitch, notes, k, 0), sounding, spans_s, fps) for k in _TRANSPOSED
    ]
    late = [
        _bar_means(_likeness(pitch, notes, 0, sign * round(s * fps)), sounding, spans_s, fps)
        for s in _SHIFTED_S
        for sign in (-1, 1)
    ]
    figures = np.stack(
        [
            fit,
            fit - np.max(moved, axis=0),
            fit - np.max(late, axis=0),
            _onset_support(heard[1], expected[1], spans_s, fps),
            _tempo_oddness(spans_s, quarters),
        ],
        axis=1,
    )
    loud = _bar_means(10.0 ** (level_db / 10.0), np.ones(len(level_db), np.bool_), spans_s, fps)
    return Evidence(figures, loud < 1e-6)


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


def _likeness(heard: F32, expected: F32, semitones: int, frames: int) -> F64:
    """Cosine of each frame with the expected one, transposed and moved in time."""
    if semitones:
        moved = np.zeros_like(expected)
        if semitones > 0:
            moved[:, semitones:] = expected[:, :-semitones]
        else:
            moved[:, :semitones] = expected[:, -semitones:]
        expected = moved
    if frames:
        heard = np.roll(heard, frames, axis=0)
    out: F64 = np.einsum("ij,ij->i", heard, expected).astype(np.float64)
    return out


def _bar_means(values: F64, use: NDArray[np.bool_], spans_s: F64, fps: int) -> F64:
    """Mean of the used frames of each bar; of all its frames if none is used."""
    out = np.full(len(spans_s), np.nan)
    for bar, (start, end) in enumerate(spans_s):
        if np.isfinite(start):
            first = min(max(0, round(start * fps)), len(values) - 1)
            last = max(first + 1, min(len(values), round(end * fps)))
            kept = values[first:last][use[first:last]]
            out[bar] = kept.mean() if kept.size else values[first:last].mean()
    return out


def _onset_support(heard: F32, expected: F32, spans_s: F64, fps: int) -> F64:
    starts = expected[:, -1] > 0.2
    here = _bar_means(_likeness(heard, expected, 0, 0), starts, spans_s, fps)
    decoys = np.array(
        [
            _bar_means(
                _likeness(heard, expected, 0, sign * round(s * fps)), starts, spans_s, fps
            )
            for s in _ONSET_DECOYS_S
            for sign in (-1, 1)
        ]
    )
    spread = np.maximum(decoys.std(axis=0), 0.02)
    out: F64 = (here - decoys.mean(axis=0)) / spread
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
