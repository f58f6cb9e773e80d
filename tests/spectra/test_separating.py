"""What a case gives to listen to."""

import numpy as np
import pytest
import soundfile

from auditor.case import Case
from auditor.score.reading import read_score
from auditor.sound.spectrum import RATE_HZ
from auditor.spectra.separating import open_sounds

PAGE = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Flute</part-name>
</score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions>
<time><beats>4</beats><beat-type>4</beat-type></time></attributes><note><pitch><step>A</step>
<octave>5</octave></pitch><duration>4</duration><type>whole</type></note></measure></part>
</score-partwise>"""


@pytest.fixture
def page(tmp_path):
    path = tmp_path / "score.musicxml"
    path.write_text(PAGE, encoding="utf-8")
    return path


def test_a_stereo_mix_is_listened_to_in_both_channels(tmp_path, page):
    tone = 0.1 * np.sin(2 * np.pi * 880 * np.arange(2 * RATE_HZ) / RATE_HZ)
    soundfile.write(tmp_path / "mix.wav", np.stack([tone, 0.5 * tone], axis=1), RATE_HZ)
    sounds = open_sounds(Case(page, tmp_path / "mix.wav", None, None), read_score(page))
    np.testing.assert_allclose(sounds.mix.samples, 0.75 * tone, atol=1e-4)
    np.testing.assert_allclose(sounds.mix.side, 0.25 * tone, atol=1e-4)


def test_a_mono_mix_has_no_side(tmp_path, page):
    tone = 0.1 * np.sin(2 * np.pi * 880 * np.arange(2 * RATE_HZ) / RATE_HZ)
    soundfile.write(tmp_path / "mix.wav", tone, RATE_HZ)
    sounds = open_sounds(Case(page, tmp_path / "mix.wav", None, None), read_score(page))
    assert sounds.mix.side is None
