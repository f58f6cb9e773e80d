"""Crooks and keys in names, and changes of instrument in words."""

import pytest
from music21 import instrument as reference

from auditor.score.changes import called
from auditor.score.crooks import intervals, keys_of, register_of

# Wikibooks, "Horn/Technique/Transposition": how far each horn lies from the horn in F, which
# sounds a fifth lower than written (music21, Horn).
FROM_F = {
    "B♭ alto": 5, "A": 4, "G": 2, "E": -1, "E♭": -2, "D": -3, "C": -5, "B♭ basso": -7,
    "A♭ alto": 3, "F#": 1, "D♭": -4, "A basso": -8, "A♭ basso": -9,
}  # fmt: skip


@pytest.mark.parametrize(("crook", "from_f"), FROM_F.items())
def test_horn_crooks(crook, from_f):
    in_f = reference.Horn().transposition.semitones
    name = f"Horn in {crook}"
    (key,) = keys_of(name)
    assert intervals("horn", key, register_of(name))[0] == in_f + from_f


# music21's instrument classes.
@pytest.mark.parametrize(
    ("name", "key", "twin"),
    [
        ("Horn in F", "horn", reference.Horn),
        ("Clarinet in B♭", "clarinet", reference.Clarinet),
        ("Trumpet in B♭", "trumpet", reference.Trumpet),
        ("Bass Clarinet in B♭", "bass-clarinet", reference.BassClarinet),
    ],
)
def test_keys_agree_with_the_reference(name, key, twin):
    assert intervals(key, keys_of(name)[0])[0] == twin().transposition.semitones


# Forsyth, Orchestration (1914), the trumpet: crooks to F above C, B flat and A below it.
@pytest.mark.parametrize(
    ("name", "semitones"),
    [("Trombe in D", 2), ("Trompeten in Es", 3), ("Trompette en fa", 5), ("Tromba in Do", 0),
     ("Trumpet in A", -3), ("Trompete in E", 4)],
)  # fmt: skip
def test_trumpet_crooks(name, semitones):
    assert intervals("trumpet", keys_of(name)[0])[0] == semitones


@pytest.mark.parametrize(
    ("name", "keys"),
    [
        ("Corni in Es", (3,)), ("Cor en fa", (5,)), ("Corni in Mi bemolle", (3,)),
        ("Cors en si bémol", (10,)), ("Hörner in Des", (1,)), ("Klarinette in H", (11,)),
        ("Corni in B", (10, 11)), ("A Clarinet 1", (9,)), ("4 Hörner (F)", (5,)),
        ("Bb (alto) Horn 1", (10,)), ("English Horn", ()), ("Violin 1", ()), ("Horn", ()),
    ],
)  # fmt: skip
def test_keys_in_four_languages(name, keys):
    assert keys_of(name) == keys


def test_horn_in_c_sounds_an_octave_lower():
    # Forsyth, Orchestration (1914): of the two horns in C, the lower is meant.
    assert intervals("horn", 0)[0] == -12


@pytest.mark.parametrize(
    ("text", "own", "instrument"),
    [
        ("muta in Piccolo", "flute", "piccolo"), ("nimmt kl. Flöte", "flute", "piccolo"),
        ("prenez la petite flûte", "flute", "piccolo"), ("to Picc.", "flute", "piccolo"),
        ("gr. Fl.", "piccolo", "flute"), ("Englisch Horn", "oboe", "english-horn"),
        ("muta in Cor. ingl.", "oboe", "english-horn"), ("Cor Anglais", "oboe", "english-horn"),
        ("take Bass Clarinet", "clarinet", "bass-clarinet"), ("in Es", "clarinet",
        "e-flat-clarinet"), ("Contrafagott", "bassoon", "contrabassoon"),
    ],
)  # fmt: skip
def test_changes_in_words(text, own, instrument):
    assert called(text, own).instrument == instrument


@pytest.mark.parametrize(
    "text", ["Ob.", "dolce", "in tempo", "a 2", "to the fore", "en dehors", "mutes off", "Vc."]
)
def test_words_that_change_nothing(text):
    assert called(text, "flute") is None
    assert called(text, "horn") is None
