"""Templates: every instrument has some, partials lie right, the files are known."""

import hashlib
import re
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.model_files import model_path
from auditor.score.instruments import table
from auditor.sound.spectrum import HOP, POOL_HZ, RATE_HZ
from auditor.timbre.templates import (
    AGE_FRAMES,
    AGES,
    FLOOR_DB,
    RELATIVES,
    SOURCES,
    blended,
    shifted,
    template_keys,
    variants,
)
from auditor.units import midi_to_hz

INSTRUMENTS = [entry.instrument for entry in table()]
PITCHED = [i for i in INSTRUMENTS if i.pitched]


def keys_of(instrument, sources=SOURCES):
    return template_keys(
        instrument.key, family=instrument.family, kind=instrument.kind,
        pitched=instrument.pitched, sources=sources,
    )  # fmt: skip


def power(template_db):
    return (10 ** (np.asarray(template_db) / 10)).sum(axis=-1)


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda i: i.key)
def test_every_instrument_resolves_to_templates(instrument):
    found = variants(keys_of(instrument), (instrument.low + instrument.high) / 2)
    assert found.shape[1:] == (AGES, POOL_HZ.size)
    assert len(found) >= 1
    assert np.isfinite(found).all()


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("instrument", INSTRUMENTS[::7], ids=lambda i: i.key)
def test_one_source_alone_resolves_too_or_gives_nothing(instrument, source):
    """A source without the instrument must not take another source's name for it."""
    found = variants(keys_of(instrument, (source,)), 60.0, (source,))
    assert found.size == 0 or found.shape[1:] == (AGES, POOL_HZ.size)


def test_an_own_template_comes_before_a_relative():
    assert template_keys("flute", family="woodwind", kind="sustained", pitched=True,
                         sources=SOURCES) == ("flute",)  # fmt: skip
    plucked = template_keys("viola+pizz", family="strings", kind="sustained", pitched=True,
                            sources=SOURCES)  # fmt: skip
    assert plucked == ("viola+pizz",)


# Kinship as organology has it: E. M. von Hornbostel, C. Sachs, "Systematik der
# Musikinstrumente", Z. Ethnol. 46 (1914): single reeds 422.2, double reeds 422.1, flutes 421.
@pytest.mark.parametrize(
    ("key", "kin"),
    [
        ("bass-flute", "flute"),
        ("contrabass-clarinet", "clarinet"),
        ("contrabassoon", "bassoon"),
        ("bass-saxophone", "baritone-saxophone"),
        ("piccolo-trumpet", "trumpet"),
        ("alto-trombone", "trombone"),
        ("wagner-tuba", "horn"),
        ("crotales", "glockenspiel"),
        ("mandolin", "guitar"),
        ("viola-da-gamba", "cello-solo"),
        ("tenor", "voice"),
    ],
)
def test_relatives_stand_in(key, kin):
    [instrument] = [i for i in INSTRUMENTS if i.key == key]
    assert kin in keys_of(instrument)


def test_relatives_are_kin_in_the_table_of_instruments():
    known = {i.key for i in INSTRUMENTS}
    assert {k for k in RELATIVES if not k.endswith("-solo")} <= known


@pytest.mark.parametrize("key", ["tenor-drum", "soprano-recorder", "tenor-recorder"])
def test_instruments_named_after_voices_are_no_voices(key):
    [instrument] = [i for i in INSTRUMENTS if i.key == key]
    assert keys_of(instrument) != ("voice",)


def test_a_part_of_all_strings_sounds_like_strings():
    [instrument] = [i for i in INSTRUMENTS if i.key == "string-section"]
    assert set(keys_of(instrument)) <= {"violin", "viola", "cello", "double-bass"}


# --- moving along the frequency axis --------------------------------------------------


