"""Notes, ties, transposition, grids and identifiers of small scores written here."""

import pytest

from auditor.errors import ScoreError
from auditor.score.reading import open_score, read_score


def read(xml, *parts):
    return read_score(xml.save(xml.score(*parts)))


def table(score, line=1):
    return [(n.onset, n.duration, n.pitch) for n in score.notes if n.line == line]


def test_onsets_and_lengths(xml):
    score = read(
        xml, xml.part("Flute", xml.note("C5", 1) + xml.note("D5", 3), xml.note("E5", 4))
    )
    assert table(score) == [(0, 1, 72), (1, 3, 74), (4, 4, 76)]
    assert [n.beat for n in score.notes] == [1, 2, 1]
    assert score.title == "Study"
    assert score.duration == 8
    assert score.written_bars == 2


def test_middle_c_is_60(xml):
    # MusicXML 4.0, <octave>: "octave 4 is the octave started by middle C".
    assert read(xml, xml.part("Piano", xml.note("C4", 4))).notes[0].pitch == 60


def test_ties_are_merged_over_barlines(xml):
    first = xml.note("C5", 2) + xml.note("C5", 2, more='<tie type="start"/>')
    middle = xml.note("C5", 4, more='<tie type="stop"/><tie type="start"/>')
    last = xml.note("C5", 1, more='<tie type="stop"/>') + xml.note("C5", 3)
    score = read(xml, xml.part("Flute", first, middle, last))
    assert table(score) == [(0, 2, 72), (2, 7, 72), (9, 3, 72)]


def test_one_tied_note_of_a_chord_is_merged(xml):
    tied = '<tie type="start"/>'
    first = xml.note("C4", 4, more=tied) + xml.note("E4", 4, chord=True)
    last = xml.note("C4", 4, more='<tie type="stop"/>') + xml.note("F4", 4, chord=True)
    score = read(xml, xml.part("Piano", first, last))
    assert table(score) == [(0, 8, 60), (0, 4, 64), (4, 4, 65)]


def test_ties_of_two_voices_on_one_pitch_stay_apart(xml):
    def bar(kind):
        tie = f'<tie type="{kind}"/>'
        return (
            xml.note("C5", 4, more=tie, voice=1)
            + "<backup><duration>96</duration></backup>"
            + xml.note("C5", 4, more=tie, voice=2)
        )

    score = read(xml, xml.part("Flute 1-2", bar("start"), bar("stop")))
    assert table(score) == [(0, 8, 72), (0, 8, 72)]


def test_a_tie_out_of_a_bar_that_is_a_little_short_is_merged(xml):
    first = xml.note("C5", 3.9, more='<tie type="start"/>')
    last = xml.note("C5", 4, more='<tie type="stop"/>')
    full = xml.part("Oboe", xml.note("C5", 4), xml.note("C5", 4))
    score = read(xml, xml.part("Flute", first, last), full, full)
    assert table(score) == [(0, 8, 72)]


def test_a_tie_without_its_other_end_is_a_note(xml):
    score = read(xml, xml.part("Flute", xml.note("C5", 4, more='<tie type="stop"/>')))
    assert table(score) == [(0, 4, 72)]


def test_tuplets(xml):
    change = (
        "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
        "</time-modification>"
    )
    third = (
        "<note><pitch><step>C</step><octave>5</octave></pitch><duration>8</duration>"
        f"<voice>1</voice><type>eighth</type>{change}</note>"
    )
    score = read(xml, xml.part("Flute", third * 3 + xml.note("C5", 3)))
    assert [n.onset for n in score.notes] == pytest.approx([0, 1 / 3, 2 / 3, 1], abs=1e-6)


def test_grace_notes_have_no_length(xml):
    grace = (
        "<note><grace/><pitch><step>D</step><octave>5</octave></pitch><voice>1</voice>"
        "<type>eighth</type></note>"
    )
    score = read(xml, xml.part("Flute", xml.note("C5", 2) + grace + xml.note("C5", 2)))
    found = [(n.onset, n.duration, n.pitch, n.grace) for n in score.notes]
    assert found == [(0, 2, 72, False), (2, 2, 72, False), (2, 0, 74, True)]


def test_rests_lyrics_and_chord_symbols_are_no_notes(xml):
    harmony = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
    sung = xml.note("C5", 2).replace("</note>", "<lyric><text>la</text></lyric></note>")
    score = read(xml, xml.part("Soprano", harmony + sung + xml.note("R", 2)))
    assert table(score) == [(0, 2, 72)]


