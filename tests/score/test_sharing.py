"""Two instruments on one staff, and staves and players of one part marked differently.

What shared staves mean is common practice, no source, except where one is named.
"""

from pathlib import Path

import music21
import pytest

from auditor.score.reading import read_score

BACK = "<backup><duration>96</duration></backup>"


def read(xml, name, *bars, beside=()):
    return read_score(xml.save(xml.score(xml.part(name, *bars), *beside)))


@pytest.mark.parametrize(
    "name",
    [
        "Violoncello e Contrabasso", "Vc. e Cb.", "Vcl. u. Kb.", "Cello/Bass",
        "Violoncelli, Contrabassi", "Violoncelles et Contrebasses", "Violoncello e Basso",
        "Violoncell und Bass",
    ],
)  # fmt: skip
def test_cellos_and_basses_are_two_lines_an_octave_apart(xml, name):
    score = read(xml, name, xml.note("C3", 4))
    assert [line.instrument.key for line in score.lines] == ["cello", "double-bass"]
    # Rimsky-Korsakov's medium body: six cellos, four to six basses.
    assert [line.players for line in score.lines] == [6, 5]
    assert sorted((n.line, n.pitch, n.players) for n in score.notes) == [(1, 48, 6), (2, 36, 5)]
    assert len({n.id for n in score.notes}) == 2
    assert any("share the staff" in remark for remark in score.remarks)


def test_words_stems_and_chords_part_cellos_from_basses(xml):
    bars = [
        xml.words("Vc.") + xml.note("D3", 4),
        xml.words("Bassi") + xml.note("E3", 4),
        xml.note("E3", 4) + xml.note("C3", 4, chord=True),
        xml.words("senza C.B.") + xml.note("F3", 4),
        xml.words("Vc. solo") + xml.note("F3", 4),
        xml.words("Tutti") + xml.note("G3", 4) + BACK + xml.note("C3", 4, voice=2),
        xml.words("C.B.") + xml.note("G3", 4),
    ]
    notes = read(xml, "Vc. e Cb.", *bars).notes
    assert sorted((n.bar, n.line, n.pitch, n.players) for n in notes) == [
        (0, 1, 50, 6), (1, 1, 52, 6), (1, 2, 40, 5), (2, 1, 52, 6), (2, 2, 36, 5),
        (3, 1, 53, 6), (4, 1, 53, 1), (5, 1, 55, 6), (5, 2, 36, 5), (6, 2, 43, 5),
    ]  # fmt: skip


def test_ties_of_a_shared_staff_are_merged_for_both(xml):
    on = xml.note("C3", 4, notations='<tied type="start"/>')
    off = xml.note("C3", 4, notations='<tied type="stop"/>')
    notes = read(xml, "Vc. e Cb.", on, off).notes
    assert sorted((n.pitch, n.duration) for n in notes) == [(36, 8), (48, 8)]


def test_bassi_are_both_where_nobody_else_has_the_cello(xml):
    above = [xml.part("Violino I", xml.note("C5", 4)), xml.part("Viola", xml.note("C4", 4))]
    cello = xml.part("Violoncello", xml.note("C3", 4))
    bass = xml.note("C3", 4)
    both = read(xml, "Bassi", bass, beside=above)
    assert sorted(n.pitch for n in both.notes if n.part == 1) == [36, 48]
    only = read(xml, "Bassi", bass, beside=[*above, cello])
    assert len([n for n in only.notes if n.part == 1]) == 1


def test_the_last_trombone_and_the_tuba(xml):
    chord = xml.note("F3", 4) + xml.note("B2", 4, chord=True)
    score = read(xml, "Trombone III e Tuba", chord, xml.words("Tuba") + xml.note("C2", 4))
    names = {line.number: line.instrument.key for line in score.lines}
    assert sorted((n.bar, names[n.line], n.pitch) for n in score.notes) == [
        (0, "trombone", 53), (0, "tuba", 47), (1, "tuba", 36),
    ]  # fmt: skip


def test_one_player_who_changes_instruments_stays_one_line(xml):
    score = read(xml, "Flute/Piccolo", xml.note("C5", 4))
    assert len(score.notes) == 1
    assert any("several instruments share" in remark for remark in score.remarks)


def on_staff(sign, staff):
    return sign.replace("</direction>", f"<staff>{staff}</staff></direction>")


def two_staves(xml, first, second, name="Piano"):
    upper = "".join(xml.note("C5", 1, staff=1) for _ in range(4))
    lower = "".join(xml.note("C3", 1, staff=2, voice=5) for _ in range(4))
    bars = [
        "".join(on_staff(xml.dynamic(d), 1) for d in one) + upper + BACK
        + "".join(on_staff(xml.dynamic(d), 2) for d in two) + lower
        for one, two in zip(first, second, strict=True)
    ]  # fmt: skip
    part = xml.part(name, *bars, more="<staves>2</staves>")
    notes = read_score(xml.save(xml.score(part))).notes
    staff = {72: 0, 48: 1}
    return [[n.dynamic for n in notes if staff[n.pitch] == s and n.beat == 1] for s in (0, 1)]


def test_dynamics_between_the_staves_of_a_piano_are_for_both(xml):
    assert two_staves(xml, [["p"], ["f"]], [[], []]) == [[1, 4], [1, 4]]


def test_dynamics_of_one_staff_of_a_piano_are_its_own(xml):
    assert two_staves(xml, [["p"], [], ["ff"]], [["f"], [], []]) == [[1, 1, 5], [4, 4, 5]]


def test_staves_of_a_divided_section_have_their_own_dynamics(xml):
    found = two_staves(xml, [["p"], ["ff"]], [["f"], []], name="Violins")
    assert found == [[1, 5], [4, 4]]


def test_dynamics_per_staff_of_the_conformance_suite():
    # 43e: "each element (ffff, wedge and clef changes) applies only to one voice or one staff"
    suite = Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite"
    notes = read_score(suite / "43e-Multistaff-ClefDynamics.xml").notes
    upper = [n.dynamic for n in notes if n.bar == 0 and n.voice.startswith("1.")]
    lower = [n.dynamic for n in notes if n.bar == 0 and n.voice.startswith("2.")]
    assert upper == [7, 7, 7, 1]  # ffff, then p
    # No letter on the lower staff: mf is assumed, and grows by a step under the hairpin.
    assert lower[0] == 3
    assert lower[1] == pytest.approx(3.5, abs=0.01)
    assert lower[2:] == pytest.approx([4, 4], abs=0.01)


def test_two_players_of_a_staff_marked_differently(xml):
    above = xml.dynamic("f").replace("<direction>", '<direction placement="above">')
    below = xml.dynamic("p").replace("<direction>", '<direction placement="below">')
    first = above + below + xml.note("E5", 4) + BACK + xml.note("C5", 4, voice=2)
    then = xml.dynamic("pp") + xml.note("E5", 4) + BACK + xml.note("C5", 4, voice=2)
    notes = read(xml, "2 Oboi", first, then).notes
    assert [(n.bar, n.pitch, n.dynamic) for n in notes] == [
        (0, 72, 1), (0, 76, 4), (1, 72, 0), (1, 76, 0),
    ]  # fmt: skip
