import warnings

import pytest

from auditor.craft import articulation, keys, words
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page


def signed(made, key, *techniques, signs=(), length=1.0, **more):
    notes = [
        made.note(4 * k, 72, length, techniques=t, **more) for k, t in enumerate(techniques)
    ]
    return made.page([(key, notes)], bars=len(techniques) + 1, directions=signs)


@pytest.mark.parametrize(
    ("techniques", "expected"),
    [(("accent", "marcato"), ["stacked-signs"]), (("staccato", "tenuto"), []),
     (("staccatissimo", "tenuto"), ["stacked-signs"]), (("accent",), []),
     (("accent", "staccato"), []), (("slurred", "staccato"), []),
     (("slurred", "staccatissimo"), ["sign-against-slur"]),
     (("slurred", "marcato"), ["sign-against-slur"]), (("slurred", "tenuto"), [])],
)  # fmt: skip
def test_signs_on_one_note(made, kinds, techniques, expected):
    # Dots and lines under a slur are portato; a dot with a line is too (common practice).
    found = kinds(articulation.remarks, signed(made, "clarinet", techniques))
    assert [k for k, _ in found] == expected


@pytest.mark.parametrize(("text", "expected"), [("sf", 1), ("sfz", 1), ("fp", 1), ("f", 0)])
def test_an_accent_on_a_sforzato(made, kinds, text, expected):
    score = signed(made, "horn", ("accent",), signs=[made.sign("dynamic", 1, 0.0, text)])
    assert [k for k, _ in kinds(articulation.remarks, score)] == ["stacked-signs"] * expected


PIZZ = ("pizz",)


@pytest.mark.parametrize(
    ("row", "length", "expected"),
    [((PIZZ, PIZZ, PIZZ), 1.0, 0), ((PIZZ, ("pizz", "slurred"), ("pizz", "slurred")), 1.0, 1),
     ((PIZZ, ("pizz", "tremolo"), ("pizz", "tremolo")), 1.0, 1), ((PIZZ, PIZZ, PIZZ), 3.9, 1),
     ((PIZZ, ("pizz", "slurred")), 1.0, 0), (((), ("slurred",), ("slurred",)), 1.0, 0)],
)  # fmt: skip
def test_bowed_signs_under_pizzicato_miss_an_arco(made, kinds, row, length, expected):
    found = kinds(articulation.remarks, signed(made, "viola", *row, length=length))
    assert found == [("missing-arco", "risky")] * expected


def test_a_mute_still_on_at_ff_long_after(made, kinds):
    row = [("mute",)] * 12
    assert kinds(articulation.remarks, signed(made, "trumpet", *row, dynamic=5.0)) == [
        ("mute-left-on", "worth a thought")
    ]
    assert kinds(articulation.remarks, signed(made, "trumpet", *row, dynamic=2.0)) == []
    assert kinds(articulation.remarks, signed(made, "trumpet", *row[:4], dynamic=5.0)) == []


@pytest.mark.parametrize(
    ("before", "text", "expected"),
    [((), "arco", 1), (PIZZ, "arco", 0), ((), "senza sord.", 1), (("mute",), "senza sord.", 0),
     ((), "dolce", 0), (("mute",), "ôtez les sourdines", 0)],
)  # fmt: skip
def test_switching_off_what_was_never_on(made, kinds, before, text, expected):
    score = signed(made, "violin", before, (), signs=[(1, 4.0, text)])
    found = [k for k, _ in kinds(articulation.remarks, score)]
    assert found == ["needless-switch"] * expected


# Terms as dictionaries of music spell them; the wrong forms are common slips.
@pytest.mark.parametrize(
    ("text", "family", "expected"),
    [("plucked", "strings", "pizz."), ("pizz.", "strings", ""), ("Pizz.", "strings", ""),
     ("pizzicato", "strings", ""), ("arco", "strings", ""), ("bowed", "strings", "arco"),
     ("bowed", "percussion", ""), ("stacatto", "woodwind", "stacc."),
     ("staccato", "woodwind", ""), ("legato", "strings", ""), ("con sord.", "strings", ""),
     ("with mutes", "strings", "con sord."), ("cup mute", "brass", ""),
     ("mutes off", "strings", "senza sord."), ("sul ponticello", "strings", ""),
     ("crescendo", "brass", ""), ("crecendo", "brass", "cresc."), ("unis.", "strings", ""),
     ("unison", "strings", "unis."), ("div.", "strings", ""), ("tutti", "strings", ""),
     ("glissando", "strings", ""), ("mezzoforte", "strings", ""), ("gestopft", "brass", ""),
     ("mit Dämpfer", "strings", ""), ("sur la touche", "strings", ""), ("ord.", "strings", ""),
     ("flutter", "woodwind", "flz. (flutter-tongue)"), ("Allegro molto", "strings", ""),
     ("espressivo", "strings", ""), ("both hands", "keyboard", ""),
     ("whole bow", "strings", ""), ("unisono", "strings", ""),
     ("normal", "strings", ""), ("slide", "plucked", "gliss.")],
)  # fmt: skip
def test_words_the_trade_writes_otherwise(text, family, expected):
    assert words.trade_word(text, family) == expected


