import numpy as np
import pytest

from auditor.errors import AudioError, InputError
from auditor.sound.level import active_level_db, calibration_db, integrated_lufs


def tone(hz: float, peak_dbfs: float, seconds: float, rate: int = 48_000, channels: int = 1):
    wave = 10 ** (peak_dbfs / 20) * np.sin(
        2 * np.pi * hz * np.arange(round(seconds * rate)) / rate
    )
    return np.repeat(wave[:, None], channels, axis=1).astype(np.float32)


def test_full_scale_tone_of_the_standard():
    # ITU-R BS.1770-5: 997 Hz at 0 dB full scale in one front channel reads -3.01 LKFS;
    # EBU Tech 3341 grants a meter 0.1 LU.
    assert integrated_lufs(tone(997.0, 0.0, 5.0)[:, 0], 48_000) == pytest.approx(-3.01, abs=0.1)


# EBU Tech 3341, minimum requirements, test cases 1 to 5 (stereo sine, 1000 Hz; level in dBFS
# and length in seconds of each stretch), expected integrated loudness, tolerance 0.1 LU.
@pytest.mark.parametrize(
    ("stretches", "expected"),
    [
        ([(-23.0, 20.0)], -23.0),
        ([(-33.0, 20.0)], -33.0),
        ([(-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)], -23.0),
        ([(-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)], -23.0),
        ([(-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)], -23.0),
    ],
)
def test_ebu_cases(stretches, expected):
    sound = np.concatenate([tone(1000.0, level, s, channels=2) for level, s in stretches])
    assert integrated_lufs(sound, 48_000) == pytest.approx(expected, abs=0.1)


def test_loudness_needs_one_gating_block():
    with pytest.raises(AudioError, match=r"needs 0\.4 s"):
        integrated_lufs(np.zeros(1000, dtype=np.float32), 48_000)


def test_all_gated_out_is_minus_infinity():
    assert integrated_lufs(np.zeros(48_000, dtype=np.float32), 48_000) == -np.inf


def test_active_level_of_a_sine_is_its_mean_square():
    # The mean square of a sine is half the square of its peak: -3.01 dB.
    assert active_level_db(tone(1000.0, -20.0, 2.0)[:, 0], 48_000) == pytest.approx(
        -23.01, abs=0.01
    )


def test_rests_do_not_raise_the_gain():
    music = tone(440.0, -20.0, 4.0, 44_100)[:, 0]
    with_rest = np.concatenate([music, np.zeros(44_100 * 4, dtype=np.float32)])
    assert calibration_db(with_rest) == pytest.approx(calibration_db(music), abs=0.01)


def test_calibrated_mix_has_the_level_asked_for():
    music = tone(440.0, -12.0, 2.0, 44_100)[:, 0]
    power = np.mean(music.astype(np.float64) ** 2)
    level = 10 * np.log10(power) + calibration_db(music, playback_db=75.0)
    assert level == pytest.approx(75.0, abs=0.01)


def test_a_louder_file_is_not_a_louder_room():
    music = tone(440.0, -12.0, 2.0, 44_100)[:, 0]
    assert calibration_db(music / 4) - calibration_db(music) == pytest.approx(12.04, abs=0.01)


@pytest.mark.parametrize("level", [20.0, 130.0, float("nan")])
def test_odd_playback_level(level):
    with pytest.raises(InputError, match="give 40 to 110"):
        calibration_db(tone(440.0, -12.0, 1.0)[:, 0], playback_db=level)


def test_silence_has_no_playback_level():
    with pytest.raises(AudioError, match="silent"):
        calibration_db(np.zeros(44_100, dtype=np.float32))
