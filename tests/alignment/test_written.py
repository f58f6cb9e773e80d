"""Seconds from tempo marks: arithmetic of the metronome."""

import numpy as np
import pytest

from auditor.alignment.written import UNMARKED, written_tempo, written_timeline
from auditor.score.notes import Bar, Direction, Score


def page(tempos, directions=()) -> Score:
    bars = tuple(Bar(k, str(k + 1), k, 1, 4.0 * k, 4.0, t) for k, t in enumerate(tempos))
    return Score("", (), (), bars, (), len(bars), directions=tuple(directions))


def test_a_bar_of_four_at_sixty_lasts_four_seconds():
    times = written_timeline(page([60.0, None, 120.0]))
    lengths = [b.end_s - b.start_s for b in times.bars]
    assert lengths == pytest.approx([4.0, 4.0, 2.0])
    assert times.order == (0, 1, 2)


def test_places_and_times_are_each_other():
    times = written_timeline(page([60.0, 90.0, 120.0]))
    quarters = np.linspace(0, 12, 25)
    np.testing.assert_allclose(times.quarters(times.seconds(quarters)), quarters, atol=1e-9)


def test_without_a_mark_one_is_assumed_and_said():
    assert written_tempo(page([None, None])) == ((UNMARKED, UNMARKED), True)
    assert written_tempo(page([80.0, None])) == ((80.0, 80.0), False)


def test_words_stand_for_a_number_that_is_missing():
    slow, fast = (
        written_tempo(page([None], [Direction("tempo", 0, 0, 0.0, 0.0, word)]))[0][0]
        for word in ("Adagio", "Allegro molto")
    )
    assert slow < UNMARKED < fast


def test_an_empty_page_has_no_times():
    assert written_timeline(page([])).bars == ()
