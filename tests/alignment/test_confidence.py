import numpy as np
import pytest

from auditor.alignment import confidence
from auditor.alignment.levels import Rows
from auditor.model_files import read_json

# A well placed bar, in the order of confidence.NAMES.
GOOD = np.array([0.7, 0.4, 0.12, 6.0, 0.05])


def test_model_says_how_it_was_made():
    data = read_json(confidence.MODEL)
    assert "alignment_fit.py" in data["how"]
    assert data["held_out"]["bars"] > 1000
    for part in ("mean", "scale", "weight"):
        assert set(data[part]) == set(confidence.NAMES)


def test_good_bars_are_sure_and_bad_ones_are_not():
    bad = np.array([0.2, -0.1, -0.05, 0.0, 0.8])
    good_p, bad_p = confidence.probabilities(np.stack([GOOD, bad]))
    assert good_p > 0.9
    assert bad_p < 0.1


# More likeness, more margin, more onsets where expected: never less sure. Odder tempo: never
# surer. A law the fitted signs must keep, whatever the data.
@pytest.mark.parametrize(("column", "sign"), [(0, 1), (1, 1), (3, 1), (4, -1)])
def test_better_evidence_never_lowers_confidence(column, sign):
    rows = np.repeat(GOOD[None], 20, axis=0)
    rows[:, column] += sign * np.linspace(-0.5, 0.5, 20)
    assert np.all(np.diff(confidence.probabilities(rows)) >= 0)


def test_bars_not_played_have_no_confidence():
    rows = np.stack([GOOD, np.full(5, np.nan)])
    assert confidence.probabilities(rows)[1] == 0
    assert confidence.reason(rows[1], 0.0, silent=False) == "not played"


def test_reasons_are_given_only_when_unsure():
    assert confidence.reason(GOOD, 0.95, silent=False) == ""
    assert confidence.reason(GOOD, 0.95, silent=True) == "silent in the sound"
    other = GOOD.copy()
    other[1] = 0.0
    assert confidence.reason(other, 0.3, silent=False) == "other notes sound than are written"


def rows_of(pitch: np.ndarray, onset: np.ndarray) -> Rows:
    return Rows(lambda first, last: (pitch[first:last], onset[first:last]), len(pitch), 50)


def test_a_transposed_decoy_takes_the_margin_away():
    rng = np.random.default_rng(0)
    notes = np.zeros((200, 85), np.float32)
    for start in range(0, 200, 20):
        notes[start : start + 20, rng.choice(85, 4, replace=False)] = 0.5
    onsets = np.zeros((200, 86), np.float32)
    onsets[::20] = 0.1
    spans = np.array([[0.0, 2.0], [2.0, 4.0]])
    level, quarters = np.zeros(200), np.array([4.0, 4.0])
    same = rows_of(notes, onsets)
    right = confidence.gather(confidence.curves(same, same), level, spans, quarters)
    assert right.figures[:, 0] == pytest.approx([1.0, 1.0], abs=1e-5)
    assert np.all(right.figures[:, 1] > 0.5)
    moved = np.roll(notes, 3, axis=1)
    wrong = confidence.gather(
        confidence.curves(rows_of(moved, onsets), same), level, spans, quarters
    )
    assert np.all(wrong.figures[:, 1] < 0)
