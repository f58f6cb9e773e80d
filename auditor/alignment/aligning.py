"""From a score and a sound to the timeline between them, coarse to fine.

The coarse pass (chroma) finds which bars are played; three warpings (pitch bins and
onsets at 10, 50 and 100 frames a second) place the notes; every bar is then compared
with decoys, and a sound that is not this score is refused.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass

import numpy as np
import scipy.ndimage
from numpy.typing import NDArray

from auditor.alignment import confidence, gate
from auditor.alignment.expected import Events, events
from auditor.alignment.levels import expected_rows, heard_rows, place
from auditor.alignment.order import find_order, find_transposition
from auditor.alignment.performed import laid_out, performed, runs_of, stretches_of
from auditor.alignment.surprises import surprises
from auditor.alignment.timeline import BarTime, Stretch, Timeline
from auditor.alignment.visits import Order, Spans
from auditor.errors import AlignmentError
from auditor.score.notes import Score
from auditor.sound.features import CHROMA_FPS, Features, listen, moved
from auditor.sound.reading import Sound

_log = logging.getLogger(__name__)

_EVIDENCE_FPS = 50
# Nearer than this to the middle between two semitones, either may be meant.
_FAR_OFF = 0.3

# Visits in a row whose middle confidence is below this, for so long, are foreign music.
_NOT_HEARD, _SMOOTHED, _LEAST_FOREIGN_S = 0.25, 5, 8.0
# More than this is no foreign music in the right sound, but the wrong sound.
_MOST_FOREIGN, _ROUNDS = 0.6, 2

F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Tracing:
    """An alignment before anyone has asked whether it makes sense.

    Parameters
    ----------
    stretches
        As in the timeline.
    order
        What the coarse pass found.
    spans_s : ndarray, shape (bars, 2)
        Start and end of each bar of the played axis; NaN if not played.
    evidence
        What speaks for each bar.
    visit_spans_s, visit_confidence : ndarray, shapes (visits, 2) and (visits,)
        The same for every visit to a bar, in the order they sound.
    """

    stretches: tuple[Stretch, ...]
    order: Order
    spans_s: F64
    evidence: confidence.Evidence
    visit_spans_s: F64
    visit_confidence: F64


def align(score: Score, sound: Sound) -> Timeline:
    """Find when the notes of a score sound.

    Onsets are where a player would say the note starts: times of a synthesiser's
    note-on, as far as the attack can be heard.

    Parameters
    ----------
    score, sound
        As read.

    Raises
    ------
    AlignmentError
        If the score has no pitched notes, or the sound does not follow it.
    """
    return timeline_of(score, listen(sound.samples))


def timeline_of(score: Score, features: Features) -> Timeline:
    """Find when the notes of a score sound, from features of the sound."""
    features = _in_tune(score, features)
    tracing = trace(score, features)
    figures = gate.figures(
        tracing.order,
        tracing.evidence,
        tracing.visit_spans_s,
        tracing.visit_confidence,
        features.tuning,
    )
    _log.info("alignment: %s", figures)
    if not gate.is_right(figures):
        raise AlignmentError(gate.refusal(score, features, figures))
    return Timeline(
        stretches=tracing.stretches,
        bars=_bars(score, tracing),
        order=tracing.order.bars,
        surprises=surprises(score, tracing.order),
        fit=tuple(figures.items()),
    )


def _in_tune(score: Score, features: Features) -> Features:
    """Take a sound far out of tune for what it is, not for a transposed one."""
    if abs(features.tuning) < _FAR_OFF:
        return features
    by, _, gain = find_transposition(score, events(score), features)
    if gain > gate.CLEAR_GAIN and abs(by) == 1 and by * features.tuning < 0:
        return moved(features, by)
    return features


def trace(score: Score, features: Features) -> Tracing:
    """Align without judging the result."""
    notes = events(score)
    if not (notes.pitch >= 0).any():
        raise AlignmentError(
            "the score has no pitched notes, so the sound cannot be aligned with it; "
            "add the pitched parts, or see what the page alone promises with auditor forecast"
        )
    found = _traced(score, notes, features, ())
    foreign: Spans = ()
    for _ in range(_ROUNDS):
        more = _foreign(found)
        if not more:
            break
        foreign = (*foreign, *more)
        if sum(b - a for a, b in foreign) > _MOST_FOREIGN * features.duration_s:
            break
        again = _traced(score, notes, features, foreign)
        if _worth(again) < _worth(found) - 0.5:
            break
        found = again
    return found


def _traced(score: Score, notes: Events, features: Features, foreign: Spans) -> Tracing:
    order = find_order(score, notes, features, foreign)
    if not order.visits:
        raise AlignmentError(gate.refusal(score, features, None))
    runs, quarters, seconds = runs_of(score, order)
    sounding = performed(notes, runs)
    axis = np.unique(np.concatenate([quarters, sounding.onset]))
    placed = place(features, sounding, axis, np.interp(axis, quarters, seconds))
    stretches = stretches_of(runs, axis, placed)
    return Tracing(
        stretches, order, spans_of(score, stretches), *_evidence(score, features, stretches)
    )


def _worth(tracing: Tracing) -> float:
    """Bars that can be believed."""
    return float(confidence.probabilities(tracing.evidence.figures).sum())


def _foreign(tracing: Tracing) -> Spans:
    """Stretches, seconds, in which bar after bar is not what sounds."""
    p = scipy.ndimage.median_filter(tracing.visit_confidence, _SMOOTHED, mode="nearest")
    out: list[tuple[float, float]] = []
    for visit, low in zip(tracing.visit_spans_s, p < _NOT_HEARD, strict=True):
        if low and out and visit[0] - out[-1][1] < 1.0:
            out[-1] = out[-1][0], float(visit[1])
        elif low:
            out.append((float(visit[0]), float(visit[1])))
    return tuple(span for span in out if span[1] - span[0] >= _LEAST_FOREIGN_S)


def spans_of(score: Score, stretches: tuple[Stretch, ...]) -> F64:
    """Find when each bar first sounds, from barline to barline in one stretch."""
    out = np.full((len(score.bars), 2), np.nan)
    for bar in score.bars:
        for run in stretches:
            end = bar.onset + bar.duration
            if run.quarters[0] - 1e-6 <= bar.onset and end <= run.quarters[-1] + 1e-6:
                out[bar.index] = np.interp([bar.onset, end], run.quarters, run.seconds)
                break
    return out


def evidence_of(
    score: Score, features: Features, stretches: tuple[Stretch, ...]
) -> confidence.Evidence:
    """Compare every bar, as placed, with the sound and with decoys."""
    return _evidence(score, features, stretches)[0]


def _evidence(
    score: Score, features: Features, stretches: tuple[Stretch, ...]
) -> tuple[confidence.Evidence, F64, F64]:
    """Evidence for each bar; spans of all visits to bars, and the confidence in each."""
    runs, axis, seconds = laid_out(stretches)
    heard = heard_rows(features, _EVIDENCE_FPS)
    notes = performed(events(score), runs)
    expected = expected_rows(notes, axis, seconds, heard.frames, _EVIDENCE_FPS)
    level = np.repeat(features.level_db, _EVIDENCE_FPS // CHROMA_FPS)[: heard.frames]
    quarters = np.array([b.duration for b in score.bars])
    curves = confidence.curves(heard, expected)
    bars = confidence.gather(curves, level, spans_of(score, stretches), quarters)
    visited, spans = _visits(score, stretches)
    visits = confidence.gather(curves, level, spans, quarters[visited])
    return bars, spans, confidence.probabilities(visits.figures)


def _visits(score: Score, stretches: tuple[Stretch, ...]) -> tuple[NDArray[np.int64], F64]:
    """Bars in the order they sound, each as often as it does, and their spans."""
    bars, spans = [], []
    for run in stretches:
        for bar in score.bars:
            end = bar.onset + bar.duration
            if run.quarters[0] - 1e-6 <= bar.onset and end <= run.quarters[-1] + 1e-6:
                bars.append(bar.index)
                spans.append(np.interp([bar.onset, end], run.quarters, run.seconds))
    return np.array(bars, dtype=np.int64), np.array(spans).reshape(-1, 2)


def _bars(score: Score, tracing: Tracing) -> tuple[BarTime, ...]:
    evidence = tracing.evidence
    p = _over_rests(score, confidence.probabilities(evidence.figures), tracing.spans_s)
    return tuple(
        BarTime(
            bar.index,
            float(tracing.spans_s[bar.index, 0]),
            float(tracing.spans_s[bar.index, 1]),
            float(p[bar.index]),
            confidence.reason(
                evidence.figures[bar.index],
                float(p[bar.index]),
                silent=bool(evidence.silent[bar.index]),
            ),
        )
        for bar in score.bars
    )


def _over_rests(score: Score, probability: F64, spans: F64) -> F64:
    """Give bars in which nothing starts the lower confidence of the bars around."""
    out = probability.copy()
    full = np.zeros(len(score.bars), np.bool_)
    full[[n.bar for n in score.notes if not n.grace]] = True
    played = np.flatnonzero(full & np.isfinite(spans[:, 0]))
    for bar in np.flatnonzero(~full & np.isfinite(spans[:, 0])):
        at = np.searchsorted(played, bar)
        near = played[max(0, at - 1) : at + 1]
        out[bar] = probability[near].min() if near.size else 0.0
    return out
