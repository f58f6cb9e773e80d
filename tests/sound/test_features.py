import numpy as np
import pytest

from auditor.sound.features import CHROMA_FPS, LOWEST, ONSET_FPS, PITCH_FPS, listen


def tones(plan: list[tuple[float, float, float]], seconds: float) -> np.ndarray:
    """Sines of (start, end, Hz) with 5 ms ramps."""
    t = np.arange(round(seconds * 44_100)) / 44_100
    out = np.zeros(t.size)
    for start, end, hz in plan:
        gate = np.clip(np.minimum(t - start, end - t) / 0.005, 0, 1)
        out += 0.3 * gate * np.sin(2 * np.pi * hz * t)
    return out.astype(np.float32)


# ISO 16:1975 fixes A4 at 440 Hz; equal temperament gives C4 261.626, E5 659.255, G3 195.998,
# A5 880, C6 1046.502 Hz (tables of equal temperament in any acoustics handbook).
@pytest.mark.parametrize(
    ("hz", "midi"),
    [(440.0, 69), (261.626, 60), (659.255, 76), (195.998, 55), (880.0, 81), (1046.502, 84)],
)
def test_bins_are_centred_on_the_standard_tuning(hz, midi):
    found = listen(tones([(0.0, 2.0, hz)], 2.0))
    assert np.argmax(found.pitch[PITCH_FPS]) == midi - LOWEST
    assert np.argmax(found.chroma[CHROMA_FPS]) == midi % 12
    assert abs(found.tuning) < 0.06


def test_tuning_is_heard():
    plan = [(0.0, 3.0, 440.0 * 2 ** ((k + 0.3) / 12)) for k in (-5, 0, 7)]
    assert listen(tones(plan, 3.0)).tuning == pytest.approx(0.3, abs=0.05)


def test_rises_come_at_the_onset():
    onsets = (0.5, 1.1, 1.83)
    plan = [(s, s + 0.4, hz) for s, hz in zip(onsets, (440.0, 523.25, 659.26), strict=True)]
    broad = listen(tones(plan, 2.5)).flux[:, -1]
    for onset in onsets:
        near = slice(round((onset - 0.1) * ONSET_FPS), round((onset + 0.1) * ONSET_FPS))
        heard = (near.start + np.argmax(broad[near])) / ONSET_FPS
        assert abs(heard - onset) <= 0.02


def test_frames_cover_the_sound():
    found = listen(tones([(0.0, 3.3, 440.0)], 3.33))
    assert len(found.flux) == 2 * len(found.pitch) == 10 * len(found.chroma)
    assert len(found.flux) >= 333
    assert found.duration_s == pytest.approx(3.33, abs=0.001)


def test_louder_is_no_different():
    quiet = tones([(0.2, 0.9, 440.0), (1.0, 1.6, 550.0)], 2.0)
    a, b = listen(quiet), listen(2 * quiet)
    # Half precision (IEEE 754) steps by 2^-8 between 4 and 8, where log powers lie.
    np.testing.assert_allclose(a.flux, b.flux, atol=2**-7)
    np.testing.assert_allclose(a.level_db, b.level_db, atol=1e-3)
