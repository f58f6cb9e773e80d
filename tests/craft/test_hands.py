from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.craft.hands import narrowest, shared_out

pitches = st.lists(st.integers(36, 84), min_size=1, max_size=7, unique=True)


def brute(notes, most):
    """Width of the wider hand over every way to share the notes, crossed hands included."""
    best = None
    for sides in product((0, 1), repeat=len(notes)):
        hands = [[p for p, s in zip(notes, sides, strict=True) if s == side] for side in (0, 1)]
        if max(map(len, hands)) <= most:
            wide = max(max(h) - min(h) for h in hands if h)
            best = wide if best is None else min(best, wide)
    return best


@given(pitches, st.integers(1, 5))
def test_crossing_hands_gains_nothing(notes, most):
    found = narrowest(notes, most)
    assert (found.span if found else None) == brute(notes, most)


@given(pitches, st.integers(1, 5))
def test_no_note_is_lost_or_doubled(notes, most):
    for way in shared_out(notes, most):
        assert sorted((*way.left, *way.right)) == sorted(notes)


def test_more_notes_than_fingers_cannot_be_shared():
    assert narrowest(range(11), 5) is None
    assert narrowest([60, 60, 64], 1).span == 0


@pytest.mark.parametrize("shift", [-12, 7])
def test_the_same_chord_elsewhere_is_as_wide(shift):
    chord = (48, 55, 64, 79)
    assert narrowest(chord, 4).span == narrowest([p + shift for p in chord], 4).span
