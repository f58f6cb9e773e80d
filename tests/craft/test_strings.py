import pytest

from auditor.craft.strings import remarks


def solo(made, key, *notes, **more):
    return made.page([(key, list(notes))], players={1: 1}, **more)


def section(made, key, *notes, **more):
    return made.page([(key, list(notes))], **more)


def test_a_soloist_cannot_stop_two_notes_of_the_lowest_string(made, kinds):
    score = solo(made, "violin", *made.chord(0, (56, 60)))
    assert kinds(remarks, score) == [("stop-not-fingered", "cannot be played")]


def test_two_soloists_may_share_a_part_so_stems_apart_are_only_doubtful(made, kinds):
    apart = [made.note(0, 56, voice="2"), made.note(0, 60, voice="1")]
    assert kinds(remarks, solo(made, "violin", *apart)) == [("stop-needs-divisi", "risky")]


def test_two_soloists_in_unison_are_no_stop(made, kinds):
    apart = [made.note(0, 58, voice="2"), made.note(0, 58, voice="1")]
    assert kinds(remarks, solo(made, "violin", *apart)) == []


def test_a_held_note_and_one_that_begins_over_it_are_a_stop(made, kinds):
    score = solo(made, "violin", made.note(0, 56, 4), made.note(2, 60, 2))
    assert kinds(remarks, score) == [("stop-not-fingered", "cannot be played")]


def test_a_section_may_divide_what_one_player_cannot_stop_but_should_be_told(made, kinds):
    score = section(made, "viola", *made.chord(0, (50, 53)))
    assert kinds(remarks, score) == [("stop-needs-divisi", "risky")]


@pytest.mark.parametrize("word", ["div.", "Div. a 2", "geteilt"])
def test_a_divided_section_is_never_called_impossible(made, kinds, word):
    score = section(made, "viola", *made.chord(4, (50, 53)), directions=[(1, 0.0, word)])
    assert kinds(remarks, score) == []


def test_a_section_divided_by_the_reader_is_not_called_impossible(made, kinds):
    score = section(made, "viola", *made.chord(4, (50, 53), techniques=("div",)))
    assert kinds(remarks, score) == []


@pytest.mark.parametrize("word", ["non div.", "non divisi", "nicht geteilt"])
def test_non_div_asks_every_player_for_the_chord(made, kinds, word):
    score = section(made, "viola", *made.chord(4, (50, 53)), directions=[(1, 0.0, word)])
    assert kinds(remarks, score) == [("stop-not-fingered", "cannot be played")]


@pytest.mark.parametrize(
    ("players", "expected"),
    [(1.0, ("stop-not-fingered", "cannot be played")), (2.0, ("stop-needs-divisi", "risky"))],
)
def test_one_soloist_of_a_section_is_one_hand_and_two_may_share(made, kinds, players, expected):
    notes = made.chord(0, (50, 53), techniques=("solo",), players=players)
    assert kinds(remarks, section(made, "viola", *notes)) == [expected]


def test_a_word_that_only_begins_like_div_divides_nothing(made, kinds):
    score = section(made, "viola", *made.chord(4, (50, 53)), directions=[(1, 0.0, "divino")])
    assert kinds(remarks, score) == [("stop-needs-divisi", "risky")]


def test_easy_stops_of_a_section_are_fine(made, kinds):
    score = section(made, "violin", *made.chord(0, (55, 62, 71, 79)), *made.chord(2, (62, 71)))
    assert kinds(remarks, score) == []


def test_a_ninth_near_the_nut_is_a_stretch(made, kinds):
    score = solo(made, "violin", *made.chord(0, (57, 71)))
    assert kinds(remarks, score) == [("wide-stop", "risky")]
    assert kinds(remarks, score, violin_reach_mm=110.0) == []


# N. Rimsky-Korsakov (1922), ch. II: short chords, arco, only sound well when played forte.
@pytest.mark.parametrize(
    ("dynamic", "techniques", "found"),
    [(1.0, (), 1), (4.0, (), 0), (1.0, ("pizz",), 0)],
)
def test_bowed_chords_of_four_notes_want_forte(made, kinds, dynamic, techniques, found):
    notes = made.chord(0, (55, 62, 71, 79), dynamic=dynamic, techniques=techniques)
    expected = [("soft-broken-chord", "worth a thought")] * found
    assert kinds(remarks, solo(made, "violin", *notes)) == expected


