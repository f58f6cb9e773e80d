"""Laws of the tails; the shape of the decay is that of a diffuse room."""

import numpy as np
import pytest

from auditor.sound.spectrum import HOP, RATE_HZ
from auditor.spectra.tails import DECAY_S, give_tails, late_power

FRAME_S = HOP / RATE_HZ


def burst(frames=200, pools=3, start=20, stop=30):
    power = np.full((frames, pools), 1e-12, np.float32)
    power[start:stop] = 1.0
    return power


def test_silence_has_no_tail():
    assert late_power(np.zeros((50, 4), np.float32)).max() == 0.0


def test_before_any_sound_there_is_no_tail():
    assert late_power(burst())[:20].max() < 1e-11


def test_the_tail_falls_60_db_in_the_reverberation_time():
    # ISO 3382-1: reverberation time is that of a fall of 60 dB. A mix that falls as the
    # room does is tail up to the share that is always left to the notes.
    frames = np.arange(160)
    power = np.tile((10 ** (-6 * frames * FRAME_S / DECAY_S))[:, None], 2).astype(np.float32)
    tail = late_power(power)[60:120, 0]
    slope_db_s = np.polyfit(frames[60:120] * FRAME_S, 10 * np.log10(tail), 1)[0]
    assert slope_db_s == pytest.approx(-60 / DECAY_S, rel=0.1)


def test_a_held_sound_stays_mostly_direct():
    power = np.ones((300, 1), np.float32)
    assert 0.1 < late_power(power)[-1, 0] < 0.5


def test_tail_is_never_more_than_nine_tenths():
    power = burst()
    np.testing.assert_array_less(late_power(power), 0.9 * power * (1 + 1e-6))


def test_each_line_gets_the_tail_of_its_own_past():
    level = np.zeros((2, 120, 3), np.float32)
    level[0, 10:30] = 1.0
    level[1, 40:60] = 1.0
    given = level.copy()
    give_tails(given, np.full((120, 3), 1e-3, np.float32))
    assert given[0, 32:36].min() > 0.0
    assert given[1, :40].max() == 0.0
    assert (given - level)[0, 42, 0] > (given - level)[1, 42, 0]
    assert np.all(given >= level)


def test_no_more_is_given_than_there_is():
    rng = np.random.default_rng(4)
    level = rng.uniform(0, 1, (3, 90, 5)).astype(np.float32)
    late = rng.uniform(0, 0.02, (90, 5)).astype(np.float32)
    given = level.copy()
    give_tails(given, late)
    np.testing.assert_array_less((given - level).sum(axis=0), late + 1e-6)
