"""Segments cover every frame once, and notes are listed where they sound and nowhere else."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from auditor.sound.spectrum import HOP, RATE_HZ
from auditor.spectra.activity import PlayedNotes, activity
from auditor.timbre.templates import AGES

FRAME_S = HOP / RATE_HZ


def played(spans, sustained=True):
    size = len(spans)
    return PlayedNotes(
        line=np.zeros(size, np.int64),
        onset_s=np.array([a for a, _ in spans], float),
        offset_s=np.array([a + d for a, d in spans], float),
        pitch=np.full(size, 60),
        dynamic=np.full(size, 3.0),
        sustained=np.full(size, sustained),
        timbre=np.zeros(size, np.int64),
        timbres=("flute",),
        level_db=np.zeros(size),
    )


SPANS = st.lists(st.tuples(st.floats(0, 20), st.floats(0, 5)), min_size=1, max_size=12)


@given(SPANS, st.integers(1, 600), st.booleans())
def test_segments_cover_all_frames_once(spans, frames, sustained):
    found = activity(played(spans, sustained), frames)
    assert found.bounds[0] == 0
    assert found.bounds[-1] == frames
    assert (np.diff(found.bounds) > 0).all()


@given(SPANS, st.integers(1, 600), st.booleans())
def test_entries_are_filed_under_their_segment(spans, frames, sustained):
    found = activity(played(spans, sustained), frames)
    segments = found.bounds.size - 1
    assert found.first[0] == 0
    assert found.first[-1] == found.segment.size
    for s in range(segments):
        assert (found.segment[found.first[s] : found.first[s + 1]] == s).all()


@given(SPANS, st.booleans())
def test_notes_sound_from_their_onset_to_their_end_and_ring(spans, sustained):
    frames = 1400
    found = activity(played(spans, sustained), frames)
    begin, end = found.bounds[:-1][found.segment], found.bounds[1:][found.segment]
    for k, (onset, length) in enumerate(spans):
        mine = found.note == k
        here = mine & (found.age < AGES - 1)
        # One frame early, because its window reaches into the note; two frames at least.
        first, last = onset / FRAME_S, (onset + length) / FRAME_S
        assert begin[here].min() >= first - 2
        assert end[here].max() <= max(last, first + 1) + 2
        # Every frame of the note once, whatever its age.
        where = np.concatenate(
            [np.arange(a, b) for a, b in zip(begin[mine], end[mine], strict=True)]
        )
        assert np.unique(where).size == where.size
        assert np.array_equal(np.sort(where), np.arange(where.min(), where.max() + 1))
        assert where.min() <= np.ceil(first)
        assert where.max() >= np.floor(last)


@given(SPANS)
def test_ages_rise_with_time(spans):
    found = activity(played(spans), 1400)
    for k in range(len(spans)):
        ages = found.age[found.note == k]
        assert (np.diff(ages) >= 0).all()


def test_plucked_notes_ring_longer():
    spans = [(1.0, 0.5)]

    def ring(sustained):
        found = activity(played(spans, sustained), 1400)
        gone = found.segment[found.age == AGES - 1]
        return sum(found.bounds[s + 1] - found.bounds[s] for s in gone)

    assert ring(False) > ring(True) > 0


def test_a_note_after_the_end_is_nowhere():
    found = activity(played([(0.0, 1.0), (50.0, 1.0)]), 100)
    assert set(found.note) == {0}


def test_no_notes_are_one_segment():
    found = activity(played([]), 100)
    assert list(found.bounds) == [0, 100]
    assert found.segment.size == 0
