"""What lies beneath the lines: loudness and register weight of each bar."""

import dataclasses
import math

import numpy as np
import pytest

from auditor.hearing.measures import REGISTERS
from auditor.report.weight import bar_weights, grounds
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB
from auditor.units import hz_to_cam


def with_tone(audit, hz, level_db=70.0):
    """The invented audit, all of its sound in one band."""
    level = np.full_like(audit.spectra.level_db, FLOOR_DB)
    level[0, :, int(np.argmin(np.abs(BAND_CAM - hz_to_cam(hz))))] = level_db
    return dataclasses.replace(
        audit, spectra=dataclasses.replace(audit.spectra, level_db=level)
    )


@pytest.mark.parametrize(
    ("hz", "register"),
    [
        (98.0, "bass"),
        (196.0, "tenor"),
        (392.0, "alto"),
        (1000.0, "treble"),
        (4000.0, "brilliance"),
    ],
)
def test_a_tone_weighs_in_its_own_register(audit, hz, register):
    shares = bar_weights(with_tone(audit, hz))[0].registers
    assert REGISTERS[int(np.argmax(shares))] == register
    assert max(shares) > 0.9
    assert sum(shares) == pytest.approx(1.0)


def test_loudness_is_the_mean_over_the_bar(audit):
    # The invented loudness rises evenly from 4 to 40 sone over 24 bars.
    sone = [w.sone for w in bar_weights(audit)]
    assert sone[0] == pytest.approx(4 + 36 * 0.5 / 24, abs=0.1)
    assert sone[-1] == pytest.approx(40 - 36 * 0.5 / 24, abs=0.1)


def test_where_nothing_was_kept_nothing_is_drawn(audit):
    weights = bar_weights(dataclasses.replace(audit, spectra=None))
    assert all(math.isnan(w.sone) for w in weights)
    assert grounds(weights, 0, 5) == ()


def test_the_highest_bar_of_the_piece_fills_the_row(audit):
    weights = bar_weights(audit)
    loud = grounds(weights, 20, 23)[0]
    assert loud.name == "loudness"
    assert loud.words == "35 sone to 39 sone"
    assert "V0.000h1V1z" in loud.path
    assert [g.name for g in grounds(weights, 0, 3)] == ["loudness", *reversed(REGISTERS)]