@given(st.floats(150.0, 6000.0))
def test_twelve_semitones_move_a_partial_by_an_octave(hz):
    spectrum = np.full(POOL_HZ.size, FLOOR_DB)
    peak = int(np.argmin(np.abs(POOL_HZ - hz)))
    spectrum[peak] = 0.0
    moved = POOL_HZ[int(np.argmax(shifted(spectrum, 12.0)))]
    # ISO 16: an octave is 2:1; the pools are 1/48 octave wide, or one bin of 10.8 Hz.
    width = max(2 * POOL_HZ[peak] * (2 ** (1 / 48) - 1), RATE_HZ / 4096)
    assert abs(moved - 2 * POOL_HZ[peak]) <= width


@given(st.floats(-3.0, 3.0))
def test_moving_keeps_a_flat_spectrum_and_its_bounds(semitones):
    flat = np.full((AGES, POOL_HZ.size), -30.0)
    moved = shifted(flat, semitones)
    assert moved.shape == flat.shape
    inside = 2 ** (-semitones / 12) * POOL_HZ <= POOL_HZ[-1]
    np.testing.assert_allclose(moved[:, inside], -30.0)
    assert moved.max() <= -30.0
    assert moved.min() >= FLOOR_DB


def test_moving_by_nothing_changes_nothing():
    spectrum = np.linspace(-60.0, 0.0, POOL_HZ.size)
    np.testing.assert_array_equal(shifted(spectrum, 0.0), spectrum)


@pytest.mark.parametrize(
    "key", ["flute", "oboe", "trumpet", "violin-solo", "cello-solo", "horn"]
)
@pytest.mark.parametrize("pitch", [60.0, 64.37, 67.0])
def test_partials_lie_on_the_multiples_of_the_pitch(key, pitch):
    """The strongest pool of every source's held tone lies on a partial (harmonic sounds)."""
    hz = float(midi_to_hz(pitch))
    for template in variants((key,), pitch):
        top = POOL_HZ[int(np.argmax(template[2]))]
        number = max(1, round(top / hz))
        # A quarter tone for players' and fonts' tuning, one bin for the pools.
        tolerance = number * hz * (2 ** (0.5 / 12) - 1) + RATE_HZ / 4096
        assert abs(top - number * hz) <= tolerance


# --- neighbours and relatives ----------------------------------------------------------


@pytest.mark.parametrize("key", ["flute", "oboe", "trumpet", "violin-solo", "cello-solo"])
@pytest.mark.parametrize("pitch", [60.0, 64.37])
def test_evening_out_leaves_partials_where_they_are(key, pitch):
    hz = float(midi_to_hz(pitch))
    for source in blended((key,), pitch):
        if np.isfinite(source).all():
            top = POOL_HZ[int(np.argmax(source[2]))]
            number = max(1, round(top / hz))
            tolerance = number * hz * (2 ** (0.5 / 12) - 1) + RATE_HZ / 4096
            assert abs(top - number * hz) <= tolerance


def partials(template, pitch):
    """Power in dB around the first eleven partials, ages two to four."""
    hz = float(midi_to_hz(pitch))
    number = np.round(POOL_HZ / hz)
    power_ = [(10 ** (template[1:4, number == n] / 10)).sum(axis=1) for n in range(1, 12)]
    return 10 * np.log10(np.array(power_) + 1e-9)


@pytest.mark.parametrize("truth", ["recorded", "tonejs"])
def test_evened_templates_come_nearer_to_notes_they_never_met(truth):
    """Sound fonts against recorded notes (models/SOURCES.md says whose)."""
    fonts, plain, evened = ("fluid", "muse", "csgm"), [], []
    with np.load(model_path(f"timbre/{truth}.npz")) as data:
        for key in sorted({n.split("/")[0] for n in data.files}):
            pitches, spectra = data[f"{key}/pitch"], data[f"{key}/db"].astype(float)
            keys = template_keys(
                key, family="strings", kind="sustained", pitched=True, sources=fonts
            )
            for pitch, note in zip(pitches[1:-1:4], spectra[1:-1:4], strict=True):
                at = float(pitch)
                for told, found in (
                    (plain, variants(keys, at, fonts)),
                    (evened, blended(keys, at, fonts)),
                ):
                    apart = partials(np.nanmean(found, axis=0), at) - partials(note, at)
                    told.append(float(np.sqrt(np.mean(apart**2))))
    assert np.mean(evened) < np.mean(plain)
    assert np.mean(np.array(evened) < np.array(plain)) > 0.5


