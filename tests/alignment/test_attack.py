import numpy as np
import pytest

from auditor.alignment.attack import latency_s


def rises(width: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Forty notes whose rise begins `width` frames before the steepest place."""
    flux = np.zeros((5000, 86), np.float32)
    peaks = np.arange(100, 4900, 120)
    pitch = np.full(peaks.size, 40)
    for peak in peaks:
        for lag in range(-width, width + 1):
            flux[peak + lag, [40, 52]] += 1 - abs(lag) / (width + 1)
    return flux, peaks / 100.0, pitch


def test_slower_rises_are_later():
    found = [latency_s(*rises(width)) for width in (1, 3, 5, 8)]
    assert np.all(np.diff(found) > 0)


def test_latency_stays_within_what_was_measured():
    # Bowed and blown attacks reach their steepest within about 50 ms of the note-on.
    for width in (0, 2, 14):
        assert -0.02 <= latency_s(*rises(width)) <= 0.05


def test_few_notes_get_the_usual_latency():
    flux, onset, pitch = rises(3)
    assert latency_s(flux, onset[:5], pitch[:5]) == pytest.approx(0.008)


def test_the_end_of_an_earlier_note_is_no_attack():
    flux, onset, pitch = rises(3)
    before = flux.copy()
    for peak in np.rint(onset * 100).astype(int):
        before[peak - 9 : peak - 6, [40, 52]] += 0.3
    assert latency_s(before, onset, pitch) == pytest.approx(
        latency_s(flux, onset, pitch), abs=1e-3
    )
