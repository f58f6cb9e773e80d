import numpy as np
import pytest

from auditor.hearing import confidence as room
from auditor.hearing.confidence import confidence, features
from auditor.hearing.measures import Evidence, Limits, Measures

LIMITS = Limits()


def measured(ratios, ownership=0.5):
    n = len(ratios)
    ratio = np.array(ratios, dtype=float)
    one = np.ones(n)
    return Measures(
        60 * one, one, ratio, ratio, ratio, 0 * one, 0 * one, np.full(n, -1),
        np.zeros((n, 2)), np.zeros((n, 5)), np.broadcast_to(ownership, n).astype(float),
    )  # fmt: skip


def nothing_known(n):
    unknown = np.full(n, np.nan)
    return Evidence(np.zeros(n), np.full(n, 10.0), unknown, unknown, unknown)


@pytest.fixture
def no_model(monkeypatch):
    monkeypatch.setattr(room, "_model", lambda: None)


@pytest.mark.usefixtures("no_model")
def test_doubt_is_greatest_at_the_limit():
    ratios = [0.001, 0.01, 0.03, 0.05, 0.08, 0.2, 0.9]
    sure = confidence(measured(ratios), LIMITS, nothing_known(7), "mix")
    assert sure.argmin() == 3
    assert sure[3] == pytest.approx(0.5)
    assert np.all(np.diff(sure[:4]) < 0)
    assert np.all(np.diff(sure[3:]) > 0)


@pytest.mark.usefixtures("no_model")
def test_more_ownership_more_confidence():
    figures = measured([0.1] * 5, ownership=np.linspace(0.1, 1, 5))
    assert np.all(np.diff(confidence(figures, LIMITS, nothing_known(5), "mix")) > 0)


def test_stems_are_sure_unless_near_the_limit():
    sure = confidence(measured([0.05, 0.08, 0.5]), LIMITS, nothing_known(3), "stems")
    assert sure[0] == pytest.approx(0.5)
    assert sure[1] > 0.99
    assert sure[2] > 0.999


def test_not_judged_has_no_confidence():
    for source in ("mix", "stems", "forecast"):
        assert confidence(measured([np.nan]), LIMITS, nothing_known(1), source)[0] == 0.0


def test_features_are_named_and_finite():
    names, values = features(measured([np.nan, 0.0, 1.0]), LIMITS, nothing_known(3))
    assert values.shape == (3, len(names))
    assert len(set(names)) == len(names)
    assert np.isfinite(values).all()


def test_a_fitted_model_is_the_logistic_of_its_columns(monkeypatch):
    model = {
        "notes": {
            "names": ["owned", "distance"],
            "mean": [0.5, 1.0],
            "scale": [0.5, 2.0],
            "coefficients": [1.0, 2.0],
            "intercept": 0.5,
        }
    }
    monkeypatch.setattr(room, "_model", lambda: model)
    ratio = 0.05 * np.e  # distance 1 from the limit in the logarithm
    sure = confidence(measured([ratio], 1.0), LIMITS, nothing_known(1), "mix", "lines")
    # By hand: 1 x (1 - 0.5) / 0.5 + 2 x 0 + 0.5 = 1.5.
    assert sure[0] == pytest.approx(1 / (1 + np.exp(-1.5)))
