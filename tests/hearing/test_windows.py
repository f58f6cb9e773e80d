import numpy as np

from auditor.hearing.windows import companions, note_frames


def test_windows_by_kind_of_note(made):
    # Sustained: to the offset and 30 ms; struck: a quarter to six tenths of a second.
    notes = [(0, 0.0, 2.0, 60), (0, 0.0, 2.0, 60), (0, 0.0, 0.1, 60), (0, 1.0, 1.01, 60)]
    given = made.windows(notes, ["harp"], sustained=[True, False, False, True])
    frames = note_frames(given, np.arange(400) * made.step_s)
    length_s = (frames.stop - frames.start) * made.step_s
    expected = [2.03, 0.63, 0.28, 3 * made.step_s]
    assert np.all(length_s >= np.array(expected) - 1e-9)
    assert np.all(length_s <= np.array(expected) + 2 * made.step_s)


def test_notes_not_played_are_not_judged(made):
    given = made.windows([(0, np.nan, np.nan, 60), (0, 99.0, 99.5, 60)], ["oboe"])
    frames = note_frames(given, np.arange(100) * made.step_s)
    assert not frames.judged.any()
    assert not (frames.stop - frames.start).any()


def pairs(made, notes, instruments, sustained=None):
    given = made.windows(notes, instruments, sustained=sustained)
    found = companions(given, note_frames(given, np.arange(400) * made.step_s))
    return {
        (int(i), int(j), bool(f), bool(t))
        for i, j, f, t in zip(found.note, found.partner, found.fuses, found.twins, strict=True)
    }


def test_unison_and_octaves_fuse_both_ways(made):
    notes = [(0, 1.0, 2.0, 60), (1, 1.02, 2.0, 72), (2, 1.0, 2.0, 67)]
    found = pairs(made, notes, ["oboe", "flute", "horn"])
    assert found == {(0, 1, True, False), (1, 0, True, False)}


def test_what_does_not_fuse(made):
    apart = [(0, 1.0, 2.0, 60), (1, 1.05, 2.0, 60)]
    assert pairs(made, apart, ["oboe", "flute"]) == set()
    same_line = [(0, 1.0, 2.0, 60), (0, 1.0, 2.0, 72)]
    assert pairs(made, same_line, ["oboe", "flute"]) == set()
    plucked = [(0, 1.0, 2.0, 60), (1, 1.0, 2.0, 60)]
    assert pairs(made, plucked, ["oboe", "harp"], [True, False]) == set()
    unpitched = [(0, 1.0, 2.0, 0), (1, 1.0, 2.0, 0)]
    assert pairs(made, unpitched, ["snare", "cymbals"], [False, False]) == set()


def test_two_timpani_fuse_at_any_interval(made):
    notes = [(0, 1.0, 2.0, 45), (1, 1.0, 2.0, 53)]
    assert pairs(made, notes, ["timpani", "timpani"], [False, False]) == {
        (0, 1, True, False),
        (1, 0, True, False),
    }


def test_equal_instruments_in_unison_are_twins(made):
    notes = [(0, 1.0, 2.0, 60), (1, 1.0, 2.0, 60)]
    assert (0, 1, True, True) in pairs(made, notes, ["horn", "horn"])
    assert (0, 1, True, False) in pairs(made, notes, ["horn", "oboe"])
