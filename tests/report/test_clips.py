"""Clips: what is cut, how long, and that the bytes stay the same."""

import base64
import io
import math

import numpy as np
import pytest
import soundfile

from auditor.report.clips import FADE_S, LONGEST_S, RATE_HZ, cut, data_uri, reach


@pytest.fixture(scope="module")
def tone():
    t = np.arange(20 * RATE_HZ) / RATE_HZ
    return (0.25 * np.sin(2 * np.pi * 440 * t)).astype(np.float32)


def clip(sound, start_s, end_s):
    return cut(sound, *reach(sound, start_s, end_s))


def decoded(uri):
    head, data = uri.split(",", 1)
    assert head == "data:audio/mpeg;base64"
    return soundfile.read(io.BytesIO(base64.b64decode(data)))


def test_a_clip_sounds_as_long_and_as_loud_as_the_passage(tone):
    sound, rate = decoded(data_uri(clip(tone, 3.0, 8.0)))
    # An MP3 frame is 1152 samples (ISO 11172-3); coder and decoder may add a few.
    assert len(sound) / rate == pytest.approx(5.0, abs=4 * 1152 / rate)
    middle = sound[rate : 4 * rate]
    # 0.25 peak is 0.25/sqrt(2) RMS; the clip is neither raised nor lowered.
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.25 / math.sqrt(2), rel=0.03)


def test_a_clip_is_never_longer_than_promised(tone):
    assert clip(tone, 0.0, 20.0).size == LONGEST_S * RATE_HZ


def test_ends_are_faded(tone):
    piece = np.abs(clip(tone, 1.0, 4.0))
    assert piece[0] == piece[-1] == 0
    edge = round(FADE_S * RATE_HZ)
    assert piece[: edge // 4].max() < 0.3 * piece[edge:-edge].max()


def test_the_same_sound_gives_the_same_bytes(tone):
    assert data_uri(clip(tone, 1.0, 3.0)) == data_uri(clip(tone, 1.0, 3.0))


def test_cutting_leaves_the_mix_alone(tone):
    before = tone.copy()
    clip(tone, 1.0, 3.0)
    np.testing.assert_array_equal(tone, before)


@pytest.mark.parametrize("span", [(math.nan, 3.0), (1.0, math.nan), (30.0, 33.0), (2.0, 2.0)])
def test_where_there_is_nothing_to_hear_there_is_no_clip(tone, span):
    assert reach(tone, *span) is None
