"""Stops against what handbooks say can be stopped."""

import dataclasses

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.craft.fingering import best_fingering, from_nut_mm, neck_of
from auditor.craft.limits import CraftLimits

NECKS = {k: neck_of(k, CraftLimits()) for k in ("violin", "viola", "cello", "double-bass")}
VIOLIN, CELLO, BASS = NECKS["violin"], NECKS["cello"], NECKS["double-bass"]


def stretch(pitches, neck, **more):
    found = best_fingering(pitches, neck, **more)
    return None if found is None else found.stretch_mm


@pytest.mark.parametrize(
    ("key", "name"),
    [("violin", "Violin"), ("viola", "Viola"), ("cello", "Violoncello"),
     ("double-bass", "Contrabass")],
)  # fmt: skip
def test_open_strings_are_those_of_music21(key, name):
    # music21 10.5 keeps the double bass at written pitch, an octave higher.
    strings = [p.midi for p in getattr(music21.instrument, name)().stringPitches]
    shift = 12 if key == "double-bass" and strings[0] == 40 else 0
    assert NECKS[key].strings == tuple(p - shift for p in strings)


# C. Forsyth, Orchestration (1914), 317: sixths and thirds with no open string are "all quite
# easy", perfect and augmented fourths "not so completely easy but still quite playable".
@pytest.mark.parametrize("interval", [3, 4, 5, 6, 8, 9])
@pytest.mark.parametrize("top", range(64, 80))
def test_thirds_fourths_and_sixths_lie_well_on_the_violin(interval, top):
    low = top - interval
    if low >= 56:
        assert stretch((low, top), VIOLIN) <= VIOLIN.usual_mm


# Forsyth, 316: an open string goes with any semitone on its neighbour.
@pytest.mark.parametrize("semitones", range(13))
@pytest.mark.parametrize("string", [0, 1, 2])
def test_an_open_string_goes_with_any_note_on_the_next(semitones, string):
    low, high = VIOLIN.strings[string], VIOLIN.strings[string + 1] + semitones
    assert stretch((low, high), VIOLIN) == 0.0


# Forsyth, 316: combinations of purely open strings in 2, 3 or 4 parts are "all perfectly easy".
@pytest.mark.parametrize("neck", NECKS.values())
@pytest.mark.parametrize("count", [2, 3, 4])
def test_open_strings_together_are_easy(neck, count):
    assert stretch(neck.strings[:count], neck) == 0.0


# Handbook chords of three and four notes, from memory: fifths and sixths over the open strings
# lie well; triads in close position need more strings near one another than there are.
@pytest.mark.parametrize(
    "chord", [(55, 62, 71, 79), (55, 64, 72), (57, 64, 73), (62, 71, 79), (59, 67, 76)]
)
def test_chords_of_fifths_and_sixths_lie_well_on_the_violin(chord):
    assert stretch(chord, VIOLIN) <= VIOLIN.usual_mm


@pytest.mark.parametrize("chord", [(60, 64, 67), (59, 62, 67), (57, 61, 64)])
def test_close_triads_in_the_low_register_cannot_be_stopped(chord):
    assert stretch(chord, VIOLIN) is None


# Two notes below the second string have one string between them: follows from the tuning.
@pytest.mark.parametrize("neck", NECKS.values())
@pytest.mark.parametrize("pair", [(0, 1), (1, 3), (2, 4)])
def test_two_notes_on_the_lowest_string_cannot_be_stopped(neck, pair):
    assert stretch([neck.strings[0] + n for n in pair], neck) is None


# An octave is the frame of the violinist's hand, a tenth in low positions its limit: common
# practice, from memory.
@pytest.mark.parametrize("low", range(56, 62))
def test_octaves_are_usual_and_tenths_the_limit_on_the_violin(low):
    assert stretch((low, low + 12), VIOLIN) <= VIOLIN.usual_mm
    assert VIOLIN.usual_mm < stretch((low, low + 16), VIOLIN) <= VIOLIN.widest_mm


# Forsyth, 412, and Berlioz-Strauss: octaves on the cello take the thumb; wider stretches than
# the violin's. Low octaves are beyond the four fingers, within the thumb's reach.
@pytest.mark.parametrize("low", [38, 39, 40])
def test_low_octaves_on_the_cello_take_the_thumb(low):
    assert CELLO.usual_mm < stretch((low, low + 12), CELLO) <= CELLO.widest_mm


# N. Rimsky-Korsakov, Principles of Orchestration (1922), ch. II: the double bass may supply the
# octave on an open string.
@pytest.mark.parametrize("string", [28, 33, 38])
def test_octaves_over_an_open_string_on_the_double_bass(string):
    assert stretch((string, string + 12), BASS) == 0.0


def test_octaves_elsewhere_on_the_double_bass_are_out_of_reach():
    assert stretch((30, 42), BASS) > BASS.widest_mm


# Half the string gives the octave, a quarter off gives the fourth: Pythagoras.
def test_stopping_places_divide_the_string():
    assert from_nut_mm(12, 328.0) == pytest.approx(164.0)
    assert from_nut_mm(12 * 0.4150374992788438, 400.0) == pytest.approx(100.0)


def test_a_bow_reaches_neighbouring_strings_only_a_finger_may_leave_one_out():
    low_and_open = (57, 76)  # A3 lies on the G string alone, the open E string is far away
    assert stretch(low_and_open, VIOLIN) > VIOLIN.widest_mm
    assert stretch(low_and_open, VIOLIN, bowed=False) == 0.0


chords = st.lists(st.integers(55, 90), min_size=2, max_size=4)


@given(chords, st.integers(-12, 12))
def test_strings_and_chord_moved_together_change_nothing(chord, shift):
    moved = dataclasses.replace(VIOLIN, strings=tuple(s + shift for s in VIOLIN.strings))
    assert stretch(chord, VIOLIN) == stretch([p + shift for p in chord], moved)


@given(st.lists(st.integers(55, 90), min_size=2, max_size=3), st.integers(55, 90))
def test_another_note_never_makes_a_plucked_chord_narrower(chord, more):
    fewer = stretch(chord, VIOLIN, bowed=False)
    both = stretch([*chord, more], VIOLIN, bowed=False)
    assert both is None or (fewer is not None and fewer <= both + 1e-9)


@given(st.integers(1, 11))
def test_the_same_interval_narrows_up_the_string(semitones):
    here = from_nut_mm(semitones + 5, 328.0) - from_nut_mm(semitones, 328.0)
    above = from_nut_mm(semitones + 6, 328.0) - from_nut_mm(semitones + 1, 328.0)
    assert above < here
