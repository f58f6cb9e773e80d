"""A rendering beside the forecast: what it flatters, what it wrongs, where both agree."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from auditor.findings.finding import Finding
from auditor.findings.ranking import length_factor
from auditor.findings.wording import bars_named, listed, opening
from auditor.hearing.measures import Limits
from auditor.intent.roles import Intent
from auditor.judging.foretold import FORECAST_CAUTION, MOST_SURE, Forecast, chances
from auditor.judging.passages import Unit, carrying, units
from auditor.judging.saying import remark
from auditor.judging.scene import FloatArray, Scene, middle, scene
from auditor.score.notes import Score

Flags = NDArray[np.bool_]

# As sure as this of what the forecast says before it is set against the rendering.
SURE = 0.7
# The rendering's own states must be as sure as this.
SURE_HERE = 0.6
# A passage shorter than this, in quarters, is not worth a word of its own, and a bar between
# two such passages does not part them (our choice: two bars of four).
SHORTEST, GAP_BARS = 8.0, 1
# Remarks of each kind.
MOST = 6
# A flattered line will be missed at the reading: what a middling fault of that kind weighs.
_WEIGHT = 0.6


@dataclass(frozen=True, slots=True)
class Beside:
    """What forecast and rendering say together.

    Parameters
    ----------
    findings
        Kinds ``flattered`` and ``wronged``, heaviest first.
    agreement
        For each covered or faint finding of the rendering its id, whether the forecast
        ``agrees``, ``differs`` or ``cannot tell``, and its probability of covered.
    """

    findings: tuple[Finding, ...]
    agreement: tuple[tuple[str, str, float], ...]


@dataclass(frozen=True, slots=True)
class _Pair:
    """A unit as the rendering has it, and the forecast's figures in the same bars."""

    unit: Unit
    covered: FloatArray
    clear: FloatArray


def forecast_scene(score: Score, intent: Intent, forecast: Forecast, limits: Limits) -> Scene:
    """The forecast as judgement sees a case."""
    return scene(score, forecast.timeline, forecast.windows, intent, forecast.heard, limits)


def set_beside(s: Scene, forecast: Forecast, findings: tuple[Finding, ...]) -> Beside:
    """Set a rendering beside the forecast.

    Parameters
    ----------
    s
        The rendering as it was judged.
    forecast
        Made on the same timeline.
    findings
        Of the rendering.
    """
    pairs = _pairs(s, forecast)
    flattered = [f for pair in pairs for f in _flattered(s, pair)]
    wronged = [f for pair in pairs for f in _wronged(s, pair)]
    heaviest = [
        sorted(kind, key=lambda f: (-f.weight, f.first_bar))[:MOST]
        for kind in (flattered, wronged)
    ]
    told = sorted(heaviest[0] + heaviest[1], key=lambda f: (-f.weight, f.first_bar, f.lines))
    return Beside(tuple(told), tuple(_agreement(s, forecast, findings)))


def _pairs(s: Scene, forecast: Forecast) -> list[_Pair]:
    here = forecast_scene(s.score, s.intent, forecast, s.limits)
    other = {(u.strand, u.lines): u for u in units(here)}
    out = []
    for unit in units(s):
        twin = other.get((unit.strand, unit.lines))
        if twin is None:
            continue
        ratio = np.full(unit.bars.size, np.nan)
        at = {int(b): k for k, b in enumerate(twin.bars)}
        for k, bar in enumerate(unit.bars.tolist()):
            ratio[k] = twin.ratio[at[bar]] if bar in at else np.nan
        sd = np.array([_bar_spread(s, forecast, unit, int(b)) for b in unit.bars])
        chance = chances(ratio, sd, s.limits)
        out.append(_Pair(unit, chance[:, 0], chance[:, 2]))
    return out


def _bar_spread(s: Scene, forecast: Forecast, unit: Unit, bar: int) -> float:
    notes = s.notes(unit.lines, bar, bar)
    return middle(forecast.spread[notes], s.quarters[notes]) if notes.size else 1.0


