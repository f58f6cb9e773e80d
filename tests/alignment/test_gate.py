"""What tells the right score from another one."""

import pytest
from music_made import made_score, melody, played

from auditor.alignment import gate
from auditor.alignment.expected import events
from auditor.alignment.order import find_order
from auditor.sound.features import listen

RIGHT = {
    "pitch_margin": 0.4, "time_margin": 0.1, "contrast": 0.7, "mean_confidence": 0.95,
    "explained_share": 0.99,
}  # fmt: skip


def _signs(*values):
    return dict(zip(RIGHT, values, strict=False))


@pytest.fixture(scope="module")
def features():
    samples, _ = played(made_score(melody(1, 12)), seed=31)
    return listen(samples)


@pytest.mark.parametrize(("seed", "least", "most"), [(1, 0.6, 1.3), (77, -0.3, 0.4)])
def test_only_the_right_score_fits_its_places_better_than_others(features, seed, least, most):
    # 1: the sound is unlike other places as they are unlike each other; 0: like all of them.
    score = made_score(melody(seed, 12))
    assert least < find_order(score, events(score), features).contrast < most


@pytest.mark.parametrize(
    ("figures", "right"),
    [
        ({}, True),
        # Any one sign may be weak ...
        ({"contrast": 0.4}, True),
        ({"mean_confidence": 0.3}, True),
        ({"pitch_margin": 0.1, "time_margin": 0.0}, True),
        # ... not all of them: the hardest right and wrong fitting pairs (drums and tremolo; a
        # madrigal by Monteverdi with the page of another),
        (_signs(0.181, 0.057, 0.402, 0.653), True),
        (_signs(0.182, -0.006, 0.401, 0.230), False),
        (_signs(0.142, 0.010, 0.212, 0.618), False),
        # and the sound must be in the score.
        ({"explained_share": 0.2}, False),
    ],
)
def test_one_weak_sign_refuses_nothing_and_all_of_them_do(figures, right):
    assert gate.is_right(RIGHT | figures) is right
