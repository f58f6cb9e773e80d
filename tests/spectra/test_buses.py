"""Stems against their mix: places, levels, groups, what is missing, what is a room."""

import numpy as np
import pytest
import soundfile
from scipy.signal import fftconvolve

from auditor.score.instruments import recognise
from auditor.score.notes import Part
from auditor.sound.spectrum import RATE_HZ, pooled_power
from auditor.sound.summing import add_up, moved, offset_of, thinned
from auditor.spectra.buses import desk_spectra, lay_out
from auditor.spectra.mixture import band_power, mix_spectra
from auditor.spectra.room import likeness, room_share
from auditor.spectra.stem_names import Matched, Stem
from auditor.spectra.stems import stem_spectra

GAIN_DB = 100.0


@pytest.fixture
def desk_of(three, tmp_path):
    """Write stems, lay them out against a mix, and give the spectra with what was said."""

    def run(files, mix=None, missing=(), room=(), rate=RATE_HZ):
        paths = []
        for name, (sound, _) in files.items():
            soundfile.write(tmp_path / name, sound, rate, subtype="FLOAT")
            paths.append(tmp_path / name)
        stems = tuple(
            Stem(path, rows, "name")
            for path, (_, rows) in zip(paths, files.values(), strict=True)
        )
        for name, sound in room:
            soundfile.write(tmp_path / name, sound, rate, subtype="FLOAT")
        names = ("Flute", "Horn", "Cello")
        lost = tuple(Part(k, f"P{k}", names[k], *recognise(names[k])) for k in missing)
        matched = Matched(stems, tuple(tmp_path / name for name, _ in room), (), lost)
        desk = lay_out(matched, {k: (k,) for k in range(3)}, mix)

        def decompose(samples, notes, known):
            return mix_spectra(samples, notes, three.timbres, GAIN_DB, known=known)

        spectra, said = desk_spectra(desk, mix, three.notes, 3, GAIN_DB, decompose)
        return spectra, (*desk.remarks, *said), desk

    return run


def levels(spectra):
    """Level of each line over all frames and bands, dB."""
    return 10 * np.log10((10 ** (spectra.level_db / 10)).sum(axis=(1, 2)))


@pytest.fixture(scope="module")
def truth(three):
    return stem_spectra(three.stems, GAIN_DB)


def test_a_stem_for_each_line_is_exact(desk_of, three, truth):
    files = {f"{k}.wav": (three.stems[k], (k,)) for k in range(3)}
    spectra, said, desk = desk_of(files, three.stems.sum(axis=0))
    assert spectra.source == "stems"
    np.testing.assert_allclose(spectra.level_db, truth.level_db, atol=1e-3)
    assert "the stems add up to the mix" in said[0]
    assert set(desk.plain_files) == {0, 1, 2}


@pytest.mark.parametrize("late_s", [1.5, -0.25])
def test_late_starts_and_other_levels_are_found(desk_of, three, truth, late_s):
    """ITU-R BS.1770 levels are mean squares: a fader of -6 dB halves amplitudes."""
    shift = round(-late_s * RATE_HZ)
    mix = three.stems.sum(axis=0)
    files = {
        f"{k}.wav": (
            moved(three.stems[k], shift, mix.size + max(shift, 0)) * 10 ** (6 / 20),
            (k,),
        )
        for k in range(3)
    }
    spectra, said, desk = desk_of(files, mix)
    assert [bus.lag for bus in desk.buses] == [-shift] * 3
    assert any("all stems are -6.0 dB in the mix" in s for s in said)
    # A cut of a quarter of a second at the start takes nothing but silence off.
    reach = 0.1 if late_s < 0 else 60.0
    assert np.abs(levels(spectra) - levels(truth)).max() < reach


def test_other_rates_and_lengths_do_no_harm(desk_of, three, truth):
    """Resampling by soxr keeps the pass band within 0.01 dB (its documentation, HQ)."""
    import soxr

    at_48 = {
        f"{k}.wav": (soxr.resample(three.stems[k], RATE_HZ, 48_000)[: -k * 100 or None], (k,))
        for k in range(3)
    }
    spectra, _, _ = desk_of(at_48, three.stems.sum(axis=0), rate=48_000)
    assert np.abs(levels(spectra) - levels(truth)).max() < 0.1


def test_a_group_is_parted_inside_its_stem(desk_of, three, truth):
    mix = three.stems.sum(axis=0)
    files = {
        "winds.wav": (three.stems[0] + three.stems[1], (0, 1)),
        "cello.wav": (three.stems[2], (2,)),
    }
    spectra, _, _ = desk_of(files, mix)
    assert spectra.source == "stems"
    error = np.abs(levels(spectra) - levels(truth))
    assert error[2] < 0.01
    alone = np.abs(
        levels(mix_spectra(mix, three.notes, three.timbres, GAIN_DB)) - levels(truth)
    )
    assert error[:2].sum() <= alone[:2].sum() + 0.05
    # Shares of a stem sum to the stem.
    power = (10 ** ((spectra.level_db[:2] - GAIN_DB) / 10)).sum()
    whole = band_power(pooled_power(three.stems[0] + three.stems[1])).sum()
    assert 10 * np.log10(power / whole) == pytest.approx(0.0, abs=0.05)


def test_what_stems_leave_is_searched_for_the_missing_line(desk_of, three, truth):
    mix = three.stems.sum(axis=0)
    files = {f"{k}.wav": (three.stems[k], (k,)) for k in (0, 2)}
    spectra, said, _ = desk_of(files, mix, missing=(1,))
    assert spectra.source == "mix"
    assert any(s.startswith("there is no stem for Horn") for s in said)
    error = np.abs(levels(spectra) - levels(truth))
    assert error[[0, 2]].max() < 0.01
    # Alone in what is left, the line owns all of it.
    assert error[1] < 0.3
    assert (spectra.confidence[[0, 2]] == 1.0).all()


