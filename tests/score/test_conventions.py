"""Old clefs, doubtful transpositions, lines of changed instruments, and score.toml."""

from pathlib import Path

import mido
import music21
import pytest
from music21 import instrument as reference

from auditor.errors import InputError
from auditor.score.crooks import tuning_of
from auditor.score.reading import read_score

TRANSPOSE = "<transpose><chromatic>{}</chromatic></transpose>"
CLEF = "<attributes><clef><sign>{}</sign><line>{}</line></clef></attributes>"
# Common chords in C: what a part can be held against.
CHORDS = [
    ("C4", "E4", "G4"), ("F4", "A4", "C5"), ("G4", "B4", "D5"), ("C4", "E4", "G4"),
    ("A3", "C4", "E4"), ("D4", "F4", "A4"), ("G4", "B4", "D5"), ("C4", "E4", "G4"),
]  # fmt: skip


def strings(xml, bars=CHORDS):
    names = ("Viola", "Violin II", "Violin I")
    return [
        xml.part(name, *[xml.note(bar[voice], 4) for bar in bars])
        for voice, name in enumerate(names)
    ]


def read(xml, *parts, settings=None):
    path = xml.save(xml.score(*parts))
    if settings is not None:
        (path.parent / "score.toml").write_text(settings, encoding="utf-8")
    return read_score(path)


def sounding(score, part=1):
    return [n.pitch for n in score.notes if n.part == part]


def moved(pitch, semitones):
    names = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"]
    step = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[pitch[0]]
    midi = 12 * (int(pitch[-1]) + 1) + step + pitch.count("#") + semitones
    return f"{names[midi % 12]}{midi // 12 - 1}"


def flute_with(xml, *, words, more="", high="D6"):
    rest = xml.note("R", 4)
    return xml.part(
        "Flute 3",
        xml.note("C5", 4) + words,
        rest,
        more + xml.note(high, 4),
        xml.note(high, 4),
    )


def test_a_change_makes_a_line_of_its_own(xml):
    shift = f"<attributes>{TRANSPOSE.format(12)}</attributes>"
    score = read(
        xml,
        flute_with(xml, words=xml.words("muta in Piccolo"), more=shift),
        xml.part("Oboe", *[xml.note("C5", 4)] * 4),
    )
    assert [(line.number, line.part, line.name) for line in score.lines] == [
        (1, 1, "Flute 3"), (2, 1, "Flute 3 (piccolo)"), (3, 2, "Oboe"),
    ]  # fmt: skip
    assert [line.instrument.key for line in score.lines] == ["flute", "piccolo", "oboe"]
    assert [(n.line, n.pitch) for n in score.notes if n.part == 1] == [
        (1, 72),
        (2, 98),
        (2, 98),
    ]


def test_a_change_in_words_alone_is_read_as_the_player_would(xml):
    score = read(xml, flute_with(xml, words=xml.words("nimmt Piccolo")))
    # The piccolo sounds an octave higher than written (music21, Piccolo).
    assert [n.pitch for n in score.notes] == [72, 86 + 12, 86 + 12]
    assert reference.Piccolo().transposition.semitones == 12
    assert any("piccolo sounding 12 semitones higher" in remark for remark in score.remarks)


def test_a_change_told_by_the_transposition_alone(xml):
    shift = f"<attributes>{TRANSPOSE.format(-7)}</attributes>"
    bars = [xml.note("C5", 4), xml.note("R", 4), shift + xml.note("G4", 4)]
    score = read(xml, xml.part("Oboe 2", *bars))
    assert [line.name for line in score.lines] == ["Oboe 2", "Oboe 2 (english horn)"]
    assert [n.pitch for n in score.notes] == [72, 60]


def test_another_clarinet_stays_on_its_line(xml):
    shift = f"<attributes>{TRANSPOSE.format(-3)}</attributes>"
    bars = [xml.note("C5", 4), shift + xml.words("in A") + xml.note("C5", 4)]
    score = read(xml, xml.part("Clarinet 1", *bars, more=TRANSPOSE.format(-2)))
    assert len(score.lines) == 1
    assert [n.pitch for n in score.notes] == [70, 69]


def test_playback_instruments_change_the_line(xml):
    head = (
        '<score-instrument id="I1"><instrument-name>Flute</instrument-name></score-instrument>'
        '<score-instrument id="I2"><instrument-name>Piccolo</instrument-name>'
        "</score-instrument>"
    )
    bars = [xml.note("C5", 4, more=f'<instrument id="{i}"/>') for i in ("I1", "I2", "I1")]
    score = read(xml, xml.part("Flute", *bars, head=head))
    assert [n.line for n in score.notes] == [1, 2, 1]


