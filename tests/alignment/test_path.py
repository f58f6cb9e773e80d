from itertools import pairwise

import librosa
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.alignment import path


def rows(seed: int, frames: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    pitch = rng.random((frames, 85)).astype(np.float32)
    return path.unit_rows(pitch, 0.0), rng.random((frames, 86)).astype(np.float32)


def warped(heard, expected, band: int, block: int = 1000) -> np.ndarray:
    def of(pair):
        return lambda first, last: (pair[0][first:last], pair[1][first:last])

    return path.warp(of(heard), of(expected), len(heard[0]), band, block)


def costs(heard, expected) -> np.ndarray:
    apart = np.linalg.norm(heard[1][:, None, :-1] - expected[1][None, :, :-1], axis=2)
    jolt = np.abs(heard[1][:, None, -1] - expected[1][None, :, -1])
    return 1.0 - heard[0] @ expected[0].T + path.ONSET_WEIGHT * apart + path.BROAD_WEIGHT * jolt


@pytest.mark.parametrize("seed", range(6))
def test_warping_is_as_cheap_as_librosas(seed):
    # librosa.sequence.dtw with the same steps and weights is the reference; silence put
    # around both sounds is free, so the path may not use it here: the sounds end loud.
    heard, expected = rows(seed, 24), rows(seed + 100, 24)
    cost = costs(heard, expected)
    reference, _ = librosa.sequence.dtw(
        C=cost,
        step_sizes_sigma=np.array([[1, 1], [0, 1], [1, 0]]),
        weights_mul=np.array([path.DIAGONAL_WEIGHT, path.SINGLE_WEIGHT, path.SINGLE_WEIGHT]),
    )
    step = np.zeros((24, 47), np.int8)
    # All of the other sound is looked at from the first row on: 23 rows of silence before it.
    padded = [np.pad(r, ((23, 23), (0, 0))) for r in expected]
    path._accumulate(
        *heard,
        *padded,
        step,
        np.full(47, np.inf),
        0,
        24,
        23,
        path.SINGLE_WEIGHT,
        path.DIAGONAL_WEIGHT,
        path.ONSET_WEIGHT,
        path.BROAD_WEIGHT,
    )
    ours = path._trace(step, 23)
    total = path.DIAGONAL_WEIGHT * cost[0, 0]
    for (a, b), (i, j) in pairwise(ours):
        both = i > a and j > b
        total += (path.DIAGONAL_WEIGHT if both else path.SINGLE_WEIGHT) * cost[i, j]
    # librosa does not weigh the first cell.
    expected_total = reference[-1, -1] + (path.DIAGONAL_WEIGHT - 1) * cost[0, 0]
    assert total == pytest.approx(expected_total, rel=1e-4)


@given(st.integers(0, 1000), st.integers(8, 40), st.integers(2, 12))
def test_path_rises_and_stays_in_the_band(seed, frames, band):
    found = warped(rows(seed, frames), rows(seed + 1, frames), band)
    assert np.all(np.diff(found, axis=0) >= 0)
    assert np.all(np.abs(found[:, 0] - found[:, 1]) <= band)


def test_a_sound_follows_itself_on_the_diagonal():
    same = rows(3, 30)
    found = warped(same, same, 8)
    np.testing.assert_array_equal(found[:, 0], found[:, 1])


def test_a_late_start_is_found():
    pitch, onset = rows(4, 60)
    late = 5
    moved = [np.zeros_like(r) for r in (pitch, onset)]
    for old, new in zip((pitch, onset), moved, strict=True):
        new[late:] = old[:-late]
    found = path.first_heard(warped((moved[0], moved[1]), (pitch, onset), 10), 60)
    np.testing.assert_array_equal(found[:50], np.arange(50) + late)


def test_onset_rows_fade_and_do_not_blow_up_silence():
    flux = np.zeros((400, 86), np.float32)
    flux[50] = 1.0
    flux[300] = 1e-6
    out = path.onset_rows(flux, 100.0)
    assert np.all(np.diff(out[50:60], axis=0) < 0)
    assert np.abs(out[300]).max() < 1e-3


@pytest.mark.parametrize("block", [7, 16, 25])
def test_going_by_blocks_changes_nothing(block):
    heard, expected = rows(5, 60), rows(6, 60)
    np.testing.assert_array_equal(warped(heard, expected, 9, block), warped(heard, expected, 9))