def test_cue_notes_are_silent(xml):
    # MusicXML 4.0, <cue>: "a cue note ... normally silent".
    cue = xml.note("G5", 2).replace("<note>", "<note><cue/>")
    cue_chord = xml.note("B5", 2, chord=True).replace("<note>", "<note><cue/>")
    score = read(xml, xml.part("Flute", cue + cue_chord + xml.note("C5", 2)))
    assert table(score) == [(2, 2, 72)]


TRANSPOSE = "<transpose><chromatic>{}</chromatic>{}</transpose>"


def test_transposing_parts_sound_where_they_sound(xml):
    # Written C5 for clarinet in B flat sounds B flat 4 (MusicXML 4.0, <transpose> example).
    score = read(
        xml, xml.part("Clarinet in Bb", xml.note("C5", 4), more=TRANSPOSE.format(-2, ""))
    )
    assert (score.notes[0].pitch, score.notes[0].written_pitch) == (70, 72)
    assert score.parts[0].instrument.transposition == -2


def test_octave_change(xml):
    octave = TRANSPOSE.format(0, "<octave-change>-1</octave-change>")
    score = read(xml, xml.part("Double Bass", xml.note("E3", 4), more=octave))
    assert (score.notes[0].pitch, score.notes[0].written_pitch) == (40, 52)
    assert not any("transposition" in remark for remark in score.remarks)


def test_transposition_can_change_in_the_middle(xml):
    change = f"<attributes>{TRANSPOSE.format(-3, '')}</attributes>"
    score = read(
        xml,
        xml.part(
            "Clarinet",
            xml.note("C5", 4),
            change + xml.note("C5", 4),
            more=TRANSPOSE.format(-2, ""),
        ),
    )
    assert [n.pitch for n in score.notes] == [70, 69]


def test_a_bass_without_transposition_is_remarked(xml):
    score = read(xml, xml.part("Contrabass", xml.note("E3", 4), xml.note("G2", 4)))
    assert any("double bass written an octave away" in remark for remark in score.remarks)


def test_a_bass_at_sounding_pitch_is_not_remarked(xml):
    score = read(xml, xml.part("Contrabass", xml.note("E1", 4), xml.note("G2", 4)))
    assert not any("octave" in remark for remark in score.remarks)


def test_staves_of_one_part_are_one_part(xml):
    harp = xml.part(
        "Harp",
        xml.note("C5", 4, staff=1)
        + "<backup><duration>96</duration></backup>"
        + xml.note("C3", 4, voice=5, staff=2),
        more="<staves>2</staves>",
    )
    score = read(xml, xml.part("Flute", xml.note("C6", 4)), harp)
    assert [(p.number, p.id) for p in score.parts] == [(1, "P1"), (2, "P2")]
    assert sorted(table(score, line=2)) == [(0, 4, 48), (0, 4, 72)]
    assert len({n.id for n in score.notes}) == 3


def test_part_number_is_the_place_in_the_part_list(xml):
    text = xml.score(xml.part("Flute", xml.note("C6", 4)), xml.part("Oboe", xml.note("C5", 4)))
    text = text.replace(
        "<part-list>",
        '<part-list><score-part id="X"><part-name>Tacet</part-name></score-part>',
    )
    score = read_score(xml.save(text))
    assert [p.number for p in score.parts] == [2, 3]
    assert [(n.part, n.line) for n in score.notes] == [(3, 2), (2, 1)][::-1]


def test_unpitched_percussion(xml):
    hit = (
        "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave>"
        "</unpitched><duration>96</duration><voice>1</voice></note>"
    )
    score = read(xml, xml.part("Bass Drum", hit))
    assert score.notes[0].unpitched
    assert score.notes[0].pitch == 0
    assert score.parts[0].instrument.key == "bass-drum"


def test_drum_written_with_pitches_has_none(xml):
    score = read(xml, xml.part("Triangle", xml.note("C5", 4)))
    assert score.notes[0].unpitched
    assert score.notes[0].pitch == 0


def test_an_overfull_bar_does_not_shift_the_others(xml):
    score = read(
        xml,
        xml.part("Flute", xml.note("C5", 5), xml.note("D5", 4)),
        xml.part("Oboe", xml.note("C5", 4), xml.note("D5", 4)),
        xml.part("Horn", xml.note("C4", 4), xml.note("D4", 4)),
    )
    second_bar = [n.onset for n in score.notes if n.bar == 1]
    assert second_bar == [4, 4, 4]
    assert any("not equally long (bars 1)" in remark for remark in score.remarks)


def test_upbeat_and_printed_numbers(xml):
    score = read(
        xml, xml.part("Flute", xml.note("C5", 1), xml.note("D5", 4), numbers=["0", "X1"])
    )
    assert [(b.number, b.onset, b.duration) for b in score.bars] == [("0", 0, 1), ("X1", 1, 4)]