def test_the_name_of_a_cue_changes_nothing(xml):
    bars = [xml.words("Picc.") + xml.note("R", 4), xml.note("R", 4), xml.note("C5", 4)]
    assert len(read(xml, xml.part("Flute", *bars)).lines) == 1


def test_a_part_without_a_change_is_one_line(xml):
    both = (
        xml.note("C5", 4)
        + "<backup><duration>96</duration></backup>"
        + xml.note("E5", 4, voice=2)
    )
    assert len(read(xml, xml.part("2 Oboi", both)).lines) == 1


@pytest.mark.parametrize(("name", "semitones"), [("Corni in Es", -9), ("Horn in E", -8),
                                                 ("Clarinetti in A", -3)])  # fmt: skip
def test_a_crook_in_the_name_where_the_file_gives_none(xml, name, semitones):
    written = [moved(bar[1], -semitones) for bar in CHORDS]
    horn = xml.part(name, *[xml.note(pitch, 4) for pitch in written])
    score = read(xml, horn, *strings(xml))
    assert sounding(score) == sounding(score, part=3)  # the second violins' notes
    assert any("the file gives none" in remark for remark in score.remarks)


def test_a_part_at_concert_pitch_stays(xml):
    horn = xml.part("Horn in F", *[xml.note(bar[1], 4) for bar in CHORDS])
    score = read(xml, horn, *strings(xml))
    assert sounding(score) == sounding(score, part=3)


def test_a_wrong_transposition_is_mended(xml):
    written = [moved(bar[1], 7) for bar in CHORDS]
    horn = xml.part("Horn in F", *[xml.note(p, 4) for p in written], more=TRANSPOSE.format(-2))
    score = read(xml, horn, *strings(xml))
    assert sounding(score) == sounding(score, part=3)
    assert any("the file transposes by -2" in remark for remark in score.remarks)


def test_right_transpositions_are_left_alone(xml):
    written = [moved(bar[1], 7) for bar in CHORDS]
    horn = xml.part("Horn in F", *[xml.note(p, 4) for p in written], more=TRANSPOSE.format(-7))
    score = read(xml, horn, *strings(xml))
    assert sounding(score) == sounding(score, part=3)
    assert not any("Horn" in remark and "read as" in remark for remark in score.remarks)


def test_a_bass_that_shares_the_cellos_notes_sounds_an_octave_lower(xml):
    # Double basses sound an octave lower than written (music21, Contrabass).
    line = [xml.note(p, 1) for p in ("C3", "E3", "G3", "C3")]
    bars = ["".join(line)] * 4
    score = read(xml, xml.part("Violoncello", *bars), xml.part("Contrabass", *bars))
    gaps = {a - b for a, b in zip(sounding(score, 2), sounding(score, 1), strict=True)}
    assert gaps == {reference.Contrabass().transposition.semitones}


def test_a_bass_already_an_octave_lower_stays(xml):
    def bars(octave):
        return ["".join(xml.note(f"{p}{octave}", 1) for p in "CEGC")] * 4

    cello = xml.part("Violoncello", *bars(3))
    score = read(xml, cello, xml.part("Contrabass", *bars(2)))
    assert sounding(score, 2) == [n - 12 for n in sounding(score, 1)]


def horn_bars(xml, low):
    return [
        xml.note("C4", 4),
        CLEF.format("F", 4) + xml.note(low, 4),
        CLEF.format("G", 2) + xml.note("C4", 4),
    ]


def test_an_octave_that_the_file_declares_is_meant(xml):
    """Basses may well share the cellos' pitch; a twelfth lower no bass could play it."""
    notes = [note for k in range(4) for note in ("C3", "D3", "E3", "G3")]
    bars = ["".join(xml.note(p, 1) for p in notes[k : k + 4]) for k in range(0, 16, 4)]
    high = [
        "".join(xml.note(moved(p, 12), 1) for p in notes[k : k + 4]) for k in range(0, 16, 4)
    ]
    high[0] = (
        "<attributes><transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose></attributes>"
        + high[0]
    )
    score = read(xml, xml.part("Violoncello", *bars), xml.part("Contrabass", *high))
    assert sounding(score, 2) == sounding(score, 1)
    assert not [r for r in score.remarks if "companion" in r]


