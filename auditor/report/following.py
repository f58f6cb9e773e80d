"""How well the sound follows the score: a sentence, a picture and its figures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.auditing import Audit
from auditor.report.picture import SHAKY
from auditor.report.places import bars_in_words, listed, runs
from auditor.report.weight import BarWeight
from auditor.units import clock

SURE = 0.7
_NAMED = 6


@dataclass(frozen=True, slots=True)
class BarView:
    """One bar of the picture of confidence.

    Parameters
    ----------
    index, number
        Place on the played axis, and number as printed.
    time
        When it starts, as on a clock.
    confidence
        0 to 1; 0 for a bar that was not played.
    words
        Why it is uncertain, empty if it is not.
    weight
        How loud the mix is there, and in which registers.
    """

    index: int
    number: str
    pass_number: int
    time: str
    confidence: float
    words: str
    weight: BarWeight


@dataclass(frozen=True, slots=True)
class Following:
    """What the page says of the alignment."""

    sentence: str
    details: tuple[str, ...]
    bars: tuple[BarView, ...]


def _played(audit: Audit, bar: int) -> bool:
    return math.isfinite(audit.timeline.bars[bar].start_s)


def _named(audit: Audit, bars: list[int]) -> str:
    spans = [bars_in_words(audit.score, a, b) for a, b in runs(bars)]
    if len(spans) > _NAMED:
        spans = [*spans[:_NAMED], f"{len(spans) - _NAMED} more places"]
    return listed(spans)


def _sentence(sure: int, played: int) -> str:
    if played == 0:
        return "The sound could not be matched to the score."
    share = sure / played
    how = (
        "follows the score closely" if share >= 0.95
        else "follows the score well" if share >= 0.8
        else "follows the score only in part" if share >= 0.4
        else "hardly follows the score"
    )  # fmt: skip
    which = "every bar" if sure == played else f"{sure} of {played} bars"
    verb = "is" if sure in (1, played) else "are"
    return f"The sound {how}: {which} {verb} placed with good confidence."


def following(audit: Audit, weights: Sequence[BarWeight]) -> Following:
    """Say and show how well the sound follows the score."""
    indices = range(len(audit.timeline.bars))
    confidence = [float(b.confidence) for b in audit.timeline.bars]
    played = [i for i in indices if _played(audit, i)]
    sure = sum(confidence[i] >= SURE for i in played)
    shaky = [i for i in played if confidence[i] < SHAKY]
    missing = [i for i in indices if not _played(audit, i)]
    details = []
    if shaky:
        details.append(
            f"Take what is said of {_named(audit, shaky)} with care{_why(audit, shaky)}."
        )
    if missing:
        details.append(f"Not in the sound, and not judged: {_named(audit, missing)}.")
    details += audit.timeline.surprises
    return Following(_sentence(sure, len(played)), tuple(details), _bars(audit, weights))


def _why(audit: Audit, bars: list[int]) -> str:
    reasons = list(dict.fromkeys(r for i in bars if (r := audit.timeline.bars[i].reason)))
    return f" ({'; '.join(reasons[:3])})" if reasons else ""


def _bars(audit: Audit, weights: Sequence[BarWeight]) -> tuple[BarView, ...]:
    views = []
    for time, weight in zip(audit.timeline.bars, weights, strict=True):
        bar = audit.score.bars[time.bar]
        played = math.isfinite(time.start_s)
        words = time.reason or ("" if played else "not played")
        confidence = float(time.confidence) if played else 0.0
        views.append(
            BarView(
                time.bar,
                bar.number,
                bar.pass_number,
                clock(time.start_s),
                confidence if math.isfinite(confidence) else 0.0,
                words,
                weight,
            )
        )
    return tuple(views)