def test_empty_bar_lasts_what_its_signature_asks(xml):
    three = "<attributes><time><beats>3</beats><beat-type>8</beat-type></time></attributes>"
    score = read(xml, xml.part("Flute", xml.note("C5", 4), three, xml.note("C5", 1.5)))
    assert [b.duration for b in score.bars] == [4, 1.5, 1.5]


def test_tempo_counts_quarters(xml):
    half = xml.direction(
        "<metronome><beat-unit>half</beat-unit><per-minute>60</per-minute></metronome>"
    )
    dotted = xml.direction(
        "<metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>c. 40</per-minute></metronome>"
    )
    # MusicXML 4.0, <sound tempo>: "expressed in quarter notes per minute".
    sound = xml.direction("<words>Presto</words>", '<sound tempo="180"/>')
    bars = [xml.note("C5", 4) for _ in range(4)]
    score = read(
        xml, xml.part("Flute", bars[0], half + bars[1], dotted + bars[2], sound + bars[3])
    )
    assert [b.tempo for b in score.bars] == [None, 120, 60, 180]


def test_a_late_tempo_mark_counts_from_the_next_bar(xml):
    sound = '<sound tempo="50"/>'
    score = read(xml, xml.part("Flute", xml.note("C5", 4) + sound, xml.note("C5", 4)))
    assert [b.tempo for b in score.bars] == [None, 50]


def test_identifiers_and_second_pass(xml):
    end = '<barline location="right"><repeat direction="backward"/></barline>'
    score = read(xml, xml.part("Flute", xml.note("C5", 2) + xml.note("D5", 2) + end))
    assert [n.id for n in score.notes] == ["p1m1n1", "p1m1n2", "p1m1n1.2", "p1m1n2.2"]
    assert [n.element for n in score.notes] == ["p1m1n1", "p1m1n2"] * 2
    assert [(b.written_index, b.pass_number) for b in score.bars] == [(0, 1), (0, 2)]


def test_identifiers_are_stable(xml):
    path = xml.save(xml.score(xml.part("Flute", xml.note("C5", 2) + xml.note("D5", 2))))
    assert read_score(path) == read_score(path)
    assert open_score(path).score == read_score(path)


def test_notes_are_sorted(xml):
    score = read(
        xml,
        xml.part("Oboe", xml.note("E5", 1) + xml.note("C5", 1, chord=True) + xml.note("C5", 3)),
        xml.part("Flute", xml.note("A5", 4)),
    )
    keys = [(n.onset, n.line, n.pitch) for n in score.notes]
    assert keys == sorted(keys)


def test_unknown_instrument_is_kept_and_named(xml):
    score = read(xml, xml.part("Glass Harmonium of Doom Zz", xml.note("C5", 4)))
    strange = read(xml, xml.part("Zzyzx", xml.note("C5", 4)))
    assert score.parts[0].instrument.known
    assert not strange.parts[0].instrument.known
    assert strange.parts[0].instrument.name == "Zzyzx"
    assert any("Zzyzx: this instrument is not in the table" in r for r in strange.remarks)


def test_two_instruments_on_one_part_are_remarked(xml):
    score = read(xml, xml.part("Oboe/English Horn", xml.note("C5", 4)))
    assert score.parts[0].instrument.key in ("oboe", "english-horn")
    assert any("several instruments share this part" in remark for remark in score.remarks)


def test_transposing_all_parts_moves_every_pitch_alike(xml):
    def pitches(shift):
        more = TRANSPOSE.format(shift, "")
        parts = [
            xml.part(name, xml.note("C5", 2) + xml.note("F#5", 2), more=more)
            for name in ("Flute", "Horn")
        ]
        return [n.pitch for n in read(xml, *parts).notes]

    assert [p + 5 for p in pitches(0)] == pitches(5)


def test_a_tie_does_not_lead_over_a_rest_or_another_note(xml):
    start, stop = '<tie type="start"/>', '<tie type="stop"/>'
    over_rest = xml.note("C5", 3.75, more=start) + xml.note("R", 0.25)
    score = read(xml, xml.part("Flute", over_rest, xml.note("C5", 4, more=stop)))
    assert table(score) == [(0, 3.75, 72), (4, 4, 72)]
    late = xml.note("C4", 0.25) + xml.note("C5", 3.75, more=stop)
    score = read(xml, xml.part("Flute", xml.note("C5", 4, more=start), late))
    assert table(score) == [(0, 4, 72), (4, 0.25, 60), (4.25, 3.75, 72)]


def test_a_transposition_out_of_all_range_is_refused(xml):
    more = TRANSPOSE.format(-60, "")
    part = xml.part("Zzyzx", xml.note("C3", 4), more=more)
    with pytest.raises(ScoreError, match="would sound at MIDI number -12"):
        read(xml, part)
