from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from auditor.errors import AudioError
from auditor.sound.reading import read_sound

Frames = NDArray[np.float64]


def tone(
    seconds: float = 2.0, rate: int = 44_100, hz: float = 440.0, peak: float = 0.5
) -> Frames:
    return peak * np.sin(2 * np.pi * hz * np.arange(round(seconds * rate)) / rate)


def write(path: Path, frames: Frames, rate: int = 44_100, **how: str) -> Path:
    soundfile.write(path, frames, rate, **how)
    return path


# Subtypes and containers as libsndfile lists them; the quantisation step of each depth
# bounds the error (lossy codings: a tone must keep its power within 1 dB).
@pytest.mark.parametrize(
    ("suffix", "how", "step"),
    [
        (".wav", {"subtype": "PCM_16"}, 2.0**-15),
        (".wav", {"subtype": "PCM_24"}, 2.0**-23),
        (".wav", {"subtype": "PCM_U8"}, 2.0**-7),
        (".wav", {"subtype": "FLOAT"}, 2.0**-23),
        (".wav", {"subtype": "DOUBLE"}, 2.0**-23),
        (".rf64", {"subtype": "PCM_24", "format": "RF64"}, 2.0**-23),
        (".w64", {"subtype": "PCM_24"}, 2.0**-23),
        (".flac", {"subtype": "PCM_24"}, 2.0**-23),
        (".aiff", {"subtype": "PCM_24"}, 2.0**-23),
        (".caf", {"subtype": "PCM_24"}, 2.0**-23),
    ],
)
def test_lossless_files_come_back_as_written(tmp_path, suffix, how, step):
    path = write(tmp_path / f"a{suffix}", tone(), **how)
    sound = read_sound(path)
    # Twice the step: rounding, and the mean that is taken out.
    np.testing.assert_allclose(sound.samples, tone(), atol=2 * step + 1e-6)
    assert sound.samples.dtype == np.float32
    assert (sound.rate_hz, sound.channels, sound.remarks) == (44_100, 1, ())


@pytest.mark.parametrize(
    ("suffix", "how", "rate"),
    [
        (".ogg", {"subtype": "VORBIS"}, 44_100),
        (".opus", {"subtype": "OPUS", "format": "OGG"}, 48_000),
        (".mp3", {"subtype": "MPEG_LAYER_III"}, 44_100),
    ],
)
def test_lossy_files_keep_the_power_of_a_tone(tmp_path, suffix, how, rate):
    sound = read_sound(write(tmp_path / f"a{suffix}", tone(rate=rate), rate, **how))
    middle = sound.samples[22_050:66_150]
    assert abs(10 * np.log10(np.mean(middle**2) / 0.125)) < 1.0


@pytest.mark.parametrize("rate", [8000, 22_050, 48_000, 96_000, 192_000])
def test_every_rate_becomes_the_working_rate(tmp_path, rate):
    sound = read_sound(write(tmp_path / "a.wav", tone(rate=rate), rate, subtype="FLOAT"))
    assert sound.rate_hz == rate
    assert abs(sound.samples.size - 88_200) <= 2
    # The ends ring; the middle must be the same tone in place and height.
    np.testing.assert_allclose(
        sound.samples[4410:-4410], tone()[4410:-4410][: sound.samples.size - 8820], atol=2e-3
    )


def test_low_rate_says_what_cannot_be_judged(tmp_path):
    sound = read_sound(write(tmp_path / "a.wav", tone(rate=8000), 8000))
    assert sound.remarks == (
        "the file is sampled at 8000 Hz: nothing above 4 kHz can be judged",
    )


def test_high_rate_says_what_was_left_out(tmp_path):
    sound = read_sound(write(tmp_path / "a.wav", tone(rate=192_000), 192_000))
    assert "sound above 22 kHz was left out" in sound.remarks[0]


def test_channels_are_averaged(tmp_path):
    both = np.stack([tone(), 0.5 * tone()], axis=1)
    sound = read_sound(write(tmp_path / "a.wav", both, subtype="FLOAT"))
    np.testing.assert_allclose(sound.samples, 0.75 * tone(), atol=1e-6)
    assert sound.channels == 2


def test_six_channels_are_taken_and_said(tmp_path):
    six = np.stack([tone(hz=100.0 * k) for k in range(1, 7)], axis=1)
    sound = read_sound(write(tmp_path / "a.wav", six))
    assert sound.channels == 6
    assert sound.remarks == ("6 channels were averaged into one",)


def test_opposite_channels_are_not_lost(tmp_path):
    sound = read_sound(write(tmp_path / "a.wav", np.stack([tone(), -tone()], axis=1)))
    assert np.abs(sound.samples).max() > 0.45
    assert "cancel" in sound.remarks[0]


def test_channels_that_partly_cancel_are_said(tmp_path):
    sound = read_sound(write(tmp_path / "a.wav", np.stack([tone(), -0.6 * tone()], axis=1)))
    assert any("partly cancel" in r for r in sound.remarks)


def test_unlike_channels_do_not_count_as_cancelling(tmp_path):
    both = np.stack([tone(), tone(hz=550.0)], axis=1)
    assert read_sound(write(tmp_path / "a.wav", both)).remarks == ()


def test_silent_channel_is_said(tmp_path):
    both = np.stack([tone(), np.zeros(88_200)], axis=1)
    assert "silent: 2" in read_sound(write(tmp_path / "a.wav", both)).remarks[0]


def test_constant_offset_is_removed_and_said(tmp_path):
    sound = read_sound(write(tmp_path / "a.wav", tone() + 0.1))
    assert abs(float(sound.samples.mean())) < 1e-4
    assert "offset of 10.0 %" in sound.remarks[0]


