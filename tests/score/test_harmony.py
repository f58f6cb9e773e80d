"""Fit of a part to the others' chords: laws; and names and words of any kind do no harm."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.score.changes import called
from auditor.score.crooks import intervals, keys_of, register_of, tuning_of
from auditor.score.harmony import Chords, Written
from auditor.score.instruments import table
from auditor.score.players import who


def written(pitches, start=0.0, length=1.0):
    pitch = np.array(pitches, dtype=np.int64)
    begin = start + length * np.arange(pitch.size)
    return Written(begin, begin + length, pitch, np.zeros_like(pitch))


def triads(moved=0):
    """C, F, G and C major under each other, a quarter note each."""
    roots = [48, 53, 55, 48]
    return [written([r + step + moved for r in roots]) for step in (0, 4, 7)]


def test_the_right_shift_fits_best():
    own = written([60 + 9, 65 + 9, 67 + 9, 60 + 9])  # written for an instrument in E flat
    fit, notes = Chords(triads(), 4.0).fit(own, range(-11, 1))
    assert range(-11, 1)[int(np.argmax(fit))] == -9
    assert notes == pytest.approx(4)  # equally long, so that each counts fully
    # Each note stands in a chord of three of the twelve pitch classes.
    assert fit.max() == pytest.approx(1 - 3 / 12)


@given(st.integers(-12, 12))
def test_moving_all_parts_alike_changes_nothing(moved):
    one, _ = Chords(triads(), 4.0).fit(written([60, 62, 67, 64]), range(-6, 6))
    two, _ = Chords(triads(moved), 4.0).fit(
        written([60 + moved, 62 + moved, 67 + moved, 64 + moved]), range(-6, 6)
    )
    np.testing.assert_allclose(one, two)


def test_octaves_make_no_difference():
    fit, _ = Chords(triads(), 4.0).fit(written([60, 62, 67, 64]), [-12, 0, 12])
    assert fit[0] == fit[1] == fit[2]


def test_counting_out_undoes_counting_in():
    chords = Chords(triads(), 4.0)
    before = chords.count.copy()
    extra = written([61, 63, 66, 68])
    chords.add(extra)
    chords.add(extra, -1)
    np.testing.assert_array_equal(chords.count, before)


def test_silence_of_the_others_tells_nothing():
    fit, notes = Chords(triads(), 4.0).fit(written([60, 62], start=20.0), [0, -7])
    assert notes == 0
    assert not fit.any()


KEYS = [entry.instrument.key for entry in table()]


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=30), st.sampled_from(KEYS))
def test_any_words_are_read_without_harm(text, key):
    for strings in (True, False):
        found = who(text, strings=strings)
        assert found is None or all(chair > 0 for chair in found.chairs)
    change = called(text, key)
    assert change is None or change.instrument in ("", *KEYS)
    assert all(0 <= pitch < 12 for pitch in (*keys_of(text), *tuning_of(text)))
    assert register_of(text) in ("", "low", "high")


@pytest.mark.parametrize("key", KEYS)
def test_a_crook_sounds_its_own_note(key):
    # A written C sounds as the key's note, in some octave (any handbook).
    for pitch in range(12):
        for register in ("", "low", "high"):
            assert all(found % 12 == pitch for found in intervals(key, pitch, register))
