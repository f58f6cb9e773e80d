"""Lines in the stereo image: what panning adds, and where it must change nothing."""

import numpy as np
import pytest

from auditor.sound.spectrum import RATE_HZ, pooled_power
from auditor.spectra.mixture import mix_spectra

GAIN_DB = 90.0
ACTIVE, UNISON = slice(20, 130), slice(60, 135)


def levels(spectra, frames=ACTIVE):
    power = 10 ** (spectra.level_db[:, frames] / 10.0)
    return 10 * np.log10(power.sum(axis=2).mean(axis=1))


def panned(stems, pans):
    """Middle and side of constant-power panning: cosine and sine of (pan + 1) * 45 degrees."""
    angle = (np.array(pans) + 1) * np.pi / 4
    left, right = (
        (gain[:, None] * stems).sum(axis=0) for gain in (np.cos(angle), np.sin(angle))
    )
    return ((left + right) / 2).astype(np.float32), ((left - right) / 2).astype(np.float32)


def seat_of(pan):
    """Side over middle of an amplitude-panned source."""
    angle = (np.array(pan) + 1) * np.pi / 4
    left, right = np.cos(angle), np.sin(angle)
    return (left - right) / (left + right)


@pytest.fixture(scope="module")
def twins(make_piece):
    """Two flutes: a note alone each, then four in unison, where the second is 8 dB softer.

    It is an eighth of a tone sharp: two players are never in phase for long, and waves that
    were would be one source between them.
    """
    first, second = [74, 0, 78, 79, 81, 79], [0, 74, 78, 79, 81, 79]
    both = make_piece({"flute": first, "oboe": second})
    sharp = make_piece({"oboe": [pitch and pitch + 0.25 for pitch in second]})
    stems = np.stack([both.stems[0], sharp.stems[0]])
    stems[1, round(1.25 * RATE_HZ) :] *= 0.4
    notes = both.notes
    alike = type(notes)(
        line=notes.line, onset_s=notes.onset_s, offset_s=notes.offset_s, pitch=notes.pitch,
        dynamic=notes.dynamic, sustained=notes.sustained, timbre=np.zeros_like(notes.timbre),
        timbres=("flute",), level_db=np.zeros(notes.line.size),
    )  # fmt: skip
    return stems, alike, (both.timbres[0],) * 2


def decomposed(twins, pans):
    stems, notes, timbres = twins
    middle, side = panned(stems, pans)
    found = []
    spectra = mix_spectra(middle, notes, timbres, GAIN_DB, side=side, watch=found.append)
    return spectra, found[0].fitted.seat


@pytest.mark.parametrize("part", [0.0, 0.4, -1.0])
def test_a_side_that_says_nothing_new_changes_nothing(three, part):
    """Two equal channels, the balance turned aside, and one channel alone are mono."""
    mix = three.stems.sum(axis=0)
    mono = mix_spectra(mix, three.notes, three.timbres, GAIN_DB)
    told = mix_spectra(
        mix, three.notes, three.timbres, GAIN_DB, side=(part * mix).astype(np.float32)
    )
    np.testing.assert_array_equal(told.level_db, mono.level_db)


def test_lines_are_found_where_they_were_panned(three):
    pans = (-0.6, 0.0, 0.5)
    middle, side = panned(three.stems, pans)
    found = []
    mix_spectra(middle, three.notes, three.timbres, GAIN_DB, side=side, watch=found.append)
    np.testing.assert_allclose(found[0].fitted.seat, seat_of(pans), atol=0.1)


def test_left_and_right_may_be_exchanged(three):
    middle, side = panned(three.stems, (-0.6, 0.0, 0.5))
    one = mix_spectra(middle, three.notes, three.timbres, GAIN_DB, side=side)
    other = mix_spectra(middle, three.notes, three.timbres, GAIN_DB, side=-side)
    np.testing.assert_allclose(levels(one), levels(other), atol=0.05)


def test_the_image_tells_twins_apart_that_mono_cannot(twins):
    """Two equal instruments in unison, seated apart: who is the louder, and by how much."""
    pans = (-0.7, 0.7)
    spectra, seat = decomposed(twins, pans)
    alone = np.stack([panned(twins[0][[k]], [pan])[0] for k, pan in enumerate(pans)])
    power = np.stack([pooled_power(stem)[UNISON].sum() for stem in alone])
    true_db = 10 * np.log10(power[0] / power[1])
    np.testing.assert_allclose(seat, seat_of(pans), atol=0.1)
    mono = mix_spectra(alone.sum(axis=0), twins[1], twins[2], GAIN_DB)
    told, blind = (levels(each, UNISON) for each in (spectra, mono))
    assert told[0] - told[1] == pytest.approx(true_db, abs=2.0)
    assert abs(told[0] - told[1] - true_db) < 0.5 * abs(blind[0] - blind[1] - true_db)
