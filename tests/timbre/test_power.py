"""Powers and their spread against published tables."""

import numpy as np
import pytest

from auditor.score.instruments import table
from auditor.timbre.dynamics import FORTE, has_figure, power_level_db
from auditor.timbre.power import figure_of, figure_sd_db, register_db

# I. Simurra, UNICAMP, teaching table after Henrique, Meyer 1995 and Patterson 1974: level of
# one player at 1 m in mf and ff, dB; stated uncertainty 2 to 3 dB.
MF_FF = {
    "violin": (82, 92), "viola": (80, 90), "cello": (84, 94), "double-bass": (85, 94),
    "flute": (84, 96), "oboe": (88, 100), "clarinet": (84, 100), "bassoon": (88, 99),
    "horn": (92, 106), "trumpet": (93, 106), "trombone": (96, 109), "tuba": (95, 105),
}  # fmt: skip
# Its 3 dB, and 1 dB for rounding in the other table.
TABLES_DB = 4.0


@pytest.mark.parametrize("key", MF_FF)
def test_forte_agrees_with_another_table(key):
    assert float(power_level_db(key, "", FORTE)) == pytest.approx(
        np.mean(MF_FF[key]), abs=TABLES_DB
    )


# Weinzierl et al., J. Acoust. Soc. Am. 144 (2018), 1347, table I, as quoted by two notes:
# loudest ff 91 dB (harp) and 108 dB (pedal timpani), softest pp 54 and 58 dB.
@pytest.mark.parametrize(("key", "soft", "loud"), [("harp", 54, 91), ("timpani", 58, 108)])
def test_measured_extremes_are_not_exceeded(key, soft, loud):
    pp, ff = power_level_db(key, "", [0.0, 5.0])
    assert pp >= soft
    assert ff <= loud + 0.5


# Instantaneous peaks of one instrument in watts: L. Sivian, H. Dunn and S. White, J. Acoust.
# Soc. Am. 2 (1931), 330, as tabled in F. A. Everest, Master Handbook of Acoustics, table 5-1.
PEAK_W = {
    "bass-drum": 25, "snare-drum": 12, "cymbals": 10, "trombone": 6, "piano": 0.4,
    "trumpet": 0.3, "tuba": 0.2, "double-bass": 0.16, "piccolo": 0.08, "flute": 0.06,
    "clarinet": 0.05, "triangle": 0.05, "horn": 0.05,
}  # fmt: skip


@pytest.mark.parametrize(
    "key",
    [
        pytest.param(k, marks=pytest.mark.xfail(
            strict=True, reason="112 dB at its top against a peak of 107: sources disagree"
        )) if k == "horn" else k
        for k in PEAK_W
    ],
)  # fmt: skip
def test_a_mean_at_ff_stays_below_the_published_peak(key):
    ff = float(power_level_db(key, "", 5.0)) + float(register_db(key, 127, 0, 127))
    assert ff <= 10 * np.log10(PEAK_W[key] / 1e-12)


def test_every_instrument_has_a_figure_or_a_relative_with_six_db():
    for entry in table():
        figure = figure_of(entry.instrument.key)
        assert has_figure(figure.key) or figure.source == "family"
        if figure.key != entry.instrument.key or figure.source == "family":
            assert figure.sd_db == 6.0


def test_relatives_are_near():
    near = {"alto-flute": "flute", "cornet": "trumpet", "contrabassoon": "bassoon",
            "bass-clarinet": "clarinet", "marimba": "xylophone"}  # fmt: skip
    assert {key: figure_of(key).key for key in near} == near


def test_soft_marks_are_less_sure():
    figure = figure_of("flute")
    assert figure_sd_db(figure, 0.0) > figure_sd_db(figure, 2.0) > figure_sd_db(figure, 4.0)


def test_registers_follow_the_published_directions():
    """The low flute is weak, the high piccolo cuts, the low oboe is the stronger one."""
    for key, louder in (("flute", "high"), ("piccolo", "high"), ("oboe", "low")):
        low, high = register_db(key, [60, 96], 60, 96)
        assert (high > low) == (louder == "high")
    np.testing.assert_array_equal(register_db("violin", [55, 75, 100], 55, 103), 0.0)