def test_clipping_is_said_and_an_honest_peak_is_not(tmp_path):
    loud = np.clip(tone(peak=1.5), -1, 1)
    assert any("clipped" in r for r in read_sound(write(tmp_path / "a.wav", loud)).remarks)
    honest = tone(peak=0.9)
    honest[1000] = 1.0
    assert read_sound(write(tmp_path / "b.wav", honest)).remarks == ()


def test_silence_inside_is_said(tmp_path):
    gap = np.concatenate([tone(), np.zeros(3 * 44_100), tone()])
    assert read_sound(write(tmp_path / "a.wav", gap)).remarks == (
        "the sound is silent from 2.0 s to 5.0 s",
    )


@pytest.mark.parametrize(
    ("suffix", "how"),
    [
        (".wav", {}),
        (".rf64", {"format": "RF64"}),
        (".w64", {}),
        (".aiff", {}),
    ],
)
def test_a_file_cut_short_is_said(tmp_path, suffix, how):
    path = write(tmp_path / f"a{suffix}", tone(4.0), subtype="PCM_16", **how)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    sound = read_sound(path)
    assert sound.duration_s == pytest.approx(2.0, abs=0.1)
    assert any("promises 4.0 s" in r for r in sound.remarks), sound.remarks


def test_a_core_audio_file_cut_short_is_refused(tmp_path):
    path = write(tmp_path / "a.caf", tone(4.0))
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(AudioError, match="is cut short and cannot be decoded"):
        read_sound(path)


@pytest.mark.parametrize("suffix", [".flac", ".mp3"])
def test_a_compressed_file_cut_short_is_said(tmp_path, suffix):
    path = write(tmp_path / f"a{suffix}", tone(6.0))
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    sound = read_sound(path)
    assert 1.0 < sound.duration_s < 5.0
    assert any("cut short" in r or "breaks off" in r for r in sound.remarks), sound.remarks


def test_a_streamed_wave_without_a_size_is_whole(tmp_path):
    path = write(tmp_path / "a.wav", tone(), subtype="PCM_16")
    data = bytearray(path.read_bytes())
    data[4:8] = data[40:44] = b"\xff\xff\xff\xff"
    path.write_bytes(data)
    sound = read_sound(path)
    assert sound.duration_s == pytest.approx(2.0, abs=0.01)
    assert sound.remarks == ()


def test_missing_file(tmp_path):
    with pytest.raises(AudioError, match="does not exist"):
        read_sound(tmp_path / "none.wav")


def test_folder(tmp_path):
    with pytest.raises(AudioError, match="is not a file"):
        read_sound(tmp_path)


def test_empty_file(tmp_path):
    (tmp_path / "a.wav").touch()
    with pytest.raises(AudioError, match="is empty"):
        read_sound(tmp_path / "a.wav")


@pytest.mark.parametrize("name", ["a.wav", "a.mp3", "a.raw", "a.flac", "a"])
def test_text_is_no_sound(tmp_path, name):
    (tmp_path / name).write_text("Andante con moto\n" * 500)
    with pytest.raises(AudioError, match="not a sound file that can be read"):
        read_sound(tmp_path / name)


# Heads of ISO base media (ISO/IEC 14496-12, "ftyp" box) and ADTS (ISO/IEC 13818-7).
@pytest.mark.parametrize(
    "head", [b"\0\0\0\x20ftypM4A \0\0\0\0", b"\xff\xf1\x50\x80\x00\x1f\xfc"]
)
def test_aac_says_what_to_do(tmp_path, head):
    (tmp_path / "a.m4a").write_bytes(head + bytes(1000))
    with pytest.raises(AudioError, match="convert it to WAV or FLAC"):
        read_sound(tmp_path / "a.m4a")


def test_header_without_samples(tmp_path):
    with pytest.raises(AudioError, match="holds no samples"):
        read_sound(write(tmp_path / "a.wav", np.zeros(0)))


def test_too_short(tmp_path):
    with pytest.raises(AudioError, match=r"lasts 0\.50 s"):
        read_sound(write(tmp_path / "a.wav", tone(0.5)))


@pytest.mark.parametrize("still", [0.0, 0.3])
def test_silent_even_with_an_offset(tmp_path, still):
    with pytest.raises(AudioError, match="is silent"):
        read_sound(write(tmp_path / "a.wav", np.full(88_200, still)))


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_samples_that_are_not_numbers(tmp_path, bad):
    frames = tone()
    frames[44_100] = bad
    with pytest.raises(AudioError, match=r"not numbers \(first at 1\.00 s\)"):
        read_sound(write(tmp_path / "a.wav", frames, subtype="FLOAT"))


def test_rate_too_low(tmp_path):
    with pytest.raises(AudioError, match="sampled at 2000 Hz"):
        read_sound(write(tmp_path / "a.wav", tone(rate=2000), 2000))


def test_the_side_is_half_of_left_less_right(tmp_path: Path) -> None:
    left, right = tone(hz=440.0), tone(hz=660.0, peak=0.2)
    path = write(tmp_path / "two.wav", np.stack([left, right], axis=1), subtype="FLOAT")
    sound = read_sound(path, stereo=True)
    assert sound.side is not None
    np.testing.assert_allclose(sound.samples + sound.side, left, atol=1e-6)
    np.testing.assert_allclose(sound.samples - sound.side, right, atol=1e-6)
    assert read_sound(path).side is None


@pytest.mark.parametrize("channels", [1, 3])
def test_only_two_channels_have_a_side(tmp_path: Path, channels: int) -> None:
    path = write(tmp_path / "other.wav", np.stack([tone()] * channels, axis=1))
    assert read_sound(path, stereo=True).side is None