def _sure_here(s: Scene, unit: Unit) -> Flags:
    sure = [
        float(np.mean(s.heard.note_confidence[n])) >= SURE_HERE
        if (n := s.notes(unit.lines, int(bar), int(bar))).size
        else False
        for bar in unit.bars
    ]
    return np.array(sure, dtype=bool)


def _runs(s: Scene, unit: Unit, where: Flags) -> list[tuple[int, int]]:
    """First and last bar of each run of true bars that is long enough, small gaps bridged."""
    bars = unit.bars[np.flatnonzero(where)]
    if not bars.size:
        return []
    parts = np.split(bars, np.flatnonzero(np.diff(bars) > 1 + GAP_BARS) + 1)
    spans = [(int(p[0]), int(p[-1])) for p in parts]
    return [(a, b) for a, b in spans if s.length(a, b) >= SHORTEST]


def _flattered(s: Scene, pair: _Pair) -> list[Finding]:
    unit = pair.unit
    where = (unit.ratio >= s.limits.clear) & (pair.covered >= SURE) & _sure_here(s, unit)
    return [_finding(s, pair, "flattered", *span) for span in _runs(s, unit, where)]


def _wronged(s: Scene, pair: _Pair) -> list[Finding]:
    unit = pair.unit
    where = (unit.ratio < s.limits.covered) & (pair.clear >= SURE) & _sure_here(s, unit)
    return [_finding(s, pair, "wronged", *span) for span in _runs(s, unit, where)]


def _finding(s: Scene, pair: _Pair, kind: str, first: int, last: int) -> Finding:
    unit = pair.unit
    lines = carrying(s, unit, first, last)
    inside = (unit.bars >= first) & (unit.bars <= last)
    reliance = float(unit.reliance[inside].mean())
    chance = float(np.nanmean((pair.covered if kind == "flattered" else pair.clear)[inside]))
    names = listed(s.names(lines))
    where = bars_named(s.score.bars, first, last)
    where = opening(where)
    likely = f"{_in_ten(chance)} by published instrument power"
    if kind == "flattered":
        sentence = (
            f"{where}: the mock-up flatters {names}: clear in the mix, but probably covered "
            f"in a hall ({likely}). Listen for it when the players read it."
        )
        cause = "the rendering gives it more level than players would have at these marks"
    else:
        sentence = (
            f"{where}: the mock-up wrongs {names}: covered in the mix, but probably clear in "
            f"a hall ({likely}). Mend the mix before the scoring."
        )
        cause = "the rendering gives it less level than players would have at these marks"
    found = remark(
        s, kind, lines, (first, last), own=len(lines),
        weight=_WEIGHT * reliance * length_factor(s.length(first, last)),
        sentence=sentence, why="rendering and forecast part here", cause=cause,
        state="clear" if kind == "flattered" else "covered",
    )  # fmt: skip
    return _uncertain(found, chance)


def _in_ten(chance: float) -> str:
    """No forecast is surer than nine in ten."""
    return "more than 9 in 10" if chance > 0.9 else f"about {round(10 * chance)} in 10"


def _uncertain(finding: Finding, chance: float) -> Finding:
    return replace(
        finding, confidence=min(finding.confidence, chance, MOST_SURE), caution=FORECAST_CAUTION
    )


def _agreement(
    s: Scene, forecast: Forecast, findings: tuple[Finding, ...]
) -> list[tuple[str, str, float]]:
    out = []
    for f in findings:
        if f.kind not in ("covered", "faint"):
            continue
        notes = s.notes(f.lines, f.first_bar, f.last_bar)
        chance = forecast.chance[notes]
        bad = middle(chance[:, 0] + (chance[:, 1] if f.kind == "faint" else 0.0),
                     s.quarters[notes])  # fmt: skip
        word = "agrees" if bad >= SURE else "differs" if bad <= 1 - SURE else "cannot tell"
        out.append((f.id, word if np.isfinite(bad) else "cannot tell", bad))
    return out
