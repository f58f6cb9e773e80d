"""Shorthand, cues, kits and tempo: what the page means beyond its plain notes."""

import pytest

from auditor.score.grid import Grid
from auditor.score.reading import read_score
from auditor.score.sheet import Mark
from auditor.score.techniques import playing


def read(xml, *parts):
    return read_score(xml.save(xml.score(*parts)))


def table(score, part=1):
    return [(n.onset, n.duration, n.pitch) for n in score.notes if n.part == part]


def percent(kind, bars=1):
    return (
        f'<attributes><measure-style><measure-repeat type="{kind}" slashes="1">'
        f"{bars if kind == 'start' else ''}</measure-repeat></measure-style></attributes>"
    )


def test_percent_signs_are_written_out(xml):
    # MusicXML 4.0, <measure-repeat>: "The stop type indicates the first measure where the
    # repeats are no longer displayed."
    rest = xml.note("R", 4)
    bars = [
        xml.note("C5", 2) + xml.note("D5", 2),
        percent("start") + rest,
        rest,
        percent("stop") + xml.note("E5", 4),
    ]
    score = read(xml, xml.part("Flute", *bars))
    twice = [(4 * bar + at, 2, p) for bar in range(3) for at, p in ((0, 72), (2, 74))]
    assert table(score) == [*twice, (12, 4, 76)]
    assert len({n.id for n in score.notes}) == 7
    assert any("2 bars under percent signs" in remark for remark in score.remarks)


def test_percent_signs_over_two_bars(xml):
    rest = xml.note("R", 4)
    bars = [xml.note("C5", 4), xml.note("D5", 4), percent("start", 2) + rest, rest]
    assert [p for _, _, p in table(read(xml, xml.part("Flute", *bars)))] == [72, 74, 72, 74]


def test_bars_that_hold_their_notes_already_stay(xml):
    bars = [xml.note("C5", 4), percent("start") + xml.note("D5", 4)]
    assert [p for _, _, p in table(read(xml, xml.part("Flute", *bars)))] == [72, 74]


def test_slashes_have_no_pitch(xml):
    slash = xml.note("B4", 1).replace("</note>", "<notehead>slash</notehead></note>")
    score = read(xml, xml.part("Guitar", slash * 4))
    assert [(n.unpitched, n.pitch, n.spelling) for n in score.notes] == [(True, 0, "")] * 4
    assert any("4 slash noteheads" in remark for remark in score.remarks)


def small(text):
    return text.replace("</note>", '<type size="cue">half</type></note>')


@pytest.mark.parametrize(("label", "left"), [("Fl. 1", 1), ("(cue)", 1), ("espr.", 3)])
def test_small_notes_are_a_cue_under_anothers_name(xml, label, left):
    # MusicXML 4.0, <cue>: "Normal notes that play can be specified as cue size using the
    # <type> element"; a name above them says that another plays them.
    cue = xml.words(label) + small(xml.note("C5", 2)) + small(xml.note("D5", 2))
    assert len(read(xml, xml.part("Oboe", cue, xml.note("G4", 4))).notes) == left


@pytest.mark.parametrize(("kind", "played"), [("ossia", 1), ("cue", 1), ("regular", 2)])
def test_an_ossia_above_the_staff_is_not_played(xml, kind, played):
    # MusicXML 4.0, <staff-type>: "ossia", "cue", "regular" and others.
    details = f'<staff-details number="1"><staff-type>{kind}</staff-type></staff-details>'
    bar = xml.note("C6", 4, staff=1) + "<backup><duration>96</duration></backup>"
    bar += xml.note("C5", 4, staff=2, voice=5)
    score = read(xml, xml.part("Flute", bar, more="<staves>2</staves>" + details))
    assert len(score.notes) == played


def test_hidden_notes_are_played_and_said(xml):
    hidden = xml.note("C5", 4).replace("<note>", '<note print-object="no">')
    score = read(xml, xml.part("Flute", hidden))
    assert len(score.notes) == 1
    assert any("hidden" in remark for remark in score.remarks)


def test_a_length_left_out_is_taken_from_the_value(xml):
    note = (
        "<note><pitch><step>C</step><octave>5</octave></pitch><voice>1</voice>"
        "<type>half</type><dot/></note>"
    )
    assert table(read(xml, xml.part("Flute", note + xml.note("D5", 1)))) == [
        (0, 3, 72),
        (3, 1, 74),
    ]


def test_notes_of_a_kit_know_their_instrument(xml):
    def hit(which):
        return (
            "<note><unpitched/><duration>48</duration>"
            f'<instrument id="P1-{which}"/><voice>1</voice></note>'
        )

    # MusicXML 4.0, <midi-unpitched>: "a number from 1 to 128"; General MIDI key 42 is the
    # closed hi-hat, so 43 here.
    kit = (
        '<score-instrument id="P1-A"><instrument-name>Snare Drum</instrument-name>'
        '</score-instrument><score-instrument id="P1-B"><instrument-name></instrument-name>'
        '</score-instrument><midi-instrument id="P1-B"><midi-unpitched>43</midi-unpitched>'
        "</midi-instrument>"
    )
    score = read(xml, xml.part("Percussion", hit("A") + hit("B"), head=kit))
    assert [n.techniques for n in score.notes] == [("on-snare-drum",), ("on-hi-hat",)]


