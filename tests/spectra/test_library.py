"""A learned library in the decomposition: nearer the truth, used only where it knows."""

from dataclasses import replace

import numpy as np
import pytest

from auditor.sound.spectrum import pooled_power
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.stems import stem_spectra
from auditor.timbre.library import Learned, Library
from auditor.timbre.taking import take

GAIN_DB = 100.0


@pytest.fixture(scope="module")
def close(make_piece):
    """Three lines within two octaves, whose tones no shipped source has."""
    return make_piece(
        {
            "flute": [71, 74, 76, 78, 79, 76, 73, 74, 71, 69, 73, 68],
            "horn": [60, 63, 61, 65, 66, 68, 65, 62, 64, 59, 57, 60],
            "cello": [53, 50, 55, 51, 56, 54, 58, 53, 48, 52, 50, 55],
        }
    )


@pytest.fixture(scope="module")
def library(close):
    """Templates of the very tones: what sounds at each note in the line's own stem."""
    voices = {}
    for line, key in enumerate(("flute", "horn", "cello")):
        found = {}
        for k in np.flatnonzero(close.notes.line == line):
            first = round(close.notes.onset_s[k] * 44_100)
            last = round(close.notes.offset_s[k] * 44_100)
            body = close.stems[line][first : last + 200]
            template, level = take(body, (last - first) / 44_100)
            found[int(close.notes.pitch[k])] = (template, level)
        pitch = np.array(sorted(found), float)
        db = np.array([found[int(p)][0] for p in pitch])[:, None]
        level = np.array([found[int(p)][1] for p in pitch])[:, None]
        voices[key] = Learned(pitch, np.array([3.0]), db, level)
    return Library("test", "0" * 64, voices)


def errors(made, spectra):
    truth = stem_spectra(made.stems, GAIN_DB)
    power = [(10 ** (s.level_db / 10)).sum(axis=(1, 2)) for s in (spectra, truth)]
    return np.abs(10 * np.log10(power[0] / power[1]))


def test_the_players_own_templates_come_nearer(close, library):
    mix = close.stems.sum(axis=0)
    shipped = errors(close, mix_spectra(mix, close.notes, close.timbres, GAIN_DB))
    own = mix_spectra(mix, close.notes, close.timbres, GAIN_DB, library=library)
    # Own-library prototype on made mixes: 0.9 dB mean; this is far simpler music.
    assert errors(close, own).mean() < 0.9
    assert errors(close, own).mean() < shipped.mean()


def test_a_library_that_knows_nothing_of_it_changes_nothing(close, library):
    mix = close.stems.sum(axis=0)
    other = Library("other", "0" * 64, {"xylophone": library.voices["flute"]})
    plain = mix_spectra(mix, close.notes, close.timbres, GAIN_DB)
    same = mix_spectra(mix, close.notes, close.timbres, GAIN_DB, library=other)
    np.testing.assert_array_equal(plain.level_db, same.level_db)


def test_known_power_is_left_to_whom_it_belongs(three):
    """What is known to be no line's is not given to any: flute alone beside a known rest."""
    mix = three.stems.sum(axis=0)
    rest = three.stems[1:].sum(axis=0)
    only = three.notes.line == 0
    notes = replace(
        three.notes,
        **{
            name: getattr(three.notes, name)[only]
            for name in ("line", "onset_s", "offset_s", "pitch", "dynamic", "sustained",
                         "timbre", "level_db")
        },
    )  # fmt: skip
    blind = mix_spectra(mix, notes, three.timbres, GAIN_DB)
    told = mix_spectra(mix, notes, three.timbres, GAIN_DB, known=pooled_power(rest))
    assert errors(three, told)[0] < errors(three, blind)[0]


# --- the record -----------------------------------------------------------------------


def learned():
    rng = np.random.default_rng(0)
    pitch, step = np.array([60.0, 64.0]), np.array([1.0, 3.0, 5.0])
    db = rng.uniform(-60, 0, (2, 3, 6, 276))
    level = np.array([[-40.0, -30.0, -20.0], [-42.0, -32.0, -22.0]])
    return Learned(pitch, step, db, level)


def test_learned_notes_come_back_as_they_are():
    voice = learned()
    np.testing.assert_array_equal(voice.template(60.0, 3.0), voice.db[0, 1])
    np.testing.assert_array_equal(voice.template(64.0, 9.0), voice.db[1, 2])


def test_levels_lie_between_and_go_on_beyond():
    voice = learned()
    assert voice.level(60.0, 2.0) == pytest.approx(-35.0)
    assert voice.level(62.0, 3.0) == pytest.approx(-31.0)
    assert voice.level(60.0, 6.0) == pytest.approx(-15.0)  # 5 dB a step
    assert voice.level(60.0, 0.0) == pytest.approx(-45.0)
