"""The decomposition on additive mixes whose lines are known, and the laws of its bands."""

import numpy as np
import pytest

from auditor.sound.spectrum import FFT_SIZE, HOP, POOL_HZ, RATE_HZ, pooled_power
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB
from auditor.spectra.mixture import band_power, band_split, mix_spectra
from auditor.units import hz_to_cam

GAIN_DB = 90.0
# Of the additive pieces: after the first onset, before the last end.
ACTIVE = slice(20, 260)


def decomposed(piece, gains_db=(0.0, 0.0, 0.0)):
    gains = np.array([10 ** (g / 20) for g in gains_db])[:, None]
    mix = (piece.stems * gains).sum(axis=0).astype(np.float32)
    return mix, mix_spectra(mix, piece.notes, piece.timbres, GAIN_DB)


def line_levels(spectra):
    """Power mean over the active frames, dB SPL."""
    power = 10 ** (spectra.level_db[:, ACTIVE] / 10.0)
    return 10 * np.log10(power.sum(axis=2).mean(axis=1))


def true_levels(piece):
    power = np.stack([pooled_power(s)[ACTIVE].sum(axis=1).mean() for s in piece.stems])
    return 10 * np.log10(power) + GAIN_DB


@pytest.fixture(scope="module")
def equal(three):
    return decomposed(three)


# --- bands ----------------------------------------------------------------------------


def test_every_pool_is_shared_out_whole():
    split = band_split()
    assert split.shape == (POOL_HZ.size, BAND_CAM.size)
    assert (split >= 0).all()
    np.testing.assert_allclose(split.sum(axis=1), 1.0, atol=1e-6)
    assert ((split > 0).sum(axis=1) <= 2).all()


def test_sharing_keeps_the_centroid_on_the_cam_scale():
    """Linear interpolation: the weighted mean of two centres is the place between them."""
    cam = hz_to_cam(POOL_HZ)
    inside = (cam >= BAND_CAM[0]) & (cam <= BAND_CAM[-1])
    np.testing.assert_allclose((band_split() @ BAND_CAM)[inside], cam[inside], atol=1e-4)


def test_band_power_keeps_the_power():
    rng = np.random.default_rng(3)
    power = rng.random((20, POOL_HZ.size)).astype(np.float32)
    np.testing.assert_allclose(band_power(power).sum(axis=1), power.sum(axis=1), rtol=1e-5)


# --- lines ----------------------------------------------------------------------------


def test_record_is_as_promised(three, equal):
    mix, spectra = equal
    frames = len(pooled_power(mix))
    assert spectra.level_db.shape == (3, frames, BAND_CAM.size)
    assert spectra.source == "mix"
    assert np.isfinite(spectra.level_db).all()
    assert spectra.level_db.min() >= FLOOR_DB
    assert spectra.confidence.min() >= 0
    assert spectra.confidence.max() <= 1 + 1e-5


def test_lines_add_up_to_the_mix(equal):
    """Where notes are written, what no line owns lies 45 dB below its surroundings."""
    mix, spectra = equal
    whole = band_power(pooled_power(mix))[ACTIVE].sum(axis=1) * 10 ** (GAIN_DB / 10)
    lines = (10 ** (spectra.level_db[:, ACTIVE] / 10.0)).sum(axis=(0, 2))
    sounding = whole > whole.max() * 1e-3
    ratio = 10 * np.log10(lines[sounding] / whole[sounding])
    assert ratio.max() <= 0.01
    assert ratio.min() >= -0.5


def test_far_apart_lines_are_told_apart(three, equal):
    # Twice the step of level that is just told apart in tones, about 1 dB (E. Zwicker,
    # H. Fastl, Psychoacoustics, ch. 7, from memory).
    np.testing.assert_allclose(line_levels(equal[1]), true_levels(three), atol=2.0)