def flageolet(made, sounding, printed):
    return made.note(0, sounding, written_pitch=printed, techniques=("harmonic",))


# F. H. Martens, Violin Mastery (1919), O. Sametini: natural harmonics on the major triad of
# each open string: G B D, D F sharp A, A C sharp E, E G sharp B. Touched an octave, a third or
# a fifth above the string they sound its octave, its 17th and its 12th (the ideal string).
@pytest.mark.parametrize("open_string", [55, 62, 69, 76])
@pytest.mark.parametrize(("touched", "sounds"), [(12, 12), (4, 28), (7, 19)])
def test_the_major_triad_of_each_open_string_is_there_as_harmonics(
    made, kinds, open_string, touched, sounds
):
    note = flageolet(made, open_string + sounds, open_string + touched)
    assert kinds(remarks, solo(made, "violin", note)) == []


# The same: a fourth above a stopped note gives its double octave, a fifth the twelfth, a major
# third two octaves and a third.
@pytest.mark.parametrize("stopped", range(56, 80))
@pytest.mark.parametrize("lift", [24, 19, 28])
def test_artificial_harmonics_go_from_a_flat_upward_on_the_violin(made, kinds, stopped, lift):
    note = flageolet(made, stopped + lift, stopped)
    assert kinds(remarks, solo(made, "violin", note)) == []


@pytest.mark.parametrize("semitones", [1, 2, 6])
def test_the_g_string_has_no_harmonic_there(made, kinds, semitones):
    note = flageolet(made, 55 + semitones, 55 + semitones)
    assert kinds(remarks, solo(made, "violin", note)) == [
        ("harmonic-out-of-reach", "cannot be played")
    ]


def test_a_touched_fourth_near_the_nut_is_too_wide_for_the_double_bass_alone(made, kinds):
    bass = flageolet(made, 30 + 24, 30 + 12)
    assert kinds(remarks, solo(made, "double-bass", bass)) == [
        ("harmonic-out-of-reach", "cannot be played")
    ]
    cello = flageolet(made, 39 + 24, 39)
    assert kinds(remarks, solo(made, "cello", cello)) == []


def test_harmonics_beyond_c8_are_a_matter_of_luck(made, kinds):
    assert kinds(remarks, solo(made, "violin", flageolet(made, 109, 85))) == [
        ("harmonic-very-high", "risky")
    ]


def test_a_section_cannot_be_divided_beyond_its_players(made, kinds):
    notes = made.chord(0, (52, 55, 59, 62, 64), techniques=("div",))
    many = made.page([("viola", notes)], players={1: 4})
    few = made.page([("viola", notes)], players={1: 8})
    enough = made.page([("viola", notes)], players={1: 10})
    assert kinds(remarks, many) == [("divisi-too-many", "risky")]
    assert kinds(remarks, few) == [("divisi-too-many", "worth a thought")]
    assert kinds(remarks, enough) == []


# E. Prout, The Orchestra I (1899), 19: E1 is the lowest note of the double bass.
@pytest.mark.parametrize(("pitch", "found"), [(28, 0), (27, 1), (24, 1)])
def test_below_e_the_bass_needs_more_than_four_strings(made, kinds, pitch, found):
    score = section(made, "double-bass", made.note(0, pitch))
    assert kinds(remarks, score) == [("below-low-string", "worth a thought")] * found


def test_a_low_note_with_its_octave_is_the_remedy_and_no_stop(made, kinds):
    score = section(made, "double-bass", *made.chord(0, (24, 36)))
    assert kinds(remarks, score) == [("below-low-string", "worth a thought")]


def test_the_remark_names_what_to_write(made):
    from auditor.craft.limits import CraftLimits
    from auditor.craft.page import Page

    score = section(made, "double-bass", made.note(0, 24))
    (one,) = remarks(Page(score, CraftLimits()), CraftLimits())
    assert "octave above in parentheses" in one.remedy
    assert one.sentence == "The basses go below E1."
