"""A stem handed on between the lines of one part."""

import numpy as np

from auditor.spectra.sharing import AHEAD_S, handed_on

RATE = 1000


def shared(line, onset, offset, parts=(1, 1, 2), seconds=10):
    rng = np.random.default_rng(3)
    one, other = rng.normal(size=(2, seconds * RATE)).astype(np.float32)
    stems = np.stack([one, one, other])
    out = handed_on(
        stems, parts, np.array(line), np.array(onset, float), np.array(offset, float), RATE
    )
    return stems, out


def test_shares_add_up_to_the_stem():
    stems, out = shared([0, 1, 0, 2], [1, 4, 7, 0], [2, 5, 8, 9])
    np.testing.assert_allclose(out[0] + out[1], stems[0], atol=1e-5)
    np.testing.assert_array_equal(out[2], stems[2])


def test_each_line_has_its_own_notes_and_not_the_others():
    stems, out = shared([0, 1, 2], [1, 5, 0], [2, 6, 9])
    notes = slice(1 * RATE, 2 * RATE)
    np.testing.assert_allclose(out[0, notes], stems[0, notes], rtol=1e-5)
    assert not out[1, notes].any()
    later = slice(int((5 - AHEAD_S + 0.01) * RATE), None)
    np.testing.assert_allclose(out[1, later], stems[1, later], rtol=1e-5)
    assert np.abs(out[0, later]).max() < 1e-5


def test_a_note_that_still_sounds_is_not_cut():
    stems, out = shared([0, 1], [1, 5], [4.8, 6])
    held = slice(1 * RATE, int(4.78 * RATE))
    np.testing.assert_allclose(out[0, held], stems[0, held], rtol=1e-5)


def test_parts_of_one_line_and_parts_never_played_stay():
    stems, out = shared([0, 1, 2], [1, 3, 5], [2, 4, 6], parts=(1, 2, 3))
    assert out is stems
    stems, out = shared([2, 0], [1, np.nan], [2, np.nan])
    np.testing.assert_array_equal(out, stems)
