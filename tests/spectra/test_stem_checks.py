"""Stems that hold other things than written, on tones known by construction."""

from pathlib import Path

import numpy as np
import pytest

from auditor.sound.spectrum import RATE_HZ
from auditor.sound.summing import add_up, thinned
from auditor.spectra.buses import Bus, Desk
from auditor.spectra.separating import Templates
from auditor.spectra.stem_checks import stem_suspicions
from auditor.spectra.unwritten import CLEARLY

GAIN_DB = 94.0
HORN = 1


class Shelf:
    """Stems in memory instead of files."""

    def __init__(self, stems):
        """Take the stems in the order of their rows."""
        self.stems = stems

    def sound(self, path):
        return self.stems[int(path.stem)]


def said(piece, stems, mix=None):
    buses = tuple(Bus(Path(f"{k}.wav"), (k,), (k + 1,)) for k in range(len(stems)))
    whole = stems.sum(axis=0) if mix is None else mix
    total = add_up([thinned(stem) for stem in stems], thinned(whole))
    desk = Desk(buses, (), (), stems.shape[1], total, (), Shelf(stems))
    return stem_suspicions(desk, whole, piece.notes, piece.timbres, GAIN_DB, Templates())


@pytest.fixture(scope="module")
def right(three):
    return said(three, three.stems)


def test_stems_that_hold_what_is_written_are_not_accused(right):
    assert [(s.line, s.answer) for s in right.lines] == [(k, "as written") for k in range(3)]
    assert right.passages == ()
    assert not right.foreign


def test_a_stem_an_octave_too_high_is_found_though_others_would_hide_it(three, make_piece):
    """All three lines sound at once, the others 40 dB louder: the stem is tried alone."""
    pitch = [int(p) + 12 for p in three.notes.pitch[three.notes.line == HORN]]
    stems = 100.0 * three.stems
    stems[HORN] = 0.01 * make_piece({"horn": pitch}).stems[0][: stems.shape[1]]
    horn = said(three, stems).lines[HORN]
    assert (horn.answer, horn.interval) == ("transposed", 12)
    notes = three.notes.line[horn.notes]
    assert set(notes.tolist()) == {HORN}


def test_a_late_stem_is_found_with_its_line(three):
    stems = three.stems.copy()
    by = round(0.2 * RATE_HZ)
    stems[HORN] = np.pad(stems[HORN], (by, 0))[: stems.shape[1]]
    (late,) = said(three, stems).passages
    assert (late.line, late.answer) == (HORN, "late")
    assert set(three.notes.line[late.notes].tolist()) == {HORN}


def test_a_late_scale_is_late_and_no_octave_off(make_piece):
    """Notes of a broken octave sound in each other's places when they come late by a note."""
    piece = make_piece({"horn": [62, 50] * 15, "flute": [86, 88, 90, 85, 83] * 6})
    stems = piece.stems.copy()
    by = round(0.25 * RATE_HZ)
    stems[0] = np.pad(stems[0], (by, 0))[: stems.shape[1]]
    answers = [x.answer for x in said(piece, stems).passages]
    assert "transposed" not in answers


def test_repeated_notes_that_come_late_are_told_by_their_attacks(make_piece):
    """One pitch throughout: where it is held does not show when it begins."""
    pitch = [62] * 30
    piece = make_piece({"horn": pitch, "flute": [86, 88, 90, 85, 83] * 6})
    stems = piece.stems.copy()
    by = round(0.2 * RATE_HZ)
    onset_s = piece.notes.onset_s[piece.notes.line == 0]
    a, z = (int(onset_s[k] * RATE_HZ) for k in (10, 20))
    stems[0, a:z] = np.concatenate([np.zeros(by, np.float32), piece.stems[0, a : z - by]])
    (late,) = said(piece, stems).passages
    assert (late.line, late.answer) == (0, "late")
    assert late.seconds == pytest.approx(0.2, abs=0.03)
    told = piece.notes.onset_s[late.notes]
    assert onset_s[8] < told.min() < onset_s[12]
    assert onset_s[17] < told.max() < onset_s[22]


def test_empty_stems_leave_nothing_to_try(three):
    assert said(three, np.zeros_like(three.stems)) is None


def test_a_layer_in_the_mix_that_is_in_no_stem_is_sound_nobody_wrote(three, make_piece):
    """An octave over the horn, for two seconds: beside the page alone nobody could tell it."""
    pitch = [int(p) + 12 for p in three.notes.pitch[three.notes.line == HORN]]
    layer = make_piece({"oboe": pitch})
    at = np.arange(three.stems.shape[1]) / RATE_HZ
    here = (at >= 1.0) & (at < 3.0)
    mix = three.stems.sum(axis=0)
    found = said(three, three.stems, mix + layer.stems[0][: mix.size] * here)
    assert found.foreign
    assert found.unwritten.beyond_stems
    start_s = found.unwritten.start_s[found.unwritten.rise > CLEARLY]
    assert start_s.min() == pytest.approx(1.0, abs=0.15)
    assert start_s.max() == pytest.approx(2.9, abs=0.15)


@pytest.mark.parametrize("gain", [0.6, 1.5])
def test_a_limiter_or_a_fader_in_one_place_is_nobodys_sound(three, gain):
    at = np.arange(three.stems.shape[1]) / RATE_HZ
    ridden = np.where((at >= 1.0) & (at < 3.0), gain, 1.0).astype(np.float32)
    assert not said(three, three.stems, three.stems.sum(axis=0) * ridden).foreign
