import numpy as np

from auditor.spectra.line_spectra import FLOOR_DB, heard_power
from auditor.spectra.palette import LineTimbre, Palette, atom_rows
from auditor.timbre.templates import AGES, SOURCES

LINES = (
    LineTimbre("flute", "woodwind", "sustained", True),
    LineTimbre("viola", "strings", "sustained", True),
)
# Line, timbre and pitch of each colour; colour, dynamic step and age of each atom.
COLOURS = np.array([[0, 0, 72], [0, 0, 79], [1, 1, 60]])
ATOMS = np.array([[c, s, a] for c in range(3) for s in (1, 4) for a in range(AGES)])


def rows_of(atoms):
    palette = Palette(LINES, 0.1, SOURCES, None)
    return atom_rows(atoms, COLOURS, ("flute", "viola"), palette)


def test_templates_do_not_depend_on_the_order_they_are_asked_in():
    order = np.random.default_rng(1).permutation(len(ATOMS))
    rows, unlike = rows_of(ATOMS)
    mixed_rows, mixed_unlike = rows_of(ATOMS[order])
    np.testing.assert_array_equal(mixed_rows, rows[order])
    np.testing.assert_array_equal(mixed_unlike, unlike[:, order])


def test_what_sources_have_apart_has_no_mean():
    """The template is their middle, in dB."""
    _, unlike = rows_of(ATOMS)
    assert np.abs(unlike).max() > 0.1
    for pitched in unlike.transpose(1, 0, 2):
        np.testing.assert_allclose(pitched.sum(axis=0), 0.0, atol=1e-4)


def test_nothing_asked_is_nothing_given():
    rows, unlike = rows_of(ATOMS[:0])
    assert len(rows) == 0
    assert unlike.shape[1] == 0


def test_power_of_levels_knows_silence():
    power = heard_power(np.array([FLOOR_DB, 0.0, 60.0], np.float32))
    np.testing.assert_allclose(power, [0.0, 1.0, 1e6])