def test_a_source_without_the_instrument_says_nothing():
    found = blended(("celesta",), 84.0, ("fluid", "recorded"))
    assert np.isfinite(found[0]).all()
    assert np.isnan(found[1]).all()


def test_a_drum_has_no_neighbours():
    (plain,) = variants(("snare-drum",), 0.0, ("fluid",))
    np.testing.assert_allclose(blended(("snare-drum",), 0.0, ("fluid",))[0], plain)


def test_beyond_every_source_the_nearest_pitch_must_do():
    found = blended(("tuba",), 90.0, ("fluid", "tonejs"))
    assert np.isfinite(found).all()


# --- levels ---------------------------------------------------------------------------


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("instrument", PITCHED, ids=lambda i: i.key)
def test_nought_db_is_the_mean_of_the_first_half_second(source, instrument):
    """The first three ages lie inside it, so their share of it is at most the whole."""
    with np.load(model_path(f"timbre/{source}.npz")) as data:
        name = f"{instrument.key}/pitch"
        known = data[name] if name in data.files else np.zeros(0)
    # At the source's own pitches: a spectrum moved far along the pools changes its sum.
    for pitch in known[(known >= instrument.low) & (known <= instrument.high)]:
        for template in variants((instrument.key,), pitch, (source,)):
            total = power(template)
            frames = [min(high, 22) - max(low, 0) for low, high in AGE_FRAMES[:3]]
            share = float(total[:3] @ frames) / 22
            # Half precision keeps 11 bits: 0.03 dB at 60 dB; the floor adds 276 pools.
            assert share <= 10 ** (0.04 / 10) + POOL_HZ.size * 10 ** (FLOOR_DB / 10)


def starts(source, key, pitches):
    for pitch in pitches:
        for template in variants((key,), pitch, (source,)):
            yield pitch, float(power(template)[:3] @ [2, 5, 12]) / 22


@pytest.mark.parametrize("source", ["fluid", "muse", "csgm"])
@pytest.mark.parametrize("instrument", PITCHED, ids=lambda i: i.key)
def test_a_note_begins_where_its_template_begins(source, instrument):
    """At least a quarter of the first half second's power lies in its first 0.44 s."""
    pitches = range(instrument.low, instrument.high + 1, 3)
    assert all(share > 0.25 for _, share in starts(source, instrument.key, pitches))


def test_a_recorded_note_begins_where_its_template_begins():
    with np.load(model_path("timbre/recorded.npz")) as data:
        keys = {name.split("/")[0] for name in data.files}
        found = [
            (key, pitch, share)
            for key in sorted(keys)
            for pitch, share in starts("recorded", key, data[f"{key}/pitch"])
        ]
    assert [f for f in found if f[2] <= 0.25] == []


def test_ages_follow_each_other_and_one_frame_is_23_ms():
    assert all(a[1] == b[0] for a, b in pairwise(AGE_FRAMES))
    assert pytest.approx(0.0232, abs=1e-4) == HOP / RATE_HZ


@pytest.mark.parametrize("key", ["harp", "piano", "violin+pizz", "xylophone", "guitar"])
def test_plucked_and_struck_notes_die_away(key):
    """Font sources hold each key for 1.5 s; whatever is plucked is softer after a second."""
    for template in variants((key,), 72.0, ("fluid", "muse", "csgm")):
        total = power(template)
        assert total[4] < total[1]


# --- files ----------------------------------------------------------------------------


def test_files_are_those_that_sources_md_describes():
    text = model_path("SOURCES.md").read_text(encoding="utf-8")
    listed = dict(re.findall(r"\| `timbre/(\w+)\.npz` \| `([0-9a-f]{64})` \|", text))
    assert set(listed) == set(SOURCES)
    for name, digest in listed.items():
        data = model_path(f"timbre/{name}.npz").read_bytes()
        assert hashlib.sha256(data).hexdigest() == digest, name
