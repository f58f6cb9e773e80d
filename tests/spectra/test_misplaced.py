"""Notes that sound elsewhere than written, on tones moved by known times."""

import numpy as np
import pytest

from auditor.sound.spectrum import RATE_HZ
from auditor.spectra.explained import explained
from auditor.spectra.misplaced import best_run, of_lines
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.stretches import NOTES, passages
from auditor.spectra.suspicions import suspicions
from auditor.spectra.timing import timings

GAIN_DB = 94.0
HORN = 1


@pytest.fixture(scope="module")
def slow(make_piece):
    """Three lines two octaves apart, twelve notes of a second each."""
    lines = {
        "flute": [86, 88, 90, 86, 85, 83, 86, 90, 88, 85, 81, 83],
        "horn": [60, 62, 57, 59, 64, 62, 60, 55, 57, 61, 63, 59],
        "cello": [38, 41, 43, 36, 45, 40, 38, 42, 44, 37, 39, 41],
    }
    return make_piece(lines, quarter_s=1.0)


def said(piece, stems):
    found = []
    mix_spectra(stems.sum(axis=0), piece.notes, piece.timbres, GAIN_DB, watch=found.append)
    mix = explained(found[0])
    return of_lines(timings(found[0], mix)), found[0]


def shifted(piece, seconds, first_s=0.0):
    """Move the horn from `first_s` on."""
    stems, by = piece.stems.copy(), round(abs(seconds) * RATE_HZ)
    a = round(first_s * RATE_HZ)
    horn = stems[HORN, a:]
    pad = (by, 0) if seconds > 0 else (0, by)
    moved = np.pad(horn, pad)
    stems[HORN, a:] = moved[: horn.size] if seconds > 0 else moved[by : by + horn.size]
    return stems


def test_notes_in_their_places_are_not_misplaced(slow):
    assert said(slow, slow.stems)[0] == []


@pytest.mark.parametrize("seconds", [-0.3, -0.2, 0.2, 0.3])
def test_a_line_that_is_moved_is_found_with_its_time(slow, seconds):
    runs, found = said(slow, shifted(slow, seconds))
    (run,) = runs
    assert run.line == HORN
    # A stretch of the mix in which nothing else begins is looked at as one: up to 0.28 s.
    assert run.seconds * np.sign(seconds) == pytest.approx(abs(seconds), abs=0.14)
    passages = suspicions(found).passages
    assert [(s.line, s.answer) for s in passages] == [
        (HORN, "late" if seconds > 0 else "early")
    ]


def test_a_passage_that_is_moved_is_found_in_its_place(slow):
    """The horn is late from its seventh note on; note 7 begins at 6.25 s."""
    (run,), _ = said(slow, shifted(slow, 0.25, first_s=6.25))
    onset = slow.notes.onset_s[run.notes]
    assert onset.min() >= 5.2
    assert onset.max() > 10.0


@pytest.mark.parametrize("seconds", [0.03, -0.03])
def test_what_an_alignment_may_be_wrong_by_is_no_fault(slow, seconds):
    assert said(slow, shifted(slow, seconds))[0] == []


def test_notes_cut_short_are_found_with_their_share(slow):
    """Every horn note of 0.95 s stops after 0.45 s."""
    stems = slow.stems.copy()
    for k in np.flatnonzero(slow.notes.line == HORN):
        a, b = (slow.notes.onset_s[k] + 0.45, slow.notes.offset_s[k])
        stems[HORN, round(a * RATE_HZ) : round(b * RATE_HZ) + 1] = 0.0
    runs, found = said(slow, stems)
    (run,) = runs
    assert (run.line, run.seconds) == (HORN, 0.0)
    # A window of 93 ms still holds the note 46 ms after its end; shares are tenths.
    assert run.kept == pytest.approx(0.47 + 0.05, abs=0.1)
    assert [s.answer for s in suspicions(found).passages] == ["short"]


def test_the_heaviest_run():
    """J. Bentley's own example of the maximum subarray (Programming Pearls, 1986, column 8)."""
    values = np.array([31, -41, 59, 26, -53, 58, 97, -93, -23, 84.0])
    assert best_run(values) == (2, 7, 187.0)
    assert best_run(np.array([-1.0, -2.0])) == (0, 0, 0.0)


def test_passages_are_cut_at_the_longest_gaps():
    onset = np.arange(2.0 * NOTES)
    onset[NOTES + 2 :] += 30.0
    first, second = passages(np.arange(2 * NOTES), onset)
    assert (first.size, second.size) == (NOTES + 2, NOTES - 2)


def test_a_passage_that_is_missing_is_found_where_it_is(make_piece):
    """Of 48 horn notes of half a second those from the 25th on are not played."""
    rng = np.random.default_rng(4)
    lines = {
        "flute": (rng.integers(81, 92, 48)).tolist(),
        "horn": (rng.integers(55, 65, 48)).tolist(),
        "cello": (rng.integers(36, 46, 48)).tolist(),
    }
    piece = make_piece(lines)
    stems = piece.stems.copy()
    stems[HORN, round((0.25 + 24 * 0.5) * RATE_HZ) :] = 0.0
    found = suspicions(said(piece, stems)[1])
    assert "missing" not in {s.answer for s in found.lines}
    (one,) = found.passages
    assert (one.line, one.answer) == (HORN, "missing")
    onset = piece.notes.onset_s[one.notes]
    assert onset.min() >= 11.0
    whole = suspicions(said(piece, piece.stems)[1])
    assert whole.passages == ()