def test_odd_words_are_told_over_their_part(made, kinds):
    score = signed(made, "violin", (), (), signs=[(1, 4.0, "plucked")])
    assert kinds(words.remarks, score) == [("unusual-words", "worth a thought")]


def music21():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21

    return music21


@pytest.mark.parametrize("sharps", range(-7, 8))
def test_the_signature_of_a_scale_is_music21s(made, sharps):
    m21 = music21()
    names = [p.name for p in m21.key.KeySignature(sharps).getScale("major").pitches]
    given = [made.note(k, 60, spelling=f"{name}4") for k, name in enumerate(names * 3)]
    score = made.page([("clarinet", given)])
    notes = Page(score, CraftLimits()).notes_of(1)
    assert keys.signature_of(notes) == sharps


@pytest.mark.parametrize(
    ("name", "semitones"),
    [("Clarinet", -2), ("Horn", -7), ("BassClarinet", -14), ("SopranoSaxophone", -2),
     ("AltoSaxophone", -9)],
)  # fmt: skip
def test_transposing_instruments_read_music21s_keys(name, semitones):
    m21 = music21()
    shift = getattr(m21.instrument, name)().transposition
    assert shift.semitones == semitones
    written = m21.key.Key("C").transpose(shift.reverse())
    assert keys.shift_in_fifths(semitones) == written.sharps


def clarinet(made, spelled, written_up):
    notes = [
        made.note(k, 65, written_pitch=65 + written_up, spelling=spelled[k % len(spelled)])
        for k in range(28)
    ]
    return made.page([("clarinet", notes)])


E_MAJOR = ("E4", "F#4", "G#4", "A4", "B4", "C#5", "D#5")
F_SHARP_MAJOR = ("F#4", "G#4", "A#4", "B4", "C#5", "D#5", "E#5")
C_MAJOR = ("C4", "D4", "E4", "F4", "G4", "A4", "B4")


# Read off a keyboard: written E for B flat sounds D, which the clarinet in A reads in F (one
# flat); written F sharp in A sounds E flat, which that in B flat reads in F too; written E in
# A sounds D flat, which that in B flat reads in E flat: three flats for four sharps, no gain.
@pytest.mark.parametrize(
    ("spelled", "up", "expected"),
    [(E_MAJOR, 2, "1 flat"), (C_MAJOR, 2, ""), (E_MAJOR, 3, ""), (F_SHARP_MAJOR, 3, "1 flat")],
)
def test_the_other_clarinet_where_it_reads_more_easily(made, spelled, up, expected):
    limits = CraftLimits()
    found = list(keys.remarks(Page(clarinet(made, spelled, up), limits), limits))
    assert len(found) == bool(expected)
    assert all(f"it would read in {expected}." in one.sentence for one in found)


# Circle of fifths: a trumpet in B flat reads two sharps more than it sounds, one in C none, a
# piccolo trumpet in A five flats fewer than one in B flat.
@pytest.mark.parametrize(
    ("key", "spelled", "up", "expected"),
    [("trumpet", F_SHARP_MAJOR, 2, "in C it would read in 4 sharps"),
     ("trumpet", E_MAJOR, 2, ""),
     ("piccolo-trumpet", E_MAJOR, -10, "in A it would read in 1 flat"),
     ("horn", F_SHARP_MAJOR, 7, ""), ("english-horn", F_SHARP_MAJOR, 7, ""),
     ("alto-saxophone", F_SHARP_MAJOR, 9, ""), ("cornet", F_SHARP_MAJOR, 2, "")],
)  # fmt: skip
def test_only_instruments_players_own_are_offered(made, key, spelled, up, expected):
    notes = [
        made.note(k, 65, written_pitch=65 + up, spelling=spelled[k % len(spelled)])
        for k in range(28)
    ]
    limits = CraftLimits()
    said = [r.sentence for r in keys.remarks(Page(made.page([(key, notes)]), limits), limits)]
    assert len(said) == bool(expected)
    assert all(expected in sentence for sentence in said)


@pytest.mark.parametrize(
    ("text", "term"),
    [("crescndo", "crescendo"), ("diminuéndo", "diminuendo"), ("pizzicati", ""),
     ("sempre staccatissimo", ""), ("marcata", ""), ("cantando", ""), ("retenu", ""),
     ("glissandi", ""), ("leggierissimo", ""), ("sordina", "")],
)  # fmt: skip
def test_slips_of_spelling_are_told_from_other_words(text, term):
    # The right forms are Italian and French as scores print them, from memory.
    assert words.trade_word(text, "strings") == term
