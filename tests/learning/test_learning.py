"""Learning: what was rendered comes back, and each fault is said with file and note."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import fftconvolve

from auditor.errors import InputError
from auditor.learning.learn import learn
from auditor.learning.listing import Render
from auditor.learning.names import match_renders
from auditor.learning.pitch import sounding_pitch
from auditor.sound.spectrum import POOL_HZ
from auditor.timbre.library import find_library, known_libraries, open_library
from auditor.units import midi_to_hz

RATE = 44_100


@pytest.fixture
def lesson(kit, tmp_path, play, write):
    """Learn from one render, changed note by note or as a whole."""

    def run(change=None, whole=None, name="kit-flute.wav", rate=RATE):
        folder, render = kit
        sound = play(render, change)
        write(folder / name, whole(sound) if whole else sound, rate)
        return learn(folder, "test", tmp_path / "library")

    return run


def told(lesson):
    return [fault.sentence for fault in lesson.faults]


def test_a_good_render_has_no_fault_and_every_note(lesson):
    got = lesson()
    assert told(got) == []
    assert got.learned == (("kit-flute.wav", "flute", 30, 30),)
    assert set(got.library.voices) == {"flute", "flute+short"}


def test_templates_are_those_of_the_tones(lesson):
    """Partials lie on multiples of the pitch (ISO 16: A4 is 440 Hz), levels as played."""
    voice = lesson().library.voices["flute"]
    template = voice.template(69.0, 3.0)[2]
    for n in (1, 2, 3):
        near = np.abs(POOL_HZ - n * 440.0) < 30
        assert POOL_HZ[near][np.argmax(template[near])] == pytest.approx(n * 440.0, rel=0.02)
    # Amplitudes 0.05, 0.12 and 0.3: 20 lg of their ratios.
    for pitch in (67.0, 71.0):
        step = np.diff([voice.level(pitch, d) for d in (1, 3, 5)])
        np.testing.assert_allclose(step, 20 * np.log10([0.12 / 0.05, 0.3 / 0.12]), atol=0.2)


def test_louder_is_brighter_if_the_library_is(lesson):
    voice = lesson().library.voices["flute"]
    high = POOL_HZ > 2000
    share = [
        (10 ** (voice.template(69.0, d)[2] / 10))[high].sum() for d in (1.0, 2.0, 3.0, 5.0)
    ]
    assert share == sorted(share)


def only(bar, change):
    return lambda note, sound: change(note, sound) if note.bar == bar else sound


def moved(semitones):
    return lambda tone: lambda n, s: tone(n.pitch + semitones, 1.5, n.dynamic, n.way)


CASES = {
    "octave": ("sounds an octave too low", moved(-12)),
    "octave up": ("sounds an octave too high", moved(12)),
    "pitch": ("sounds 2.0 semitones too high", moved(2)),
    "silent": ("is silent", lambda tone: lambda n, s: None),
    "clipped": ("is clipped", lambda tone: lambda n, s: np.clip(s * 20, -1, 1)),
    "two": ("holds a second sound", lambda tone: lambda n, s: s + 0.7 * moved(6)(tone)(n, s)),
}


@pytest.mark.parametrize("kind", CASES)
def test_a_fault_of_one_note_is_said_with_file_and_bar(lesson, make_tone, kind):
    words, change = CASES[kind]
    got = lesson(only(3, change(make_tone)))
    (sentence,) = told(got)
    assert sentence.startswith("kit-flute.wav, bar 3, ")
    assert words in sentence
    assert sentence.endswith("(left out)")
    assert got.learned[0][2] == 29


def test_silence_after_a_note_that_rings_is_silence(lesson, make_tone):
    """The note before reaches into the first window; the file itself holds nothing there."""
    ringing = lesson(
        lambda n, s: (
            make_tone(n.pitch, 2.25, 5, "plucked")
            if n.bar == 12
            else None
            if n.bar == 13
            else s
        )
    )
    assert [s for s in told(ringing) if "bar 13" in s and "is silent" in s]


def test_a_wrong_octave_throughout_is_said_once_and_nothing_is_learned(lesson, make_tone):
    def low(note, sound):
        return make_tone(note.pitch - 12, note.end_s - note.start_s, note.dynamic, note.way)

    with pytest.raises(InputError, match=r"nothing could be learned: .*wrong octave on"):
        lesson(low)


def test_a_render_that_ends_early(lesson):
    got = lesson(whole=lambda s: s[: round(35.5 * RATE)])
    assert any("ends early" in s for s in told(got))


def test_too_few_notes(lesson):
    with pytest.raises(InputError, match="too few notes: 3 of 15"):
        lesson(lambda n, s: s if n.bar < 5 else None)


def test_a_long_reverb(lesson):
    rng = np.random.default_rng(0)
    time = np.arange(3 * RATE) / RATE
    tail = rng.normal(size=time.size) * 10 ** (-3 * time / 4.0)
    tail *= 0.7 / np.sqrt((tail**2).sum())
    tail[0] += 0.7
    got = lesson(whole=lambda s: (0.3 * fftconvolve(s, tail)[: s.size]).astype(np.float32))
    assert any("rings too long" in s for s in told(got))


@pytest.mark.parametrize(("true", "said"), [(48_000, "8 % too slow"), (40_517, "9 % too fast")])
def test_a_mistaken_sample_rate(lesson, true, said):
    """Sound of one rate written under the number of another: pitch and time change alike."""
    import soxr

    with pytest.raises(InputError, match=f"{said}: its sample rate was mistaken"):
        lesson(whole=lambda s: soxr.resample(s, RATE, true))


def test_a_late_start_is_no_fault(lesson, tmp_path):
    lesson()
    (tmp_path / "library").rename(tmp_path / "at-once")
    got = lesson(whole=lambda s: np.concatenate([np.zeros(4 * RATE, np.float32), s]))
    assert told(got) == []
    assert got.learned[0][2] == 30
    at_once = open_library(tmp_path / "at-once")
    late, early = (v.voices["flute"].template(69.0, 3.0) for v in (got.library, at_once))
    assert np.abs(late - early)[:3][early[:3] > -30].mean() < 1.0


def test_a_plucked_patch_where_held_notes_are_asked_for(lesson, make_tone):
    got = lesson(lambda n, s: make_tone(n.pitch, n.end_s - n.start_s, n.dynamic, "plucked"))
    assert any("dies away" in s for s in told(got))


def test_dynamics_that_are_alike(lesson, make_tone):
    got = lesson(lambda n, s: make_tone(n.pitch, n.end_s - n.start_s, 3, n.way))
    assert any("soft and loud are alike" in s and "--controller" in s for s in told(got))


def test_a_file_that_is_no_sound(kit, tmp_path):
    folder, _ = kit
    (folder / "kit-flute.wav").write_bytes(b"no sound")
    with pytest.raises(InputError, match="nothing could be learned"):
        learn(folder, "test", tmp_path / "library")


def test_no_render_at_all(kit, tmp_path):
    with pytest.raises(InputError, match=r"no sound named after .* such as kit-flute.wav"):
        learn(kit[0], "test", tmp_path / "library")


def test_no_kit(tmp_path):
    with pytest.raises(InputError, match=r"holds no kit.json"):
        learn(tmp_path, "test", tmp_path / "library")


# --- pitch ----------------------------------------------------------------------------


@given(st.floats(30.0, 100.0), st.integers(1, 6))
def test_the_period_of_a_harmonic_tone_is_its_pitch(pitch, partials):
    """Law: a sum of harmonics has the period of the first (Fourier)."""
    t = np.arange(round(0.5 * RATE)) / RATE
    hz = float(midi_to_hz(pitch))
    sound = sum(np.sin(2 * np.pi * n * hz * t + n) / n for n in range(1, partials + 1))
    assert sounding_pitch(sound.astype(np.float32)) == pytest.approx(pitch, abs=0.1)


def test_noise_has_no_pitch():
    noise = np.random.default_rng(0).normal(size=RATE // 2).astype(np.float32)
    assert np.isnan(sounding_pitch(noise))


# --- names ----------------------------------------------------------------------------

SHEETS = [
    Render(f"kit-{name}", key, ())
    for name, key in (
        ("violin", "violin"), ("violin-pizz", "violin+pizz"), ("solo-violin", "violin-solo"),
        ("horn", "horn"), ("english-horn", "english-horn"), ("bass-clarinet", "bass-clarinet"),
        ("clarinet", "clarinet"),
    )
]  # fmt: skip


@pytest.mark.parametrize(
    "form", ["{}.wav", "01 {} v2.flac", "My_{}_(bounce).aif", "{}-001.WAV"]
)
def test_prefixes_and_suffixes_do_no_harm(form, tmp_path):
    files = [tmp_path / form.format(sheet.name) for sheet in SHEETS]
    found = match_renders(files[::-1], SHEETS)
    assert {n: p.name for n, p in found.items()} == {
        s.name: form.format(s.name) for s in SHEETS
    }


@pytest.mark.parametrize(
    ("file", "name"),
    [
        ("Violine pizz.wav", "kit-violin-pizz"),
        ("Violino solo.wav", "kit-solo-violin"),
        ("cor anglais.wav", "kit-english-horn"),
        ("Bassklarinette.wav", "kit-bass-clarinet"),
    ],
)
def test_instruments_in_other_languages(file, name, tmp_path):
    assert list(match_renders([tmp_path / file], SHEETS)) == [name]


# --- the set as a file ----------------------------------------------------------------


def test_the_same_renders_give_the_same_bytes(lesson, tmp_path):
    first = lesson().library.digest
    assert lesson().library.digest == first
    assert open_library(tmp_path / "library").digest == first


def test_nothing_in_a_set_is_a_pickle(lesson, tmp_path):
    lesson()
    with np.load(tmp_path / "library" / "templates.npz", allow_pickle=False) as data:
        assert all(data[name].dtype.kind in "if" for name in data.files)
    about = json.loads((tmp_path / "library" / "library.json").read_text(encoding="utf-8"))
    assert about["format"] == 1
    assert about["files"][0]["file"] == "kit-flute.wav"


def test_sets_are_found_by_name_and_by_path(lesson, tmp_path, monkeypatch):
    """XDG Base Directory Specification 0.8: user data lie in $XDG_DATA_HOME."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    lesson()
    place = tmp_path / "data" / "auditor" / "libraries" / "mine"
    place.parent.mkdir(parents=True)
    (tmp_path / "library").rename(place)
    assert known_libraries() == ("mine",)
    assert find_library("mine") == find_library(str(place)) == place
    with pytest.raises(InputError, match=r"no library called other .*learned: mine"):
        find_library("other")


@pytest.mark.parametrize(
    ("file", "change", "message"),
    [
        ("templates.npz", lambda b: b[:-9], "is not the file that library.json describes"),
        (
            "library.json",
            lambda b: b.replace(b'"format": 1', b'"format": 2'),
            "has the format 2",
        ),
        ("library.json", lambda b: b[:5], "is no library that can be read"),
    ],
)
def test_damaged_sets_are_refused(lesson, tmp_path, file, change, message):
    lesson()
    path = tmp_path / "library" / file
    path.write_bytes(change(path.read_bytes()))
    with pytest.raises(InputError, match=message):
        open_library(tmp_path / "library")
