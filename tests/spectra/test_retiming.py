"""Notes moved to where the sound begins."""

import numpy as np
import pytest

from auditor.sound.spectrum import RATE_HZ
from auditor.spectra.retiming import retimed

TUNES = {
    "flute": [86, 88, 90, 86, 85, 83, 86, 90],
    "horn": [60, 62, 57, 59, 64, 62, 60, 55],
    "cello": [38, 41, 43, 36, 45, 40, 38, 42],
}


@pytest.fixture(scope="module")
def chords(make_piece):
    piece = make_piece(TUNES)
    together = np.round(piece.notes.onset_s * 1000).astype(np.int64)
    return piece.stems.sum(axis=0), piece.notes, together


def moved(chords, onset_s):
    mix, notes, together = chords
    return retimed(mix, onset_s, notes.pitch, together, notes.sustained)


def test_onsets_that_are_off_come_back(chords):
    """Errors of 40 ms, one standard deviation, are more than halved."""
    true = chords[1].onset_s
    off = true + np.random.default_rng(1).normal(0, 0.04, true.size)
    error = np.abs(moved(chords, off) - true)
    assert error.mean() < 0.5 * np.abs(off - true).mean()
    assert error.mean() < 0.015


def test_a_chord_that_is_late_as_a_whole_comes_back(chords):
    true = chords[1].onset_s
    error = np.abs(moved(chords, true + 0.05) - true)
    assert np.median(error) < 0.02


def test_onsets_that_are_right_stay(chords):
    true = chords[1].onset_s
    # Two frames of the line spectra, of 23 ms, are the least that hearing tells apart here.
    assert np.abs(moved(chords, true) - true).max() < 0.03


def test_nothing_moves_farther_than_a_tenth_of_a_second(chords):
    off = chords[1].onset_s + 0.3
    assert np.abs(moved(chords, off) - off).max() <= 0.11


def test_notes_that_were_not_played_stay_unplayed(chords):
    onset = chords[1].onset_s.copy()
    onset[::3] = np.nan
    out = moved(chords, onset)
    np.testing.assert_array_equal(np.isnan(out), np.isnan(onset))


def test_in_silence_nothing_moves(chords):
    _, notes, together = chords
    silence = np.zeros(5 * RATE_HZ, np.float32)
    out = retimed(silence, notes.onset_s, notes.pitch, together, notes.sustained)
    np.testing.assert_allclose(out, notes.onset_s, atol=0.007)  # a step of 6 ms
