"""How a line is covered: each way in a made case of its own; partners are doublings' matter."""

import pytest


def tune(bar, shift=0):
    a = 76 + (3 * bar) % 8 + shift
    return [(0.0, 1.5, a), (1.5, 0.5, a + 1), (2.0, 2.0, a + 4)]


def chord(pitch):
    return lambda bar: [(float(k), 1.0, pitch + (bar % 2)) for k in range(4)]


BASE = {1: tune, 5: chord(60), 6: lambda bar: [(0.0, 4.0, 48 - bar % 3)]}
SAME, BELOW, ABOVE, DRUM = chord(77), chord(55), chord(93), chord(0)


@pytest.mark.parametrize(
    ("coverer", "plays", "dying", "cause"),
    [
        (3, SAME, (), "Horn 1 plays in the same register"),
        (3, BELOW, (), "Horn 1 lies below, and its upper partials fill the register"),
        (4, ABOVE, (), "Violin I lies above, where its overtones are"),
        (4, SAME, (4,), "the attacks of Violin I hide its entries"),
        (4, SAME, (1,), "its notes die away while Violin I holds"),
        (7, DRUM, (7,), "the noise of Cymbals spreads over its register"),
    ],
    ids=["register", "partials", "above", "attack", "decay", "noise"],
)
def test_each_way_of_covering_is_told(made, coverer, plays, dying, cause):
    # Equal marks, so that none is called louder.
    case = made({**BASE, coverer: plays}, dying=dying, marks=lambda line, bar: 3.0)
    found = case.judged(lambda line, bar: 0.01 if line == 1 else 0.6, coverer=coverer)
    (one,) = [f for f in found if f.kind == "covered" and 1 in f.lines]
    assert one.cause.startswith(cause)
