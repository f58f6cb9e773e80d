"""The instrument table, against music21's instrument classes and the open strings."""

import pytest
from music21 import instrument as reference
from music21 import pitch

from auditor.score.instruments import (
    all_named,
    entry,
    named,
    numbers_of,
    recognise,
    sounding,
    table,
)

FAMILIES = {
    "woodwind",
    "saxophone",
    "brass",
    "percussion",
    "plucked",
    "keyboard",
    "strings",
    "voice",
    "other",
}


def test_table_is_large_and_sound():
    assert len(table()) >= 60
    keys = [row.instrument.key for row in table()]
    assert len(set(keys)) == len(keys)
    for row in table():
        one = row.instrument
        assert one.family in FAMILIES
        assert one.kind in ("sustained", "struck", "plucked")
        assert 0 <= one.low < one.high <= 127
        assert row.source
        assert row.players >= 1


def test_no_name_stands_for_two_instruments():
    names = [name for row in table() for name in row.names]
    assert len(set(names)) == len(names)


def test_no_sound_stands_for_two_instruments():
    sounds = [sound for row in table() for sound in row.sounds]
    assert len(set(sounds)) == len(sounds)


# music21 10.5: `transposition` from written to sounding of each class.
@pytest.mark.parametrize(
    ("key", "twin"),
    [
        ("piccolo", reference.Piccolo),
        ("flute", reference.Flute),
        ("oboe", reference.Oboe),
        ("english-horn", reference.EnglishHorn),
        ("clarinet", reference.Clarinet),
        ("bass-clarinet", reference.BassClarinet),
        ("bassoon", reference.Bassoon),
        ("soprano-saxophone", reference.SopranoSaxophone),
        ("alto-saxophone", reference.AltoSaxophone),
        ("tenor-saxophone", reference.TenorSaxophone),
        ("baritone-saxophone", reference.BaritoneSaxophone),
        ("horn", reference.Horn),
        ("trumpet", reference.Trumpet),
        ("trombone", reference.Trombone),
        ("tuba", reference.Tuba),
        ("violin", reference.Violin),
        ("viola", reference.Viola),
        ("cello", reference.Violoncello),
        ("double-bass", reference.Contrabass),
    ],
)
def test_transposition_and_lowest_note(key, twin):
    there = twin()
    shift = there.transposition.semitones if there.transposition else 0
    one = entry(key).instrument
    assert one.transposition == shift
    # The lowest note there is written. Ours may go lower where the instrument does: the
    # clarinet in A a semitone, the bass with its extension to C, the bass clarinet to low C.
    lowest = there.lowestNote.midi + shift
    extra = {"clarinet": 1, "double-bass": 4, "bass-clarinet": 3, "flute": 1}.get(key, 0)
    if key == "horn":
        assert abs(one.low - lowest) <= 6  # pedal notes are counted differently
    elif key == "baritone-saxophone":
        assert lowest - one.low == 1  # ours has the key for low A
    else:
        assert lowest - one.low == extra


# Open strings, any handbook: violin G3, viola C3, cello C2; the harp's lowest string C flat 1.
@pytest.mark.parametrize(
    ("key", "open_string"), [("violin", "G3"), ("viola", "C3"), ("cello", "C2"), ("harp", "B0")]
)
def test_lowest_string(key, open_string):
    assert entry(key).instrument.low == pitch.Pitch(open_string).midi


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("Violino I", "violin"),
        ("2. Flöte", "flute"),
        ("Cors 1-2 en fa", "horn"),
        ("Clarinet in Bb 1", "clarinet"),
        ("Vc", "cello"),
        ("Vc.", "cello"),
        ("Vla", "viola"),
        ("Vle.", "viola"),
        ("Cb", "double-bass"),
        ("Hn in F", "horn"),
        ("B basso Horn 1 [sic, B not Bb]", "horn"),
        ("Bb (alto) Horn 1", "horn"),
        ("A Bass Clarinet", "bass-clarinet"),
        ("Clarinetto basso in Sib", "bass-clarinet"),
        ("Es-Klarinette", "e-flat-clarinet"),
        ("Clarinet in E♭", "e-flat-clarinet"),
        ("Petite clarinette", "e-flat-clarinet"),
        ("Corno inglese", "english-horn"),
        ("Cor anglais", "english-horn"),
        ("Englischhorn", "english-horn"),
        ("Ottavino", "piccolo"),
        ("Kleine Flöte", "piccolo"),
        ("Flauto piccolo", "piccolo"),
        ("Grande flûte I", "flute"),
        ("Hautbois 1", "oboe"),
        ("Fagotti", "bassoon"),
        ("Kontrafagott", "contrabassoon"),
        ("C. Fag.", "contrabassoon"),
        ("Trompeten 1.2. in F", "trumpet"),
        ("Tr. (Si♭) 1", "trumpet"),
        ("Trombe in Do", "trumpet"),
        ("Alto Trombone", "alto-trombone"),
        ("Bassposaune", "bass-trombone"),
        ("Trombone basso", "bass-trombone"),
        ("3 Posaunen", "trombone"),
        ("Basstuba", "tuba"),
        ("Tenor Tuba", "euphonium"),
        ("Pauken", "timpani"),
        ("Timbales", "timpani"),
        ("Große Trommel", "bass-drum"),
        ("Gran Cassa", "bass-drum"),
        ("Caisse claire", "snare-drum"),
        ("Becken", "cymbals"),
        ("Piatti", "cymbals"),
        ("Tamtam", "tam-tam"),
        ("Triangolo", "triangle"),
        ("Campanelli", "glockenspiel"),
        ("Röhrenglocken", "tubular-bells"),
        ("Arpa", "harp"),
        ("Harfe 1", "harp"),
        ("Bratschen", "viola"),
        ("Altos", "viola"),
        ("Violoncelles", "cello"),
        ("Contrebasses", "double-bass"),
        ("Bassi", "double-bass"),
        ("Violons II", "violin"),
        ("Alto Sax", "alto-saxophone"),
        ("Bass", "bass"),
        ("Tenor", "tenor"),
        ("S", "soprano"),
        ("Clavecin", "harpsichord"),
    ],
)
def test_names_in_four_languages(name, key):
    found = named(name)
    assert found is not None
    assert found.instrument.key == key


