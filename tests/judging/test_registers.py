"""Where the weight lies: what stays in one register is said, what moves is not."""

import pytest

from auditor.judging.registers import register_shares
from auditor.judging.scene import scene

TUNE = (76, 77, 79, 84, 83, 81, 79, 77)


def tune(bar):
    a, b = (TUNE[(3 * bar + k) % len(TUNE)] for k in range(2))
    return [(0.0, 2.0, a), (2.0, 2.0, b)]


def held(*pitches):
    return lambda bar: [(0.0, 4.0, p + bar % 2) for p in pitches]


HIGH = {1: tune, 2: held(79), 4: held(76), 5: held(72)}
SPREAD = {1: tune, 3: held(60), 5: held(55), 6: held(43)}


def clear(line, bar):
    return 0.6


def of_kind(findings, kind):
    return [f for f in findings if f.kind == kind]


def test_shares_of_the_registers_add_up_to_one(made):
    case = made(SPREAD)
    s = scene(case.score, case.timeline, case.windows, case.intent, case.heard(clear), None)
    assert register_shares(s).sum(axis=1) == pytest.approx(1.0)


def test_a_weight_that_stays_high_for_long_is_said_once(made):
    (one,) = of_kind(made(HIGH, count=24).judged(clear), "register")
    assert (one.first_bar, one.last_bar) == (0, 23)
    assert one.sentence.startswith("Bars 1–24: almost all that is heard lies in the treble")


@pytest.mark.parametrize(("playing", "count"), [(HIGH, 12), (SPREAD, 24)])
def test_a_short_stay_and_a_spread_chord_are_no_remark(made, playing, count):
    assert not of_kind(made(playing, count=count).judged(clear), "register")


# A chord of the bass, its octave, and four high lines; 3 and 5 may fill the middle.
HOLLOW = {1: tune, 2: held(79), 4: held(72), 6: held(38, 50), 5: held(76)}
FILLED = HOLLOW | {3: held(57)}


def test_a_chord_without_a_middle_is_a_hole_above_the_bass(made):
    (one,) = of_kind(made(HOLLOW).judged(clear), "hole")
    assert "nothing is heard between the bass and the next note" in one.sentence
    assert "nothing is written there" in one.sentence


def test_a_middle_that_is_written_and_heard_fills_it(made):
    assert not of_kind(made(FILLED).judged(clear), "hole")


def test_a_middle_that_is_written_but_lost_is_named(made):
    found = made(FILLED).judged(lambda line, bar: 0.01 if line == 3 else 0.6)
    (one,) = of_kind(found, "hole")
    assert one.lines == (3,)
    assert "Horn 1 is written there, but not heard" in one.sentence
