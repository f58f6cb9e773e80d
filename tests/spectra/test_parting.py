"""Weighing a mix anew: laws, and made mixes whose lines are known."""

import numpy as np
import pytest

from auditor.sound.spectrum import HOP, RATE_HZ, frame_times, pooled_power
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB, LineSpectra
from auditor.spectra.mixture import band_power
from auditor.spectra.parting import reweighed, stretch_of
from auditor.units import power_to_db

CALIBRATION_DB = 90.0
SPAN = (RATE_HZ // 2, 2 * RATE_HZ)


def tone(hz, peak):
    t = np.arange(3 * RATE_HZ) / RATE_HZ
    return (peak * np.sin(2 * np.pi * hz * t)).astype(np.float32)


def spectra_of(lines):
    power = [band_power(pooled_power(x)) * 10 ** (CALIBRATION_DB / 10) for x in lines]
    level = np.stack([power_to_db(p, FLOOR_DB) for p in power]).astype(np.float32)
    frames = level.shape[1]
    return LineSpectra(
        level, frame_times(frames), BAND_CAM, np.ones(level.shape[:2], np.float32)
    )


@pytest.fixture(scope="module")
def made():
    """Two lines two octaves apart, the second 20 dB softer, and their mix."""
    lines = np.stack([tone(440.0, 0.5), tone(1760.0, 0.05)])
    mix = lines.sum(axis=0)
    return lines, mix, stretch_of(mix, spectra_of(lines), (0, 1), SPAN, CALIBRATION_DB)


def db(x):
    return 10 * np.log10(np.mean(np.square(x, dtype=np.float64)))


def test_no_gain_gives_the_mix_back(made):
    _, mix, stretch = made
    left = reweighed(stretch, {}) - mix[slice(*SPAN)]
    # Griffin and Lim (1984), eq. 6: unchanged spectra give the signal back but for rounding.
    assert db(left) < db(mix) - 80


def test_a_line_apart_from_the_others_is_cut_out_at_its_level(made):
    lines, _, stretch = made
    alone = reweighed(stretch, {1: 0.0}, rest_db=-np.inf)
    truth = lines[1, slice(*SPAN)]
    assert db(alone) == pytest.approx(db(truth), abs=0.5)
    assert db(alone - truth) < db(truth) - 15


def test_six_db_forward_is_six_db(made):
    lines, mix, stretch = made
    louder = reweighed(stretch, {1: 6.0}) - mix[slice(*SPAN)]
    added = (10 ** (6 / 20) - 1) * lines[1, slice(*SPAN)]
    assert db(louder) == pytest.approx(db(added), abs=0.5)


def test_without_the_coverer_the_covered_is_left(made):
    lines, _, stretch = made
    rest = reweighed(stretch, {0: -np.inf})
    assert db(rest) == pytest.approx(db(lines[1]), abs=0.5)


def test_power_is_shared_where_lines_lie_in_one_band():
    """Noises of one colour cannot be told apart; their powers still add up."""
    rng = np.random.default_rng(1)
    lines = rng.normal(0, [[0.1], [0.05]], (2, 3 * RATE_HZ)).astype(np.float32)
    mix = lines.sum(axis=0)
    stretch = stretch_of(mix, spectra_of(lines), (0, 1), SPAN, CALIBRATION_DB)
    alone = [reweighed(stretch, {k: 0.0}, rest_db=-np.inf) for k in (0, 1)]
    assert 10 ** (db(alone[0]) / 10) + 10 ** (db(alone[1]) / 10) == pytest.approx(
        10 ** (db(mix[slice(*SPAN)]) / 10), rel=0.05
    )
    # Twice the amplitude is four times the power: 6.02 dB.
    assert db(alone[0]) - db(alone[1]) == pytest.approx(6.02, abs=0.5)


@pytest.mark.parametrize("span", [(0, HOP // 2 + 5000), (3 * RATE_HZ - 7001, 3 * RATE_HZ)])
def test_the_ends_of_the_mix_can_be_weighed_too(made, span):
    lines, mix, _ = made
    stretch = stretch_of(mix, spectra_of(lines), (0,), span, CALIBRATION_DB)
    same = reweighed(stretch, {})
    assert same.size == span[1] - span[0]
    assert db(same - mix[slice(*span)]) < db(mix) - 40


def test_stems_louder_than_their_mix_are_never_more_than_all_of_it():
    lines = np.stack([tone(440.0, 0.5), tone(440.0, 0.5)])
    mix = tone(440.0, 0.1)  # a limiter was at work
    stretch = stretch_of(mix, spectra_of(lines), (0, 1), SPAN, CALIBRATION_DB)
    assert max(float(share.max()) for share in stretch.share.values()) <= 1.0
    alone = reweighed(stretch, {0: 0.0}, rest_db=-np.inf)
    assert db(alone) <= db(mix)
