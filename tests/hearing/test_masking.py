import numpy as np
import pytest

from auditor.hearing.bands import band_tables
from auditor.hearing.loudness import loudness_sone, partial_loudness_sone
from auditor.hearing.masking import (
    ALONE,
    BELOW,
    DISTINCT,
    FIGURES,
    FORWARD_DECAY_DB_PER_S,
    PARTIAL,
    add_spans,
    hear_frames,
    linger,
    packed,
    sum_spans,
)
from auditor.spectra.line_spectra import BAND_CAM

TABLES = band_tables(BAND_CAM)


def compiled(target, masker, extra):
    frames, rows, bands = target.shape
    figures = np.zeros((frames, rows, FIGURES), np.float32)
    lost = np.zeros((frames, rows, 5), np.float32)
    pull = np.zeros(target.shape, np.float32)
    hear_frames(
        target, masker, extra, packed(TABLES), TABLES.step, np.arange(bands) // 15, 0.05,
        figures, lost, pull,
    )  # fmt: skip
    return figures, lost


@pytest.fixture
def random_excitations():
    rng = np.random.default_rng(3)
    shape = (6, 4, BAND_CAM.size)
    return [(10 ** rng.uniform(-2, 11, shape)).astype(np.float32) for _ in range(3)]


def test_compiled_loops_follow_the_formulas(random_excitations):
    target, masker, extra = random_excitations
    figures, lost = compiled(target, masker, extra)
    s, m, x = (a.astype(np.float64) for a in random_excitations)
    alone, left = loudness_sone(s, TABLES), partial_loudness_sone(s, m, TABLES)
    distinct = partial_loudness_sone(s, m + x, TABLES)
    # Single precision, and bands under a thousandth of threshold left out.
    np.testing.assert_allclose(figures[..., ALONE], alone, rtol=1e-4)
    np.testing.assert_allclose(figures[..., PARTIAL], left, rtol=1e-3, atol=1e-3)
    np.testing.assert_allclose(figures[..., DISTINCT], distinct, rtol=1e-3, atol=1e-3)
    np.testing.assert_allclose(lost.sum(-1), alone - left, rtol=1e-3, atol=2e-3)
    covered = figures[..., DISTINCT] < 0.05 * figures[..., ALONE]
    np.testing.assert_array_equal(figures[..., BELOW] > 0, covered)


def test_nothing_heard_of_nothing(random_excitations):
    _, masker, extra = random_excitations
    figures, lost = compiled(np.zeros_like(masker), masker, extra)
    assert not figures.any()
    assert not lost.any()


def test_what_lingers_is_gone_within_two_tenths_of_a_second():
    # Jesteadt, Bacon and Lehman (1982): forward masking is over by about 200 ms; here a
    # masker of 60 dB has sunk under 0 dB excitation by then, and one frame costs 7 dB.
    step_s = 1024 / 44_100
    keep = 10 ** (-FORWARD_DECAY_DB_PER_S * step_s / 10)
    sound = np.zeros((12, 1, 1), np.float32)
    sound[0] = 1e6
    level = 10 * np.log10(linger(sound, np.zeros((1, 1), np.float32), keep)[:, 0, 0])
    assert np.diff(level) == pytest.approx(np.full(11, -7.0), abs=1e-3)
    assert level[int(0.2 / step_s) + 1] < 0.0


def test_lingering_goes_on_across_blocks():
    rng = np.random.default_rng(4)
    sound = (10 ** rng.uniform(0, 8, (50, 3, 7))).astype(np.float32)
    whole = linger(sound, np.zeros((3, 7), np.float32), 0.2)
    state = np.zeros((3, 7), np.float32)
    parts = [linger(sound[a : a + 13], state, 0.2) for a in range(0, 50, 13)]
    np.testing.assert_array_equal(np.concatenate(parts), whole)


def test_spans_are_marked_and_summed_inside_a_block():
    one = np.zeros(1, np.int64)
    marked = np.zeros((4, 2, 3), np.float32)
    add_spans(marked, 10, one + 8, one + 12, one + 1, one + 2)
    assert marked[:, 1, 2].tolist() == [1, 1, 0, 0]
    assert marked.sum() == 2
    total = np.zeros((1, 3))
    sum_spans(marked, 10, one + 11, one + 99, one + 1, total)
    assert total.tolist() == [[0, 0, 1]]