@pytest.mark.parametrize("name", ["", "MusicXML Part", "Part 1", "Zzyzx", "12"])
def test_names_that_say_nothing(name):
    assert named(name) is None


def key(name, **more):
    return recognise(name, **more)[0].key


def test_names_of_two_instruments():
    assert all_named("Violoncelli e Contrabassi") == ("cello", "double-bass")
    assert all_named("Flute 3/Piccolo") == ("flute", "piccolo")
    assert all_named("Tuba (in F & Eb)") == ("tuba",)


def test_a_name_outweighs_a_program():
    assert key("Oboe", program=1) == "oboe"
    assert key("Oboe", program=41, sound="keyboard.piano") == "oboe"


def test_sound_outweighs_program_and_fills_in_for_names():
    assert key("", sound="wind.reed.bassoon", program=1) == "bassoon"
    assert key("Staff 3", sound="wind.reed.bassoon", program=74) == "bassoon"
    assert key("", program=74) == "flute"
    assert key("MusicXML Part", instrument_name="Harp") == "harp"


def test_ambiguous_names_give_way():
    assert key("Bass", sound="strings.contrabass") == "double-bass"
    assert key("Bass", program=44) == "double-bass"
    assert key("Bass", sound="voice.bass") == "bass"
    assert key("Bass", as_string=True) == "double-bass"
    assert key("Alto", as_string=True) == "viola"
    assert key("Alto") == "alto"


def test_unknown_sound_falls_back_on_its_family():
    # MusicXML sounds are dotted paths from the general to the particular.
    found = sounding("wind.reed.clarinet.something-new")
    assert found is not None
    assert found.instrument.key == "clarinet"
    assert sounding("nothing.at-all") is None


def test_unknown_is_named_and_kept():
    found, players = recognise("Zzyzx", program=1)
    assert (found.known, found.name, found.family, players) == (False, "Zzyzx", "other", 1)


# General MIDI Level 1 sound set (MIDI Manufacturers Association), programs 1 to 128.
@pytest.mark.parametrize(
    ("program", "key_"),
    [
        (9, "celesta"),
        (10, "glockenspiel"),
        (14, "xylophone"),
        (41, "violin"),
        (42, "viola"),
        (43, "cello"),
        (44, "double-bass"),
        (47, "harp"),
        (48, "timpani"),
        (57, "trumpet"),
        (58, "trombone"),
        (59, "tuba"),
        (61, "horn"),
        (66, "alto-saxophone"),
        (69, "oboe"),
        (70, "english-horn"),
        (71, "bassoon"),
        (72, "clarinet"),
        (73, "piccolo"),
        (74, "flute"),
        (75, "recorder"),
    ],
)
def test_general_midi_programs(program, key_):
    assert key("", program=program) == key_


@pytest.mark.parametrize(
    ("name", "numbers"),
    [
        ("Horns 1-4 in F", (1, 2, 3, 4)),
        ("Corni I.II.", (1, 2)),
        ("Violino II", (2,)),
        ("Flute", ()),
        ("2. Flöte", (2,)),
        ("Trombones 1, 2", (1, 2)),
    ],
)
def test_numbers(name, numbers):
    assert numbers_of(name) == numbers


@pytest.mark.parametrize(
    ("name", "players"),
    [
        ("Flute", 1),
        ("2. Flöte", 1),
        ("Flauti", 2),
        ("Horns 1-4", 4),
        ("Corni I.III.", 2),
        ("4 Corni", 4),
        ("Zwei Hörner", 2),
        ("Due flauti", 2),
        ("Flöten 1 u. 2", 2),
        ("3 Posaunen", 3),
        ("Violini I e II", 22),
        ("Violin solo", 1),
    ],
)
def test_players(name, players):
    assert recognise(name)[1] == players


def test_sections_follow_the_medium_body():
    # Rimsky-Korsakov, Principles of Orchestration, ch. I: 12, 10, 8, 6, 4-6.
    sizes = [recognise(n)[1] for n in ("Violin I", "Violin II", "Viola", "Cello", "Contrabass")]
    assert sizes[:4] == [12, 10, 8, 6]
    assert 4 <= sizes[4] <= 6
