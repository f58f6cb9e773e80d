"""Whether the sound is this score at all, and what to say if it is not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.confidence import Evidence
from auditor.alignment.expected import events
from auditor.alignment.order import find_transposition
from auditor.alignment.visits import Order
from auditor.score.notes import Score
from auditor.sound.features import Features

# Least sum of three signs that the sound is this score: margins over decoys, contrast of
# places, and half the mean confidence. On made performances of a minute and less, down to
# four bars, wet and detuned ones among them, 43 right scores had 0.97 and more, 32 wrong ones
# 0.69 at most (madrigals by one composer); each sign alone overlapped or nearly so. Recorded
# strings met later had 0.72.
_LEAST_SIGNS = 0.71
_LEAST_EXPLAINED = 0.3
# A transposed score fits better by this much of the coarse cost, and as right ones do
# (0.09 to 0.21), or it is another piece.
CLEAR_GAIN, _RIGHT_COST = 0.08, 0.22

F64 = NDArray[np.float64]


def figures(
    order: Order, evidence: Evidence, visit_spans_s: F64, visit_confidence: F64, tuning: float
) -> dict[str, float]:
    """Figures of the whole file, by name, dimensionless but for the tuning.

    Parameters
    ----------
    order, evidence
        What was found, and what speaks for each bar of the played axis.
    visit_spans_s, visit_confidence : ndarray, shapes (visits, 2) and (visits,)
        Seconds of each visit to a bar, and how far it can be trusted.
    tuning
        Of the sound, semitones.
    """
    bars = evidence.figures
    played = np.isfinite(bars[:, 0])
    middle = np.nanmedian(bars[played], axis=0) if played.any() else np.zeros(5)
    seconds = np.diff(visit_spans_s, axis=1)[:, 0]
    total = float(seconds.sum())
    return {
        "fit": float(middle[0]),
        "pitch_margin": float(middle[1]),
        "time_margin": float(middle[2]),
        "contrast": order.contrast,
        "mean_confidence": float(visit_confidence @ seconds) / total if total > 0 else 0.0,
        "coarse_cost": order.cost,
        "explained_share": order.explained,
        "played_share": float(played.mean()),
        "tuning_semitones": tuning,
    }


def is_right(figures: dict[str, float]) -> bool:
    """Whether anything may be said of the sound with this score beside it."""
    margins = figures["pitch_margin"] + figures["time_margin"]
    signs = margins + figures["contrast"] + 0.5 * figures["mean_confidence"]
    return signs >= _LEAST_SIGNS and figures["explained_share"] >= _LEAST_EXPLAINED


def refusal(score: Score, features: Features, figures: dict[str, float] | None) -> str:
    """Say why the sound is not this score, and what to do; None: no bar was found."""
    by, cost, gain = find_transposition(score, events(score), features)
    if by and gain > CLEAR_GAIN and cost < _RIGHT_COST:
        return (
            f"the sound lies {abs(by)} semitone{'s' if abs(by) > 1 else ''} "
            f"{'higher' if by > 0 else 'lower'} than the score; check transposing parts, "
            f"or transpose one of them"
        )
    check = "check that the sound and the score are the same piece and movement"
    if figures is None:
        return f"no bar of the score was found in the sound; {check}"
    if figures["explained_share"] < _LEAST_EXPLAINED:
        found = 100 * figures["explained_share"]
        return f"only {found:.0f} % of the sound could be found in the score; {check}"
    return (
        f"the notes heard are not the notes written (likeness {figures['fit']:.2f}, only "
        f"{figures['pitch_margin']:.2f} above the same score transposed); {check}"
    )
