"""The forecast of a score as an audit: no sound, the same hearing, the same findings."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection
from pathlib import Path

import numpy as np

from auditor.alignment.written import written_timeline
from auditor.auditing import Audit, Sounding
from auditor.craft.checking import remarks_on
from auditor.craft.limits import CraftLimits, limits_beside, read_limits
from auditor.hearing.measures import Limits
from auditor.intent.brief import read_brief
from auditor.intent.reliance import read_intent
from auditor.judging.foretold import FORECAST_CAUTION, foretell
from auditor.score.notes import Score
from auditor.score.string_bodies import READ_WITH, with_body
from auditor.spectra.forecast import ROOM_GAIN_DB

CAUTIONS = (
    FORECAST_CAUTION,
    "The limits between clear, faint and covered are those of a model of hearing, not of a "
    "listening test; numbers near a limit can fall either way.",
)


def forecast_of(
    path: Path,
    score: Score,
    *,
    brief: Path | None = None,
    body: str = READ_WITH,
    settled: Collection[int] = (),
    room_gain_db: float = ROOM_GAIN_DB,
    limits: Limits | None = None,
    told: Callable[[str], None] = lambda _: None,
) -> Audit:
    """Forecast what a hall would hear of a score.

    Parameters
    ----------
    path
        The score's file, for its name, its digest and what lies beside it.
    score
        As read from it.
    brief
        What the composer declares must be heard, or None.
    body
        Strings: ``full``, ``medium`` or ``small``.
    settled
        Numbers of parts whose players the user has given.
    room_gain_db
        Strength G of the hall.
    limits
        Where the states part.
    told
        Called with the name of each stage as it begins.

    Returns
    -------
    Audit
        With `source` ``forecast`` and no samples; its times are those of the tempo marks.

    Raises
    ------
    InputError
        If a setting is out of bounds or the brief cannot be used.
    """
    limits = limits or Limits()
    seated = with_body(score, body, settled)
    told("reading what must be heard")
    intent = read_intent(seated, None if brief is None else read_brief(brief, seated))
    told("forecasting")
    timeline = written_timeline(seated)
    forecast = foretell(seated, intent, timeline, limits, room_gain_db=room_gain_db)
    thresholds = limits_beside(path)
    duration = max((b.end_s for b in timeline.bars), default=0.0)
    return Audit(
        score=seated,
        sounding=Sounding(
            name=f"forecast of {path.name}",
            duration_s=float(duration),
            rate_hz=0,
            channels=0,
            loudness_lufs=float("nan"),
            playback_db=float("nan"),
            remarks=forecast.remarks,
        ),
        timeline=timeline,
        windows=forecast.windows,
        intent=intent,
        heard=forecast.heard,
        limits=limits,
        findings=forecast.findings,
        cautions=CAUTIONS,
        samples=np.zeros(0, np.float32),
        hashes=tuple(
            (p.name, hashlib.sha256(p.read_bytes()).hexdigest())
            for p in (path, brief)
            if p is not None
        ),
        source="forecast",
        spectra=forecast.spectra,
        craft=remarks_on(
            seated, CraftLimits() if thresholds is None else read_limits(thresholds)
        ),
    )
