"""Stems: found by name in four languages, and measured as they are."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.errors import InputError
from auditor.score.instruments import recognise
from auditor.score.notes import Part
from auditor.sound.spectrum import RATE_HZ
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB
from auditor.spectra.stem_names import match_stems, read_mapping
from auditor.spectra.stems import stem_spectra
from auditor.units import hz_to_cam


def parts_of(*names):
    return [Part(k, f"P{k}", name, *recognise(name)) for k, name in enumerate(names, 1)]


def found(files, names, mapping=None):
    return match_stems([Path(f) for f in files], parts_of(*names), mapping)


def matched(files, names):
    got = found(files, names)
    got.all_there()
    by_part = {number: stem.path.name for stem in got.stems for number in stem.parts}
    return [by_part[k] for k in range(1, len(names) + 1)]


def groups(files, names, mapping=None):
    return {s.path.name: s.parts for s in found(files, names, mapping).stems}


ENGLISH = ["Flute", "Oboe", "Clarinet", "Bassoon", "Horn", "Trumpet", "Trombone", "Tuba",
           "Timpani", "Harp", "Violin I", "Violin II", "Viola", "Cello",
           "Double Bass"]  # fmt: skip
# Names as D. Daniels, Orchestral Music: A Handbook, and usual score orders print them.
ITALIAN = ["Flauto", "Oboe", "Clarinetto", "Fagotto", "Corno", "Tromba", "Trombone", "Tuba",
           "Timpani", "Arpa", "Violini I", "Violini II", "Viole", "Violoncelli",
           "Contrabbassi"]  # fmt: skip
GERMAN = ["Flöte", "Oboe", "Klarinette", "Fagott", "Horn", "Trompete", "Posaune", "Tuba",
          "Pauken", "Harfe", "Violine I", "Violine II", "Bratsche", "Violoncello",
          "Kontrabass"]  # fmt: skip
FRENCH = ["Flûte", "Hautbois", "Clarinette", "Basson", "Cor", "Trompette", "Trombone", "Tuba",
          "Timbales", "Harpe", "Violon I", "Violon II", "Alto", "Violoncelle",
          "Contrebasse"]  # fmt: skip
LANGUAGES = {"en": ENGLISH, "it": ITALIAN, "de": GERMAN, "fr": FRENCH}


@pytest.mark.parametrize("files", LANGUAGES)
@pytest.mark.parametrize("score", LANGUAGES)
def test_files_of_one_language_fit_parts_of_another(files, score):
    names = LANGUAGES[score]
    # A part called "Alto" is read as a voice; as a file's name it may be the viola's.
    kept = [k for k, n in enumerate(names) if n != "Alto" or files == score]
    stems = [f"{LANGUAGES[files][k]}.wav" for k in kept]
    assert matched(stems[::-1], [names[k] for k in kept]) == stems


def test_a_voice_comes_before_the_strings_of_its_name():
    names = ["Alto voice", "Bass voice", "Viola", "Double Bass"]
    files = ["Alto.wav", "Basso.wav", "Viola.wav", "Contrabbasso.wav"]
    assert matched(files, names) == files
    assert matched(["Alto 2.wav", "Alto 1.wav"], ["Viola 1", "Viola 2"]) == [
        "Alto 1.wav",
        "Alto 2.wav",
    ]
    assert matched(["Basso.wav", "Alto.wav"], ["Viola", "Double Bass"]) == [
        "Alto.wav",
        "Basso.wav",
    ]


@pytest.mark.parametrize(
    ("names", "files"),
    [
        (["Horn 1", "Horn 2"], ["horn-1.wav", "horn-2.wav"]),
        (["Violin I", "Violin II"], ["violin_1.wav", "violin_2.wav"]),
        (["Violin 1", "Violin 2"], ["Violini I.flac", "Violini II.flac"]),
        (["Violin I", "Violin II"], ["ViolinI.wav", "ViolinII.wav"]),
        (["Horns 1-2", "Horns 3-4"], ["Horns_1-2.wav", "Horns_3-4.wav"]),
        (["Corno I in F", "Corno II in F"], ["Horn 1.wav", "Horn 2.wav"]),
        (["1. Flöte", "2. Flöte"], ["1. Flöte.wav", "2. Flöte.wav"]),
        (["Oboe", "1. Flöte", "2. Flöte"], ["Oboe.wav", "Flute 1.wav", "Flute 2.wav"]),
        (["Oboe", "1. Flute", "2. Flute"], ["Oboe.wav", "1. Flöte.wav", "2. Flöte.wav"]),
        (["Flute", "Oboe"], ["Overture v3 Flute.wav", "Overture v3 Oboe.wav"]),
        (["Flute 1", "Flute 2"], ["Overture v3 Flute 1.wav", "Overture v3 Flute 2.wav"]),
        (["English Horn", "Horn"], ["english-horn.wav", "horn.wav"]),
        (["Bass Clarinet", "Clarinet"], ["bass clarinet.wav", "clarinet.wav"]),
    ],
)
def test_numerals_and_spellings(names, files):
    assert matched(files, names) == files
    assert matched(files[::-1], names) == files


@pytest.mark.parametrize(
    "form", ["{:02d} {}.wav", "{}. {}.wav", "{:02d}_{}.flac", "{} - {}.ogg"]
)
def test_track_numbers_in_front(form):
    names = ["Flute 1", "Flute 2", "Oboe 1", "Oboe 2", "Horn"]
    files = [form.format(k, name) for k, name in enumerate(names, 1)]
    assert matched(files[::-1], names) == files


def test_track_numbers_alone_tell_equal_names_apart():
    """Three tracks of flute and oboes: the second is the first oboe, not oboe 2."""
    files = ["01 Flute.wav", "02 Oboe.wav", "03 Oboe.wav"]
    assert matched(files, ["Flute", "Oboe 1", "Oboe 2"]) == files


@given(st.permutations(list(range(len(ENGLISH)))))
def test_the_order_of_the_files_does_not_matter(order):
    files = [f"{ENGLISH[k]}.wav" for k in order]
    assert matched(files, ENGLISH) == [f"{name}.wav" for name in ENGLISH]


def test_missing_stem_is_named_with_what_was_left():
    with pytest.raises(InputError, match=r"no stem was found for Oboe; .*matched: Drums.wav\)"):
        matched(["Flute.wav", "Drums.wav"], ["Flute", "Oboe"])


def test_no_files_at_all():
    with pytest.raises(InputError, match="no stem was found for Flute, Oboe"):
        matched([], ["Flute", "Oboe"])


def test_a_stem_of_another_desk_is_no_stem():
    with pytest.raises(InputError, match="no stem was found for Horn 2"):
        matched(["Horn 1.wav", "Horn 3.wav"], ["Horn 1", "Horn 2"])


def test_hidden_twins_are_passed_over():
    """AppleDouble files "._name" (RFC 1740, appendix B) hold no sound."""
    assert matched(["._Flute.wav", "Flute.wav"], ["Flute"]) == ["Flute.wav"]


def test_spare_stems_are_said(caplog):
    assert matched(["Flute.wav", "Organ.wav"], ["Flute"]) == ["Flute.wav"]
    assert "left aside: Organ.wav" in caplog.text


# --- groups, rooms, mapping -----------------------------------------------------------

ORCHESTRA = ["Flute", "Oboe", "Horn 1", "Horn 2", "Trumpet", "Timpani", "Violin I",
             "Violin II", "Viola", "Cello"]  # fmt: skip


@pytest.mark.parametrize(
    "names",
    [
        ("Woodwinds", "Brass", "Timpani", "Strings"),
        ("Holz", "Blech", "Pauken", "Streicher"),
        ("Legni", "Ottoni", "Timpani", "Archi"),
        ("Bois", "Cuivres", "Timbales", "Cordes"),
    ],
)
def test_families_in_four_languages(names):
    """Names of the families as orchestration treatises of the four languages print them."""
    winds, brass, drums, strings = (f"{n}.wav" for n in names)
    assert groups([winds, brass, drums, strings], ORCHESTRA) == {
        winds: (1, 2), brass: (3, 4, 5), drums: (6,), strings: (7, 8, 9, 10)
    }  # fmt: skip


def test_an_instrument_without_desks_takes_all_of_its_desks():
    files = ["Horns.wav", "Violins 1-2.wav", "Viola.wav"]
    names = ["Horn 1", "Horn 2", "Violin I", "Violin II", "Viola"]
    assert groups(files, names) == {
        "Horns.wav": (1, 2), "Violins 1-2.wav": (3, 4), "Viola.wav": (5,)
    }  # fmt: skip


def test_a_group_takes_only_what_has_no_stem_of_its_own():
    files = ["Strings.wav", "Cello.wav"]
    assert groups(files, ["Violin I", "Viola", "Cello"]) == {
        "Strings.wav": (1, 2), "Cello.wav": (3,)
    }  # fmt: skip


def test_rooms_and_mixes_are_no_parts():
    got = found(["Flute.wav", "Hall reverb.wav", "Full mix.wav"], ["Flute"])
    assert [p.name for p in got.room] == ["Hall reverb.wav"]
    assert got.spare == ()


def test_the_mapping_file_comes_first(tmp_path):
    (tmp_path / "stems.toml").write_text(
        '"A.wav" = ["Oboe", 1]\n"B" = "Horn"\n"C.wav" = "room"\n"Flute.wav" = "none"\n'
    )
    files = ["A.wav", "B.wav", "C.wav", "Flute.wav"]
    got = found(files, ["Flute", "Oboe", "Horn"], read_mapping(tmp_path))
    assert [(s.path.name, s.parts, s.how) for s in got.stems] == [
        ("A.wav", (1, 2), "mapping"), ("B.wav", (3,), "mapping")
    ]  # fmt: skip
    assert [p.name for p in got.room] == ["C.wav"]
    assert got.spare == got.missing == ()


@pytest.mark.parametrize(
    ("mapping", "message"),
    [
        ({"D.wav": "Flute"}, "names D.wav, which is not among the stems"),
        ({"A.wav": ["Flute", "Lute"]}, "gives A.wav to Lute, but no part with notes"),
        ({"A.wav": 7}, "gives A.wav to 7, .*there are: 1 Flute"),
        ({"A.wav": [True]}, "gives A.wav to True, but no part"),
        (
            {"A.wav": ["Lute", 7, "Flute"], "D.wav": "Flute"},
            "gives A.wav to Lute and 7, but .*; it names D.wav, which is not",
        ),
    ],
)
def test_a_mapping_that_cannot_be_followed(mapping, message):
    with pytest.raises(InputError, match=message):
        found(["A.wav"], ["Flute"], mapping)


def test_a_mapping_that_is_no_toml(tmp_path):
    (tmp_path / "stems.toml").write_text("A.wav: Flute")
    with pytest.raises(InputError, match=r"stems.toml is not valid TOML .*write lines such as"):
        read_mapping(tmp_path)


# --- measuring ------------------------------------------------------------------------


def sine(hz, amplitude, seconds=1.0):
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return (amplitude * np.sin(2 * np.pi * hz * t)).astype(np.float32)


@pytest.mark.parametrize("hz", [110.0, 440.0, 1000.0, 3150.0, 8000.0])
@pytest.mark.parametrize("level_db", [40.0, 83.0])
def test_a_calibrated_sine_has_its_level_in_its_band(hz, level_db):
    """A sine of amplitude a has a mean square of a²/2; full scale square is `gain`."""
    amplitude, gain_db = 0.1, level_db - 10 * np.log10(0.1**2 / 2)
    spectra = stem_spectra(sine(hz, amplitude)[None], gain_db)
    power = 10 ** (spectra.level_db[0, 10:30].astype(float) / 10)
    near = np.abs(BAND_CAM - float(hz_to_cam(hz))) <= 1.0
    found = 10 * np.log10(power[:, near].sum(axis=1))
    # The Hann window keeps 0.1 % outside its main lobe; a bin is up to 0.35 Cam at 110 Hz.
    np.testing.assert_allclose(found, level_db, atol=0.1)
    strongest = BAND_CAM[np.argmax(power.mean(axis=0))]
    assert abs(strongest - float(hz_to_cam(hz))) <= 0.5


def test_stems_are_sure_and_silence_is_the_floor():
    stems = np.stack([sine(440.0, 0.1), np.zeros(RATE_HZ, np.float32)])
    spectra = stem_spectra(stems, 90.0)
    assert spectra.source == "stems"
    assert (spectra.confidence == 1.0).all()
    assert (spectra.level_db[1] == FLOOR_DB).all()
    assert spectra.level_db.shape == (2, spectra.frame_s.size, BAND_CAM.size)


def test_stems_do_not_hear_each_other():
    one, other = sine(440.0, 0.1), sine(3000.0, 0.2)
    both = stem_spectra(np.stack([one, other]), 90.0)
    alone = stem_spectra(one[None], 90.0)
    np.testing.assert_array_equal(both.level_db[0], alone.level_db[0])
