"""The short way of hearing several levels is the long way, heard once for each."""

from dataclasses import replace

import numpy as np
import pytest

from auditor.hearing.audibility import listen
from auditor.hearing.drawn import ratios_when_moved
from auditor.hearing.measures import Group, Limits
from auditor.spectra.line_spectra import FLOOR_DB


@pytest.fixture
def three(made):
    """Tune, its octave, and chords under both, in four notes each."""
    bands = [made.band_levels(*made.harmonic(hz, 62.0)) for hz in (440.0, 880.0, 330.0)]
    entries = [[(25 * k, 25 * k + 20, own) for k in range(4)] for own in bands]
    notes = [
        (line, 25 * k * made.step_s, (25 * k + 20) * made.step_s, pitch)
        for line, pitch in enumerate((69, 81, 64))
        for k in range(4)
    ]
    spectra = made.spectra(entries)
    windows = made.windows(notes, ("flute", "oboe", "horn"))
    return spectra, windows, [Group("strand", np.arange(8))]


def moved(spectra, by_db):
    level = spectra.level_db
    louder = level + np.asarray(by_db, np.float32)[:, None, None]
    return replace(spectra, level_db=np.where(level <= FLOOR_DB, level, louder))


def test_each_level_is_heard_as_if_alone(three):
    spectra, windows, groups = three
    by_db = np.array([[0.0, 0.0, 0.0], [3.0, -5.0, 1.0], [-12.0, 0.0, 6.0]])
    drawn = ratios_when_moved(spectra, windows, groups, by_db)
    for k, own in enumerate(by_db):
        heard = listen(moved(spectra, own), windows, groups, Limits())
        for short, long in (
            (drawn.notes, heard.notes), (drawn.lines, heard.lines), (drawn.groups, heard.groups)
        ):  # fmt: skip
            np.testing.assert_allclose(short[k], long.distinct_ratio, rtol=1e-4)


def test_a_stride_is_a_sound_of_fewer_frames(three):
    spectra, windows, groups = three
    few = replace(
        spectra,
        level_db=spectra.level_db[:, ::3],
        frame_s=spectra.frame_s[::3],
        confidence=spectra.confidence[:, ::3],
    )
    drawn = ratios_when_moved(spectra, windows, groups, np.zeros((1, 3)), stride=3)
    heard = listen(few, windows, groups, Limits())
    np.testing.assert_allclose(drawn.notes[0], heard.notes.distinct_ratio, rtol=1e-4)


def test_notes_without_a_place_have_no_ratio(three):
    spectra, windows, groups = three
    onset = windows.onset_s.copy()
    onset[3] = np.nan
    nowhere = replace(windows, onset_s=onset)
    drawn = ratios_when_moved(spectra, nowhere, groups, np.zeros((2, 3)))
    assert np.isnan(drawn.notes[:, 3]).all()
    assert np.isfinite(np.delete(drawn.notes, 3, axis=1)).all()