def test_old_bass_clef_of_the_horn(xml):
    # Forsyth, Orchestration (1914): a horn's bass clef was written an octave too low, so that
    # the second harmonic of the horn in F, sounding F2, stands as C2.
    score = read(xml, xml.part("Horn in F", *horn_bars(xml, "C2"), more=TRANSPOSE.format(-7)))
    assert sounding(score)[1] == 41
    assert any("old way" in remark for remark in score.remarks)


def test_new_bass_clef_of_the_horn(xml):
    # Written a fifth above what sounds, as in the treble clef: G3 sounds C3.
    score = read(xml, xml.part("Horn in F", *horn_bars(xml, "A3"), more=TRANSPOSE.format(-7)))
    assert sounding(score)[1] == 50
    assert not any("old way" in remark for remark in score.remarks)


def test_old_treble_clef_of_the_cello(xml):
    high = "".join(xml.note(p, 1) for p in ("B5", "C6", "D6", "C6"))
    bars = [
        CLEF.format("F", 4) + xml.note("A4", 4),
        CLEF.format("G", 2) + high,
        CLEF.format("F", 4) + xml.note("A4", 4),
    ]
    score = read(xml, xml.part("Violoncello", *bars))
    # An octave lower than the clef says today; the cello's top is A5 in any handbook.
    assert sounding(score)[1:5] == [71, 72, 74, 72]


def test_german_bass_clarinet(xml):
    low = "".join(xml.note(p, 1) for p in ("E2", "F2", "G2", "E2"))
    bars = [CLEF.format("F", 4) + low, CLEF.format("G", 2) + xml.note("F4", 4)]
    score = read(xml, xml.part("Bass Clarinet in B♭", *bars, more=TRANSPOSE.format(-14)))
    # Forsyth (1914): in the bass clef it sounds a tone lower, in the treble clef a ninth.
    assert sounding(score) == [38, 39, 41, 38, 51]


def test_timpani_written_c_and_g(xml):
    bars = [xml.note("C3", 2) + xml.note("G2", 2)] * 4
    assert tuning_of("Timpani in D, A") == (2, 9)
    score = read(xml, xml.part("Timpani in D, A", *bars))
    assert set(sounding(score)) == {50, 45}
    assert any("timpani" in remark for remark in score.remarks)


def test_timpani_written_at_pitch(xml):
    bars = [xml.note("D3", 2) + xml.note("A2", 2)] * 4
    assert set(sounding(read(xml, xml.part("Timpani in D, A", *bars)))) == {50, 45}


def test_settings_decide(xml):
    parts = [xml.part("Horn", xml.note("C5", 4)), xml.part("Oboe", xml.note("C5", 4))]
    score = read(
        xml,
        *parts,
        settings="[parts.Horn]\ntransposition = -8\nplayers = 4\n[parts.2]\n"
        'instrument = "English horn"\n',
    )
    assert score.notes[0].pitch in (64, 72)
    assert sounding(score) == [64]
    assert score.parts[0].players == 4
    assert score.parts[1].instrument.key == "english-horn"
    assert sum("score.toml says" in remark for remark in score.remarks) == 2


def test_settings_tell_all_that_is_wrong_at_once(xml):
    settings = """
    [part.Horn]
    transposition = 1
    [parts.Hron]
    transposition = 2.5
    [parts.2]
    player = 2
    instrument = "vuvuzela"
    [parts.Oboe]
    players = 0
    """
    parts = [xml.part("Horn", xml.note("C5", 4)), xml.part("Oboe", xml.note("C5", 4))]
    with pytest.raises(InputError) as caught:
        read(xml, *parts, settings=settings)
    for piece in (
        "did you mean 'parts'",
        "'Hron' (did you mean 'Horn'?)", "2.5", "did you mean 'players'",
        "'vuvuzela'", "part 2 is set twice", "players of 'Oboe' is 0",
    ):  # fmt: skip
        assert piece in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("settings", ["[parts", "parts = 3", "\xff"])
def test_settings_that_cannot_be_read(xml, settings):
    with pytest.raises(InputError, match=r"score\.toml"):
        read(xml, xml.part("Horn", xml.note("C5", 4)), settings=settings)


def test_an_old_quartet_of_the_reference_corpus():
    # Schumann, op. 41 no. 1, first movement, in music21's corpus: the cello's treble clef
    # stands straight after the bass clef, with notes to D6; A5 is its top in any handbook.
    path = Path(music21.__file__).parent / "corpus/schumann_robert/opus41no1/movement1.mxl"
    score = read_score(path)
    cello = [n for n in score.notes if n.part == 4]
    assert max(n.written_pitch for n in cello) == 86
    assert max(n.pitch for n in cello) <= 81


