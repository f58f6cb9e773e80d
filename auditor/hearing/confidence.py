"""How sure the verdict heard against covered is, from how it came about.

A logistic model whose coefficients lie in ``models/hearing_confidence.json``; without that
file a monotone rule stands in: doubt is greatest at the limit and shrinks with the
distance from it, the faster the more of the sound the line owned.
"""

from __future__ import annotations

import logging
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.measures import Evidence, Limits, Measures
from auditor.model_files import read_json

_log = logging.getLogger(__name__)

Floats = NDArray[np.float64]

# Without a fitted model: doubt at the limit is one half and falls by exp(-rate x distance);
# the rate is this plus this times ownership. Level errors of 3 dB at low and 0.5 dB at high
# ownership were measured on made mixes; a decibel is about 0.3 in the logarithm of the ratio.
_RATE = (0.5, 2.5)
# True stems leave only the model's own limit in doubt: a tenth of the ratio.
_STEMS_RATE = 10.0
# Keeps the logarithm of a ratio near 0 finite.
_SMALLEST_RATIO = 1e-3
# Where a column holds values a sound can have: attacks and centroids beyond are mistakes of
# the separation, and no worse for being larger.
_LATEST_S = 0.5
_OCTAVES = (-2.0, 5.0)


def _log_distance(measures: Measures, limits: Limits) -> Floats:
    ratio = np.maximum(np.nan_to_num(measures.distinct_ratio), _SMALLEST_RATIO)
    distance: Floats = np.log(ratio / limits.covered)
    return distance


def features(
    measures: Measures, limits: Limits, evidence: Evidence
) -> tuple[tuple[str, ...], Floats]:
    """Lay out what the model sees of each thing judged.

    Returns
    -------
    names : tuple of str
        Name of each column.
    values : ndarray, shape (n, columns)
        Finite throughout; things not judged get the values of silence.
    """
    side = _log_distance(measures, limits)
    ratio = np.maximum(np.nan_to_num(measures.distinct_ratio), _SMALLEST_RATIO)
    colour = np.log(np.maximum(np.nan_to_num(measures.loudness_ratio), ratio) / ratio)
    owned = np.nan_to_num(measures.ownership)
    columns = {
        "distance": np.minimum(np.abs(side), 4.0),
        "side": side,
        "owned": owned,
        "distance_owned": np.minimum(np.abs(side), 4.0) * owned,
        "fused": np.minimum(np.nan_to_num(evidence.fused), 4.0),
        "under_mix": np.clip(np.nan_to_num(evidence.under_mix_db, nan=60.0), 0.0, 60.0) / 10.0,
        "margin": np.clip(np.nan_to_num(measures.margin_db, nan=-20.0), -20.0, 40.0) / 10.0,
        "colour": np.minimum(colour, 3.0),
        "salience": np.nan_to_num(evidence.salience, nan=0.5),
        "brightness": np.clip(np.nan_to_num(evidence.brightness), *_OCTAVES),
        "attack": np.minimum(np.nan_to_num(evidence.attack_s), _LATEST_S),
    }
    return tuple(columns), np.stack(list(columns.values()), axis=-1)


@lru_cache(maxsize=1)
def _model() -> dict[str, Any] | None:
    try:
        model: dict[str, Any] = read_json("hearing_confidence.json")
    except FileNotFoundError:
        _log.info("no fitted confidence model; distance to the limit stands in")
        return None
    return model


def _fitted(model: dict[str, Any], names: tuple[str, ...], values: Floats) -> Floats:
    chosen = values[:, [names.index(name) for name in model["names"]]]
    scaled = (chosen - np.array(model["mean"])) / np.array(model["scale"])
    logit = scaled @ np.array(model["coefficients"]) + float(model["intercept"])
    probability: Floats = 1.0 / (1.0 + np.exp(-np.clip(logit, -30.0, 30.0)))
    return probability


def confidence(
    measures: Measures, limits: Limits, evidence: Evidence, source: str, kind: str = "notes"
) -> Floats:
    """Probability that heard (clear or faint) against covered is right.

    Parameters
    ----------
    measures, limits, evidence
        What was measured, where the states part, what else is known.
    source
        ``mix``, ``stems`` or ``forecast``.
    kind
        ``notes``, ``lines`` or ``groups``; a model file may hold one model for each, and
        that of the notes serves where one is missing.

    Returns
    -------
    ndarray, shape (n,)
        0 where nothing was judged.
    """
    distance = np.abs(_log_distance(measures, limits))
    model = _model() if source == "mix" else None
    if source == "stems":
        value = 1.0 - 0.5 * np.exp(-_STEMS_RATE * distance)
    elif model is None:
        rate = _RATE[0] + _RATE[1] * np.nan_to_num(measures.ownership)
        value = 1.0 - 0.5 * np.exp(-rate * distance)
    else:
        value = _fitted(model.get(kind, model["notes"]), *features(measures, limits, evidence))
    return np.where(np.isfinite(measures.distinct_ratio), value, 0.0)
