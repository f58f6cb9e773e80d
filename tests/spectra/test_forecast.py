"""Spectra from the page: laws of acoustics, and the published form of the hall's gain."""

import numpy as np
import pytest

from auditor.errors import InputError
from auditor.score import instruments
from auditor.score.notes import Bar, Line, Note, Part, Score
from auditor.spectra.forecast import forecast_spectra, line_power, note_power_db
from auditor.spectra.line_spectra import FLOOR_DB

ON, OFF = np.array([0.2]), np.array([2.2])


def one_note(key="horn", pitch=58, dynamic=4.0, players=1.0, techniques=()) -> Score:
    instrument = instruments.entry(key).instrument
    note = Note("n", "n", 1, 1, 0, 1.0, 0.0, 4.0, pitch, pitch, dynamic, True, techniques,
                players)  # fmt: skip
    return Score(
        "", (Part(1, "P1", key, instrument, players),),
        (Line(1, 1, key, instrument, players),), (Bar(0, "1", 0, 1, 0.0, 4.0, 120.0),),
        (note,), 1,
    )  # fmt: skip


def power(spectra) -> np.ndarray:
    level = spectra.level_db[0]
    return np.where(level <= FLOOR_DB, 0.0, 10 ** (level / 10))


def whole_db(spectra) -> float:
    """Mean level of the note's first half second."""
    frames = (spectra.frame_s >= 0.2) & (spectra.frame_s < 0.7)
    return 10 * float(np.log10(power(spectra)[frames].sum(axis=1).mean()))


@pytest.mark.parametrize("key", ["horn", "violin", "clarinet"])
@pytest.mark.parametrize("gain", [0.0, 4.5])
def test_level_is_power_plus_strength_minus_31(key, gain):
    """ISO 3382-1: G is re 10 m in the free field; 10 lg(4 pi 10^2) = 31.0 dB."""
    score = one_note(key, pitch=60)
    spectra = forecast_spectra(score, ON, OFF, room_gain_db=gain)
    expected = note_power_db(score.notes[0], score.lines[0]) + gain - 31.0
    # The templates' ages are averages over many notes, so their half second is within 1 dB.
    assert whole_db(spectra) == pytest.approx(expected, abs=1.0)


@pytest.mark.parametrize("players", [2, 8, 16])
def test_n_equal_players_add_ten_lg_n(players):
    """Powers of incoherent sources add (ISO 80000-8)."""
    one = forecast_spectra(one_note("violin", 70, players=2.0), ON, OFF)
    many = forecast_spectra(one_note("violin", 70, players=2.0 * players), ON, OFF)
    assert whole_db(many) - whole_db(one) == pytest.approx(10 * np.log10(players), abs=0.01)


def test_louder_is_brighter():
    soft = power(forecast_spectra(one_note(dynamic=1.0), ON, OFF)).sum(axis=0)
    loud = power(forecast_spectra(one_note(dynamic=5.0), ON, OFF)).sum(axis=0)
    band = np.arange(soft.size)
    assert (band * loud).sum() / loud.sum() > (band * soft).sum() / soft.sum()


def test_room_gain_moves_everything_alike():
    dry = forecast_spectra(one_note(), ON, OFF, room_gain_db=0.0)
    wet = forecast_spectra(one_note(), ON, OFF, room_gain_db=6.0)
    sounding = (dry.level_db > FLOOR_DB + 1) & (wet.level_db > FLOOR_DB + 1)
    np.testing.assert_allclose((wet.level_db - dry.level_db)[sounding], 6.0, atol=1e-3)


def test_nothing_sounds_before_the_note_nor_where_it_is_not_played():
    spectra = forecast_spectra(one_note(), ON + 1.0, OFF + 1.0)
    assert (spectra.level_db[0, spectra.frame_s < 1.0] == FLOOR_DB).all()
    nowhere = forecast_spectra(one_note(), np.array([np.nan]), np.array([np.nan]))
    assert (nowhere.level_db == FLOOR_DB).all()


def test_says_where_it_comes_from():
    assert forecast_spectra(one_note(), ON, OFF).source == "forecast"


@pytest.mark.parametrize("gain", [-6.0, 25.0, float("nan")])
def test_refuses_what_is_no_hall(gain):
    with pytest.raises(InputError, match="concert halls have about 2 to 6"):
        forecast_spectra(one_note(), ON, OFF, room_gain_db=gain)


def test_a_line_by_itself_has_the_spectrum_without_the_hall():
    score = one_note()
    whole = forecast_spectra(score, ON, OFF, room_gain_db=0.0)
    frames = whole.frame_s.size
    alone = line_power(score.lines[0], score.notes, ON, OFF, frames)
    np.testing.assert_allclose(alone * 10 ** (-3.1), power(whole), rtol=1e-3, atol=1e-6)