@pytest.mark.parametrize(
    ("name", "pitches"),
    [("Tenor", ("E5", "G5", "F5", "D5", "E5")), ("Bass", ("C5", "A4", "G4", "A4", "C5"))],
)
def test_a_voice_that_lost_the_eight_under_its_clef(xml, name, pitches):
    # A tenor's range ends at C5, a bass's at E4 (any handbook; from memory).
    bars = [CLEF.format("G", 2) + xml.note(p, 4) for p in pitches]
    score = read(xml, xml.part(name, *bars))
    assert [n.pitch - n.written_pitch for n in score.notes] == [-12] * 5


def test_a_named_bass_in_high_clefs_stays(xml):
    bars = [CLEF.format("C", 3) + xml.note(p, 4) for p in ("G4", "A4", "G4", "F4", "G4")]
    assert sounding(read(xml, xml.part("Basso", *bars))) == [67, 69, 67, 65, 67]


def test_basso_and_alto_in_the_name_outweigh_the_files_octave(xml):
    horn = xml.part("Horn in B♭ basso", xml.note("C5", 4), more=TRANSPOSE.format(-2))
    assert sounding(read(xml, horn)) == [58]


def test_a_name_that_contradicts_the_file_is_said(xml):
    horn = xml.part("Horn in E", xml.note("C5", 4), more=TRANSPOSE.format(-7))
    score = read(xml, horn)
    assert sounding(score) == [65]
    assert any("another key than the file's" in remark for remark in score.remarks)


def test_notes_out_of_range_stay_where_file_and_custom_agree(xml):
    # Three of eight notes below the piccolo's D5: the composer's mistake, not the file's.
    pitches = ("D5", "E5", "F5", "C4", "B3", "C4", "G5", "A5")
    piccolo = xml.part("Piccolo", *[xml.note(p, 4) for p in pitches], more=TRANSPOSE.format(12))
    score = read(xml, piccolo)
    assert {n.pitch - n.written_pitch for n in score.notes} == {12}


def test_midi_sounds_as_it_stands(tmp_path):
    # Standard MIDI files hold sounding note numbers (MIDI 1.0), whatever a track is called.
    track = mido.MidiTrack([mido.MetaMessage("track_name", name="Horn in C")])
    for number in (60, 64, 67, 72):
        track += [
            mido.Message("note_on", note=number, velocity=64),
            mido.Message("note_off", note=number, time=480),
        ]
    path = tmp_path / "horn.mid"
    mido.MidiFile(tracks=[track]).save(path)
    assert sounding(read_score(path)) == [60, 64, 67, 72]


def test_one_of_two_players_changes(xml):
    bars = [xml.note("C5", 4) + xml.words("2. muta in Piccolo"), xml.note("R", 4)]
    alone = read(xml, xml.part("Flute 2", *bars, xml.note("E5", 4)))
    assert [line.instrument.key for line in alone.lines] == ["flute", "piccolo"]
    pair = read(xml, xml.part("Flutes 1.2", *bars, xml.note("E5", 4)))
    assert len(pair.lines) == 1
    assert any("one of its players changes" in remark for remark in pair.remarks)


def test_a_bass_transposed_twice(xml):
    # Written at sounding pitch and transposed by the file too: most of it lies below E1.
    line = "".join(xml.note(p, 1) for p in ("E2", "G2", "C3", "E2"))
    low = "".join(xml.note(p, 1) for p in ("E1", "G1", "C2", "E1"))
    parts = (
        xml.part("Violoncello", *[line] * 4),
        xml.part("Contrabass", *[low] * 4, more=TRANSPOSE.format(-12)),
    )
    score = read(xml, *parts)
    assert sounding(score, 2) == [n - 12 for n in sounding(score, 1)]


def test_a_horn_in_c_that_the_file_leaves_where_it_stands(xml):
    # Forsyth (1914): the horn in C sounds an octave lower; written above F5 (the horn's top)
    # it can do nothing else.
    pitches = ("C5", "G5", "C6", "G5", "E5", "A5")
    horn = xml.part("Corno in C", *[xml.note(p, 4) for p in pitches], more=TRANSPOSE.format(0))
    assert {n.pitch - n.written_pitch for n in read(xml, horn).notes} == {-12}