def metronome(inner):
    sign = f"<metronome>{inner}</metronome>"
    return f"<direction><direction-type>{sign}</direction-type></direction>"


def tempos(xml, *signs):
    bars = [sign + xml.note("C5", 4) for sign in signs]
    return [bar.tempo for bar in read(xml, xml.part("Flute", *bars)).bars]


def test_metric_modulation(xml):
    # The first value is that of the tempo before, the second that of the tempo after and as
    # long: quarter = dotted quarter makes the quarter half again as fast.
    first = metronome("<beat-unit>quarter</beat-unit><per-minute>60</per-minute>")
    change = metronome(
        "<beat-unit>quarter</beat-unit><beat-unit>quarter</beat-unit><beat-unit-dot/>"
    )
    assert tempos(xml, first, change, xml.words("♩. = ♩")) == [60, 90, 60]


def test_tempo_in_words(xml):
    found = tempos(
        xml, xml.words("Allegro (♩ = 120)"), xml.words("half = c. 30"), xml.words("Tempo I")
    )
    assert found == [120, 60, 120]


BARS = 8
GRID = Grid(
    tuple(str(k + 1) for k in range(BARS)),
    tuple(4.0 * k for k in range(BARS)),
    (4.0,) * BARS,
    (4.0,) * BARS,
    (None,) * BARS,
)


def words_at(marks, place, voice):
    return playing(marks, GRID).at(place, voice)


@pytest.mark.parametrize(
    "marks",
    [
        [
            Mark(1, 0.0, "words", "pizz.", placement="below"),
            Mark(1, 0.0, "words", "arco", placement="above"),
        ],
        [Mark(1, 0.0, "words", "2. pizz.")],
        [
            Mark(1, 0.0, "words", "pizz.", voice="2"),
            Mark(1, 0.0, "words", "arco", voice="1"),
        ],
    ],
)
def test_two_players_of_a_staff_may_play_differently(marks):
    # Stems up and above the staff for the first, stems down and below for the second.
    assert "pizz" not in words_at(marks, 4.0, "1")
    assert "pizz" in words_at(marks, 4.0, "2")
    both = [*marks, Mark(3, 0.0, "words", "pizz.")]
    assert "pizz" in words_at(both, 12.0, "1")
    assert "pizz" in words_at(both, 12.0, "2")


def test_one_sign_is_for_all_voices():
    marks = [Mark(1, 0.0, "words", "pizz.", placement="below")]
    assert "pizz" in words_at(marks, 4.0, "1")
    assert "pizz" in words_at(marks, 4.0, "2")


@pytest.mark.parametrize(
    ("on", "off", "word"),
    [
        ("con sord.", "arco senza sord.", "mute"),
        ("frull.", "ord.", "flutter"),
        ("bells up", "normal", "bells-up"),
        ("mit Schwammschlägeln", "hard sticks", "soft-sticks"),
        ("senza vib.", "con vib.", "senza-vibrato"),
        ("snares off", "snares on", "snares-off"),
        ("près de la table", "ord.", "near-table"),
        ("étouffez", "laissez vibrer", "damped"),
    ],
)
def test_words_switch_on_and_off(on, off, word):
    marks = [Mark(1, 0.0, "words", on), Mark(3, 0.0, "words", off)]
    found = [word in words_at(marks, 4.0 * bar, "1") for bar in range(5)]
    assert found == [False, True, True, False, False]


def tremolo(xml, quarters, strokes, kind):
    sign = f'<ornaments><tremolo type="single">{strokes}</tremolo></ornaments>'
    note = xml.note("C5", quarters, notations=sign)
    return note.replace("<voice>", f"<type>{kind}</type><voice>", 1)


@pytest.mark.parametrize(
    ("kind", "quarters", "strokes", "word"),
    [
        ("half", 2, 3, "tremolo"),
        ("half", 2, 1, "tremolo-measured"),
        ("quarter", 1, 2, "tremolo-measured"),
        ("eighth", 0.5, 2, "tremolo"),
        ("eighth", 0.5, 1, "tremolo-measured"),
    ],
)
def test_strokes_are_measured_or_free(xml, kind, quarters, strokes, word):
    # Beams and strokes together: three and more are free (common practice, no source).
    score = read(xml, xml.part("Violin", tremolo(xml, quarters, strokes, kind)))
    assert score.notes[0].techniques == (word,)


def test_the_word_tremolo_frees_the_strokes(xml):
    bar = xml.words("trem.") + tremolo(xml, 2, 1, "half") + xml.note("C5", 2)
    assert [n.techniques for n in read(xml, xml.part("Violin", bar)).notes] == [
        ("tremolo",),
        (),
    ]


def test_staccato_in_words_spares_slurred_notes(xml):
    slurred = [
        xml.note("C5", 1, notations=f'<slur type="{kind}" number="1"/>')
        for kind in ("start", "stop")
    ]
    bars = [
        xml.words("stacc.") + xml.note("C5", 2) + "".join(slurred),
        xml.words("legato") + xml.note("C5", 4),
    ]
    found = [n.techniques for n in read(xml, xml.part("Violin", *bars)).notes]
    assert found == [("staccato",), ("staccato",), ("slurred",), ()]