def test_another_take_is_not_taken_off_the_mix(desk_of, three):
    """Noise with the stems' levels is in no mix sample by sample."""
    rng = np.random.default_rng(0)
    files = {f"{k}.wav": (rng.normal(0, 0.03, s.size).astype(np.float32), (k,))
             for k, s in enumerate(three.stems)}  # fmt: skip
    _, said, desk = desk_of(files, three.stems.sum(axis=0))
    assert not desk.total.coherent
    assert any("not in the mix sample by sample" in s for s in said)


def room_of(dry):
    rng = np.random.default_rng(1)
    time = np.arange(RATE_HZ) / RATE_HZ
    tail = rng.normal(size=time.size) * 10 ** (-3 * time / 1.8)
    tail[time < 0.02] = 0
    tail *= 0.35 / np.sqrt((tail**2).sum())
    return fftconvolve(dry, tail)[: dry.size].astype(np.float32)


def test_a_room_is_told_from_a_part(three):
    """A room is its stems, ringing on: an exponential decay (Sabine)."""
    dry = three.stems[:2].sum(axis=0)
    powers = [band_power(pooled_power(x)) for x in (dry, room_of(dry), three.stems[2])]
    assert likeness(powers[0], powers[1]) > 0.8
    assert likeness(powers[0], powers[2]) < 0.75


def test_a_room_bus_is_noticed_and_shared_out(desk_of, three):
    dry = three.stems.sum(axis=0)
    mix = dry + room_of(dry)
    files = {f"{k}.wav": (three.stems[k], (k,)) for k in range(3)}
    spectra, said, _ = desk_of(files, mix)
    assert any("sounds like the room" in s for s in said)
    power = (10 ** ((spectra.level_db - GAIN_DB) / 10)).sum()
    whole = band_power(pooled_power(mix)).sum()
    assert 10 * np.log10(power / whole) == pytest.approx(0.0, abs=0.5)


def test_it_is_said_where_a_part_without_stem_and_notes_lies(desk_of, three):
    files = {f"{k}.wav": (three.stems[k], (k,)) for k in range(3)}
    mix = three.stems.sum(axis=0)
    at = np.arange(mix.size) / RATE_HZ
    tone = 0.3 * np.abs(mix).max() * np.sin(2 * np.pi * 1234.5 * at)
    here = (at >= 1.0) & (at < 2.0)
    assert mix.size > 4 * RATE_HZ
    words = "from 0:01 to 0:02 the mix holds something that is in no stem"
    for level in (1.0, 0.2):
        _, said, _ = desk_of(files, mix + level * (tone * here).astype(np.float32))
        assert any(words in w for w in said)
    # A limiter or a ride of the fader in one place is no stranger.
    for gain in (0.7, 1.4):
        ridden = np.where(here, gain, 1.0).astype(np.float32)
        _, said, _ = desk_of(files, mix * ridden)
        assert any("from 0:01 to 0:02 the mix is not as loud" in w for w in said)
        assert not any("in no stem" in w for w in said)
    for everywhere in (tone.astype(np.float32), np.float32(0.0)):
        _, said, _ = desk_of(files, mix + everywhere)
        assert not any("in no stem" in w for w in said)


def test_shares_of_a_room_sum_to_it():
    rng = np.random.default_rng(2)
    power = rng.random((3, 50, 4)).astype(np.float32)
    left = rng.random((50, 4)).astype(np.float32)
    np.testing.assert_allclose(room_share(power, left).sum(axis=0), left, rtol=1e-4)


# --- the sum --------------------------------------------------------------------------


def test_moving_there_and_back_changes_nothing():
    x = np.arange(1, 11, dtype=np.float32)
    np.testing.assert_array_equal(moved(moved(x, 3, 13), -3, 10), x)


@pytest.mark.parametrize("lag", [0, 1, 7, 44_100, -10_000])
def test_a_lag_is_found_to_the_sample(lag):
    rng = np.random.default_rng(3)
    stem, other = rng.normal(0, 0.1, (2, 4 * RATE_HZ)).astype(np.float32)
    mix = moved(stem, lag, 4 * RATE_HZ) + other
    assert offset_of(stem, mix) == lag


def test_what_is_not_in_the_mix_has_no_place():
    rng = np.random.default_rng(4)
    stem, mix = rng.normal(0, 0.1, (2, 2 * RATE_HZ)).astype(np.float32)
    assert offset_of(stem, mix) is None
    assert offset_of(np.zeros(RATE_HZ, np.float32), mix) is None


def test_faders_are_found_from_the_sum():
    rng = np.random.default_rng(5)
    stems = rng.normal(0, 0.1, (3, 2 * RATE_HZ)).astype(np.float32)
    gains = np.array([1.0, 0.5, 2.0])
    total = add_up([thinned(s) for s in stems], thinned((gains @ stems).astype(np.float32)))
    np.testing.assert_allclose(total.gains, gains, rtol=1e-3)
    assert total.coherent
    assert total.left_db < -50


def test_parts_without_stems_do_not_move_the_faders():
    rng = np.random.default_rng(6)
    stems = rng.normal(0, 0.1, (3, 2 * RATE_HZ)).astype(np.float32)
    total = add_up([thinned(s) for s in stems[:2]], thinned(stems.sum(axis=0)))
    np.testing.assert_array_equal(total.gains, 1.0)
    assert total.coherent
    # Two of three equal powers are known: a third is left, -4.8 dB.
    assert total.left_db == pytest.approx(-4.77, abs=0.2)
