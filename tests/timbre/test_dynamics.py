"""Levels and brightness by dynamic: laws of acoustics and directions that are published."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.score.instruments import table
from auditor.sound.spectrum import POOL_HZ
from auditor.timbre.dynamics import FORTE, brightness_db, power_level_db

INSTRUMENTS = [entry.instrument for entry in table()]
FAMILIES = sorted({i.family for i in INSTRUMENTS})
STEPS = np.arange(-1.0, 6.01, 0.5)


def forte(key, family, players=1.0, **more):
    return float(power_level_db(key, family, FORTE, players, **more))


@given(st.integers(1, 60), st.sampled_from(INSTRUMENTS), st.floats(-1.0, 6.0))
def test_n_equal_players_add_ten_lg_n(players, instrument, dynamic):
    """Powers of incoherent sources add (ISO 80000-8, level of power)."""
    one = power_level_db(instrument.key, instrument.family, dynamic)
    many = power_level_db(instrument.key, instrument.family, dynamic, players)
    assert float(many - one) == pytest.approx(10 * np.log10(players))


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda i: i.key)
def test_louder_marks_are_louder(instrument):
    levels = power_level_db(instrument.key, instrument.family, STEPS)
    assert (np.diff(levels) > 0).all()


# J. Meyer, Acoustics and the Performance of Music, 5th ed. (2009), ch. 3, from memory: in
# forte a single brass instrument carries more power than a woodwind, a woodwind at least as
# much as a single bowed string; of the strings the double bass has most, the viola least.
@pytest.mark.parametrize("brass", ["horn", "trumpet", "trombone", "tuba"])
@pytest.mark.parametrize("wood", ["flute", "oboe", "clarinet", "bassoon"])
@pytest.mark.parametrize("string", ["violin", "viola", "cello"])
def test_published_order_of_single_players(brass, wood, string):
    assert forte(brass, "brass") > forte(wood, "woodwind") > forte(string, "strings")


def test_published_order_of_strings():
    levels = {k: forte(k, "strings") for k in ("violin", "viola", "cello", "double-bass")}
    assert max(levels, key=levels.get) == "double-bass"
    assert min(levels, key=levels.get) == "viola"


def test_published_dynamic_ranges():
    # Meyer (2009), ch. 3, from memory: the clarinet's range is the widest of the woodwind,
    # the oboe's the narrowest; the horn's is wider than any woodwind's.

    def span(key, family):
        low, high = power_level_db(key, family, [0.0, 5.0])
        return float(high - low)

    wood = {k: span(k, "woodwind") for k in ("flute", "oboe", "clarinet", "bassoon")}
    assert max(wood, key=wood.get) == "clarinet"
    assert min(wood, key=wood.get) == "oboe"
    assert span("horn", "brass") > max(wood.values())


def test_two_horns_to_one_trumpet():
    # Rimsky-Korsakov, Principles of Orchestration, ch. I: in forte one trumpet equals two
    # horns. Measured powers do not bear that out; at least the reverse must not hold.
    assert forte("horn", "brass") < forte("trumpet", "brass", 2)


def test_plucked_is_softer_than_bowed():
    assert forte("cello", "strings", plucked=True) < forte("cello", "strings")


@pytest.mark.parametrize("family", FAMILIES)
def test_louder_is_brighter_and_nothing_happens_below_700_hz(family):
    rise = brightness_db(family, 2.0)
    assert rise.shape == POOL_HZ.shape
    assert (np.diff(rise) >= 0).all()
    np.testing.assert_array_equal(rise[POOL_HZ <= 700.0], 0.0)
    assert rise[-1] > 0
    np.testing.assert_array_equal(brightness_db(family, 0.0), 0.0)
    assert (brightness_db(family, 3.0) >= rise).all()


def test_brass_brightens_most_strings_least():
    """Direction of Meyer's dynamic tone-colour factor (see the module)."""
    near_3_khz = int(np.argmin(np.abs(POOL_HZ - 3000.0)))
    gain = {f: brightness_db(f, 1.0)[near_3_khz] for f in ("brass", "woodwind", "strings")}
    assert gain["brass"] > gain["woodwind"] >= gain["strings"] > 0


@pytest.mark.parametrize("steps", [-50.0, 50.0])
def test_brightness_has_bounds(steps):
    found = brightness_db("brass", steps)
    assert found.min() >= -24.0
    assert found.max() <= 12.0