def test_two_far_apart_pitches_lie_in_their_own_bands(three, equal):
    _, spectra = equal
    flute, _, cello = (10 ** (spectra.level_db[:, ACTIVE] / 10.0)).mean(axis=1)
    at_flute = np.abs(BAND_CAM - float(hz_to_cam(1174.7))) <= 0.5  # D6, its first note
    at_cello = np.abs(BAND_CAM - float(hz_to_cam(82.4))) <= 1.0  # E2, in its middle
    assert flute[at_flute].sum() > 10 * cello[at_flute].sum()
    assert cello[at_cello].sum() > 100 * flute[at_cello].sum()


@pytest.mark.parametrize("line", [0, 1, 2])
def test_a_muted_line_falls(three, equal, line):
    gains = [0.0, 0.0, 0.0]
    gains[line] = -200.0
    before, after = line_levels(equal[1]), line_levels(decomposed(three, gains)[1])
    assert before[line] - after[line] > 15.0
    others = np.arange(3) != line
    np.testing.assert_allclose(after[others], before[others], atol=2.0)


@pytest.mark.parametrize("line", [0, 1, 2])
@pytest.mark.parametrize("change_db", [-10.0, 10.0])
def test_a_line_follows_its_level_in_the_mix(three, equal, line, change_db):
    gains = [0.0, 0.0, 0.0]
    gains[line] = change_db
    before, after = line_levels(equal[1]), line_levels(decomposed(three, gains)[1])
    assert after[line] - before[line] == pytest.approx(change_db, abs=2.0)


def test_the_same_mix_gives_the_same_lines(three, equal):
    _, again = decomposed(three)
    np.testing.assert_array_equal(again.level_db, equal[1].level_db)
    np.testing.assert_array_equal(again.confidence, equal[1].confidence)


def test_a_louder_mix_is_the_same_mix_louder(three, equal):
    _, louder = decomposed(three, (6.0, 6.0, 6.0))
    np.testing.assert_allclose(line_levels(louder), line_levels(equal[1]) + 6.0, atol=0.3)


def test_silence_stays_at_the_floor(three, equal):
    """Before the first note, and where the sound breaks off while notes are written."""
    _, spectra = equal
    assert (spectra.level_db[:, :4] == FLOOR_DB).all()
    half = three.stems.shape[1] // 2
    mix = three.stems.sum(axis=0)
    mix[half:] = 0.0
    cut = mix_spectra(mix, three.notes, three.timbres, GAIN_DB)
    after = half // HOP + FFT_SIZE // HOP
    assert (cut.level_db[:, after:] == FLOOR_DB).all()


def test_a_line_that_rests_owns_nothing(make_piece):
    """The horn pauses for four quarters; what sounds there is the flute's."""
    piece = make_piece({"flute": [86, 88, 90, 86, 85, 83], "horn": [60, 0, 0, 0, 0, 62]})
    _, spectra = decomposed(piece, (0.0, 0.0))
    frames = slice(round(1.8 * RATE_HZ / 1024), round(2.6 * RATE_HZ / 1024))
    power = (10 ** (spectra.level_db[:, frames] / 10.0)).sum(axis=(1, 2))
    assert power[0] > 1000 * power[1]


def test_two_equal_instruments_in_unison_share_and_say_so(make_piece):
    """Nothing in the sound tells them apart: the split is even and confidence low."""
    tune = [74, 76, 78, 79, 81, 79]
    piece = make_piece({"flute": tune})
    both = make_piece({"flute": tune, "oboe": tune})
    notes = both.notes
    twins = type(notes)(
        line=notes.line, onset_s=notes.onset_s, offset_s=notes.offset_s, pitch=notes.pitch,
        dynamic=notes.dynamic, sustained=notes.sustained, timbre=np.zeros_like(notes.timbre),
        timbres=("flute",), level_db=np.zeros(notes.line.size),
    )  # fmt: skip
    mix = piece.stems.sum(axis=0)
    spectra = mix_spectra(mix, twins, (piece.timbres[0],) * 2, GAIN_DB)
    power = 10 ** (spectra.level_db[:, 15:130] / 10.0)
    level = 10 * np.log10(power.sum(axis=2).mean(axis=1))
    assert abs(level[0] - level[1]) < 1.0
    assert spectra.confidence[:, 15:130].mean() < 0.6
