"""Which lines are not rendered as written, as far as the mix tells: chances from trials.

Three logistic models whose coefficients and limits lie in ``models/rendering_faults.json``
(made by tests/bench/faults_bench.py) read the trials of a line. A line of which the mix
shows too little either way is ``unverified``, never a fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model_files import read_json
from auditor.spectra.explained import Decomposed, Explained, Floats, Ints, explained
from auditor.spectra.misplaced import of_lines
from auditor.spectra.stretches import doubtful
from auditor.spectra.timing import timings
from auditor.spectra.trials import BELOW_DB, OCTAVES, Trial, trials
from auditor.spectra.unwritten import Unwritten, unwritten

Bools = NDArray[np.bool_]

# Answers about a line.
ANSWERS: tuple[str, ...] = ("as written", "transposed", "otherwise", "missing", "unverified")
# Answers about some notes of a line: faults of a passage, or when its notes sound.
FAULTS: tuple[str, ...] = ("transposed", "otherwise", "missing")
MISPLACED: tuple[str, ...] = ("early", "late", "short")
# What one note can say for or against a reading, in units of the divergence; at a set level.
_MOST, _MOST_SET = 40.0, 10.0
# A line is missing only where the mix speaks against it at the expected level: below this,
# a note. Under noise or other lines the gain is near 0, and the line cannot be verified.
_AGAINST = -0.5
# Another reading must explain something by itself: beside a line that is not there, a short
# plucked note always fits better than a long bowed one.
_EXPLAINS, _LEAST = 3.0, -5.0
# A line of fewer tried notes is not accused.
LEAST_NOTES = 4
# So many notes must speak for a fault, in so many places that start so many seconds apart:
# one long note that was fitted badly, or placed wrongly, is no missing line.
_NOTES, _PLACES, _APART_S = 5, 3, 2.0
# Levels and players leave so much open: a note counts against a line that would be out of
# place even 6 dB softer than expected. Most of the tried notes must.
_SOFTER, _MOSTLY = BELOW_DB.index(6.0), 0.5
# In a note this short, plucked and bowed are alike; so many longer ones must tell them apart.
_TELLING_S, _TELLING = 0.2, 4
# How notes go on that others hold as well, or an octave higher, is theirs to show: where most
# of a line are so, another way of playing must lie this far beyond the limit. Of 128 such lines
# as written in held-out mixes one lies beyond 2.7 and the next at 0.6; of 20 played the other
# way 15 lie beyond it, and no more beyond 1.7.
_MOSTLY_ALONG, _ALONG_MORE = 0.5, 1.0
# So many foreign notes must be held before anything is said of them.
_FOREIGN = 2
# This excess is enough where it is densest: in two movements the eight seconds with most had
# 0.05 and 0.04 elsewhere, and 0.76 and 0.80 where a layer was added (docs/evaluation.md).
_DENSE = 0.2
# There are many passages to a line: each must lie this far beyond the limit of a line; a
# passage that seems missing further, for the many ways in which one may be covered.
_PASSAGE, _MISSING = 0.5, 3.0
# An octave switch may be thrown for some bars; any other interval is a key of the whole track.
_ODD = 2.0
# Evidence of misplaced notes at which it is half sure: a third of what is said (our choice).
_HALF = 10.0


@dataclass(frozen=True, slots=True)
class Suspicion:
    """What the mix says about one line.

    Parameters
    ----------
    line
        Its row.
    answer
        One of `ANSWERS`, or of `MISPLACED`.
    interval
        Semitones by which it sounds off, 0 if it is not transposed.
    chance
        0 to 1: how likely the answer is, fault and no fault being alike beforehand.
    notes : ndarray of int, shape (notes,)
        Positions in the played notes on which it rests.
    seconds
        How much later its notes sound, earlier below 0.
    kept
        Share of their length for which they sound.
    """

    line: int
    answer: str
    interval: int
    chance: float
    notes: Ints
    seconds: float = 0.0
    kept: float = 1.0


@dataclass(frozen=True, slots=True)
class Suspicions:
    """What the mix says about every line that has notes, and about sound nobody wrote.

    Parameters
    ----------
    lines
        One for each line with notes.
    unwritten
        What no line explains.
    unwritten_chance
        0 to 1: how likely that is sound nobody wrote.
    foreign
        Whether it is to be said.
    passages
        Faults of some notes of a line that is not faulty as a whole.
    """

    lines: tuple[Suspicion, ...]
    unwritten: Unwritten
    unwritten_chance: float
    foreign: bool
    passages: tuple[Suspicion, ...] = ()


def suspicions(found: Decomposed, beyond: float = 0.0) -> Suspicions:
    """Try every line in other readings, and its passages; look for foreign sound.

    A fault is said where its logit lies this far `beyond` the limit.
    """
    mix = explained(found)
    lines = tuple(judged(trial, beyond) for trial in trials(found, mix))
    faulty = {s.line for s in lines if s.answer in FAULTS}
    passages = tuple(
        s
        for s in (*_of_passages(found, mix, beyond), *_misplaced(found, mix))
        if s.line not in faulty
    )
    moved = {s.line: s.interval for s in (*passages, *lines) if s.answer == "transposed"}
    rest = unwritten(found, mix, moved)
    z = score("unwritten", unwritten_features(rest))
    throughout = z > _limits("unwritten")["said"]
    foreign = (throughout or rest.densest > _DENSE) and rest.held >= _FOREIGN
    if foreign and not throughout:
        z = score("unwritten", {"excess": float(np.log(rest.densest + 1e-3))})
    return Suspicions(lines, rest, _chance(z), foreign, passages)


def _of_passages(found: Decomposed, mix: Explained, beyond: float) -> list[Suspicion]:
    """Faults of passages; neighbours that answer alike are one."""
    out: list[Suspicion] = []
    before = -1
    for place, trial in doubtful(found, mix):
        features = line_features(trial)
        answer, chance = answered(features, trial.notes.size, _PASSAGE + beyond)
        if answer == "missing":
            answer, chance = answered(features, trial.notes.size, _MISSING + beyond)
        if answer == "transposed" and best_interval(trial) not in OCTAVES:
            answer, chance = answered(features, trial.notes.size, _ODD + beyond)
        if answer not in FAULTS:
            continue
        interval = best_interval(trial) if answer == "transposed" else 0
        new = Suspicion(trial.line, answer, interval, chance, trial.notes)
        last = out[-1] if out else None
        same = last and (last.line, last.answer, last.interval) == (
            trial.line,
            answer,
            interval,
        )
        if last and same and place == before + 1:
            notes = np.concatenate([last.notes, new.notes])
            out[-1] = replace(last, notes=notes, chance=max(last.chance, chance))
        else:
            out.append(new)
        before = place
    return out


def _misplaced(found: Decomposed, mix: Explained) -> list[Suspicion]:
    out = []
    for run in of_lines(timings(found, mix)):
        word = "short" if run.kept < 1.0 else "late" if run.seconds > 0 else "early"
        sure = run.strength / (run.strength + _HALF)
        out.append(Suspicion(run.line, word, 0, sure, run.notes, run.seconds, run.kept))
    return out


def judged(trial: Trial, beyond: float = 0.0) -> Suspicion:
    """Answer for one line."""
    answer, chance = answered(line_features(trial), trial.notes.size, beyond)
    interval = best_interval(trial) if answer == "transposed" else 0
    return Suspicion(trial.line, answer, interval, chance, trial.notes)


def answered(
    features: Mapping[str, Mapping[str, float]], notes: int, beyond: float = 0.0
) -> tuple[str, float]:
    """Answer and its chance, from the features of a line of so many notes.

    A fault is said where its logit lies this far `beyond` the limit.

    A wrong pitch or way of playing comes before a missing line: they say where the sound is.
    Without ``support`` among the features, every fault is taken to have it.
    """
    few = notes < LEAST_NOTES
    support = features.get("support", dict.fromkeys(features, 1.0))
    along = features.get("along", {}).get("share", 0.0) >= _MOSTLY_ALONG
    more = {"transposed": beyond, "otherwise": beyond + _ALONG_MORE * along}
    for kind in ("transposed", "otherwise"):
        if few or kind not in features or not support[kind]:
            continue
        z = score(kind, features[kind])
        if z > _limits(kind)["said"] + more[kind] and _explains(features[kind]) > _EXPLAINS:
            return kind, _chance(z)
    z = score("missing", features["missing"])
    limits = _limits("missing")
    if z > limits["said"] + beyond and features["missing"]["below_0"] < _AGAINST and not few:
        return ("missing", _chance(z)) if support["missing"] else ("unverified", _chance(-z))
    return ("as written" if z < limits["there"] else "unverified"), 1.0 - _chance(z)


def line_support(trial: Trial) -> dict[str, float]:
    """Whether enough notes in enough places speak for each fault, 1 or 0."""
    there = np.maximum(trial.written, 0.0)
    against = trial.softer[_SOFTER] < _AGAINST
    out = {"missing": float(_repeated(trial, against) and against.mean() >= _MOSTLY)}
    if trial.moved:
        votes = trial.moved[best_interval(trial)] > there
        out["transposed"] = float(_places(trial.onset_s[votes]) > 1)
    if trial.otherwise is not None:
        told = trial.offset_s - trial.onset_s >= _TELLING_S
        votes = trial.otherwise > np.maximum(trial.written, _LEAST)
        out["otherwise"] = float(
            np.sum(told & votes) >= _TELLING and 2 * np.sum(told & votes) > np.sum(told)
        )
    return out


def _repeated(trial: Trial, notes: Bools) -> bool:
    return bool(notes.sum() >= _NOTES) and _places(trial.onset_s[notes]) >= _PLACES


def _places(onset_s: Floats) -> int:
    """Count moments that start so far apart that they are places of their own."""
    count, last = 0, -np.inf
    for at in np.sort(onset_s):
        if at - last >= _APART_S:
            count, last = count + 1, at
    return count


def _explains(features: Mapping[str, float]) -> float:
    """What another reading gains by itself, a note: what it gains more, and as written."""
    return features["more"] + max(features["written"], _LEAST)


def best_interval(trial: Trial) -> int:
    """Interval at which the line explains most beyond what it explains as written."""
    return max(trial.moved, key=lambda i: _mean(trial.moved[i] - np.maximum(trial.written, 0)))


def _mean(gain: Floats, most: float = _MOST) -> float:
    return float(np.mean(np.clip(gain, -most, most)))


def line_features(trial: Trial) -> dict[str, dict[str, float]]:
    """Lay out what each model sees of a line, by the model's name, and what supports it."""
    plain, own = trial.written, trial.coloured
    there = np.maximum(plain, 0.0)
    written = {"written": _mean(plain)}
    set_levels = {
        f"below_{below:.0f}": _mean(gain, _MOST_SET)
        for below, gain in zip(BELOW_DB, trial.softer, strict=True)
    }
    missing = {"level": trial.level_db, **written, "coloured": _mean(own), **set_levels}
    along = {"share": trial.along}
    out = {"missing": missing, "support": line_support(trial), "along": along}
    if trial.moved:
        best = trial.moved[best_interval(trial)]
        out["transposed"] = {
            "more": _mean(best - there),
            "more_than_coloured": _mean(best - np.maximum(own, 0.0)),
            "votes": float(np.mean(best > there)),
            "moved": _mean(best),
            **written,
        }
    if trial.otherwise is not None:
        other = trial.otherwise
        out["otherwise"] = {
            "more": _mean(other - np.maximum(plain, _LEAST)),
            "more_than_coloured": _mean(other - own),
            "votes": float(np.mean(other > plain)),
            **written,
        }
    return out


def unwritten_features(rest: Unwritten) -> dict[str, float]:
    """Lay out what the model sees of unexplained sound."""
    return {"excess": float(np.log(rest.excess + 1e-3))}


@lru_cache(maxsize=1)
def _models() -> dict[str, Any]:
    models: dict[str, Any] = read_json("rendering_faults.json")
    return models


def _limits(kind: str) -> dict[str, float]:
    limits: dict[str, float] = _models()[kind]["limits"]
    return limits


def score(kind: str, features: Mapping[str, float]) -> float:
    """Logit of a fault, from the fitted coefficients."""
    model = _models()[kind]
    values = np.array([features[name] for name in model["names"]])
    scaled = (values - np.array(model["mean"])) / np.array(model["scale"])
    return float(scaled @ np.array(model["coefficients"]) + model["intercept"])


def _chance(z: float) -> float:
    return float(1.0 / (1.0 + np.exp(-np.clip(z, -30.0, 30.0))))
