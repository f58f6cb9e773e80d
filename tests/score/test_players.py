"""Who plays: the words that say it in four languages, stems and rests, names of parts.

The meaning of the words is common practice, no source, except where one is named.
"""

import pytest

from auditor.score.players import who
from auditor.score.reading import read_score


def played(xml, name, *bars):
    score = read_score(xml.save(xml.score(xml.part(name, *bars))))
    return [(n.players, n.chairs) for n in score.notes]


def whole(xml, pitch="C5", **more):
    return xml.note(pitch, 4, **more)


BACK = "<backup><duration>96</duration></backup>"


@pytest.mark.parametrize(
    ("text", "chairs"),
    [
        ("1.", (1,)), ("2.", (2,)), ("I.", (1,)), ("II", (2,)), ("1°", (1,)), ("1o", (1,)),
        ("Imo", (1,)), ("1er", (1,)), ("1st", (1,)), ("primo", (1,)), ("1. Solo", (1,)),
        ("2 solo", (2,)), ("I. II.", (1, 2)), ("1.2.", (1, 2)), ("1. u. 2.", (1, 2)),
        ("1° e 2°", (1, 2)), ("I et II", (1, 2)), ("1.3.", (1, 3)), ("1-4", (1, 2, 3, 4)),
        ("1. sans sourd.", (1,)),
    ],
)  # fmt: skip
def test_numerals_call_chairs(text, chairs):
    assert who(text, strings=False).chairs == chairs


@pytest.mark.parametrize(
    "text", ["a 2", "a2", "à 2", "zu 2", "a. 2", "a due", "à deux", "zu zweien", "a 2 cresc."]
)
def test_two_on_one_line(text):
    found = who(text, strings=False)
    assert found.together
    assert found.count == 2


@pytest.mark.parametrize(
    "text", ["cresc.", "dim.", "a tempo", "i", "all'ottava", "dolce", "in B", "mit Dämpfer", ""]
)
def test_other_words_call_nobody(text):
    assert who(text, strings=False) is None
    assert who(text, strings=True) is None


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("solo", 1), ("ein Spieler", 1), ("seul", 1), ("2 soli", 2), ("due soli", 2),
        ("4 Violini", 4), ("1. Pult", 2), ("1st desk", 2), ("1er pupitre", 2),
        ("1° leggio", 2), ("2 Pulte", 4), ("vier Pulte", 8), ("first two desks", 4),
        ("die ersten 3 Pulte", 6), ("1.-3. Pult", 6),
    ],
)  # fmt: skip
def test_few_of_a_section(text, count):
    assert who(text, strings=True).count == count


# Two chairs share a desk (any handbook).
def test_desks_are_two_chairs():
    assert who("2. Pult", strings=True).chairs == (3, 4)


def test_two_notes_are_one_player_each(xml):
    chord = whole(xml) + whole(xml, "E5", chord=True)
    assert played(xml, "Oboes 1.2", chord) == [(1, (2,)), (1, (1,))]


def test_stems_are_voices(xml):
    both = whole(xml, "E5") + BACK + xml.note("C5", 2, voice=2) + xml.note("D5", 2, voice=2)
    assert played(xml, "Corni I II", both) == [(1, (2,)), (1, (1,)), (1, (2,))]


def test_a_bar_of_many_voices_names_nobody(xml):
    """A file that never lets go of its notes has hundreds; no staff for two has nine."""
    nine = BACK.join(whole(xml, "C5", voice=k) for k in range(1, 10))
    assert set(played(xml, "Corni I II", nine)) == {(2, ())}


def test_stem_directions_outweigh_voice_numbers(xml):
    up, down = "<stem>up</stem>", "<stem>down</stem>"
    text = xml.score(xml.part("2 Oboi", whole(xml, "C5") + BACK + whole(xml, "E5", voice=2)))
    first, second = text.split("<backup>")
    text = (
        first.replace("<voice>1</voice>", f"<voice>1</voice>{down}")
        + "<backup>"
        + (second.replace("<voice>2</voice>", f"<voice>2</voice>{up}"))
    )
    score = read_score(xml.save(text))
    assert [(n.pitch, n.chairs) for n in score.notes] == [(72, (2,)), (76, (1,))]


def test_a_rest_in_the_other_voice_leaves_one_player(xml):
    upper = whole(xml, "E5") + BACK + whole(xml, "R", voice=2)
    lower = whole(xml, "R") + BACK + whole(xml, "C5", voice=2)
    assert played(xml, "2 Flöten", upper, lower) == [(1, (1,)), (1, (2,))]


def test_a_hidden_rest_says_nothing(xml):
    rest = whole(xml, "R", voice=2).replace("<note>", '<note print-object="no">')
    assert played(xml, "2 Flöten", whole(xml) + BACK + rest) == [(2, ())]


def test_one_voice_without_a_word_is_undecided(xml):
    assert played(xml, "Flöten 1 u. 2", whole(xml)) == [(2, ())]


def test_words_decide(xml):
    bars = [xml.words(text) + whole(xml) for text in ("2.", "a 2", "1. solo", "tutti")]
    assert played(xml, "2 Clarinetti", *bars) == [
        (1, (2,)),
        (2, (1, 2)),
        (1, (1,)),
        (2, (1, 2)),
    ]


def test_printed_numbers_are_chairs_of_the_part(xml):
    bars = [xml.words(text) + whole(xml) for text in ("IV.", "III.", "a 2")]
    assert played(xml, "Corni III IV", *bars) == [(1, (2,)), (1, (1,)), (2, (1, 2))]


def test_three_on_a_staff(xml):
    two = whole(xml) + whole(xml, "E5", chord=True)
    bars = [xml.words("a 3") + whole(xml), xml.words("1.3.") + two, xml.words("a 2") + two]
    assert played(xml, "3 Tromboni", *bars) == [
        (3, (1, 2, 3)), (1, (3,)), (1, (1,)), (1, (2,)), (1, (1,)),
    ]  # fmt: skip


def test_one_player_stays_one(xml):
    assert played(xml, "Flute 2", xml.words("a 2") + whole(xml), whole(xml)) == [(1, (1,))] * 2


def test_a_section_in_halves_desks_and_divided(xml):
    chord = whole(xml) + whole(xml, "E5", chord=True)
    size = played(xml, "Viola", whole(xml))[0][0]
    bars = [
        xml.words("la moitié") + whole(xml),
        xml.words("tutti") + chord,
        xml.words("div.") + chord,
        xml.words("1. Pult") + whole(xml),
        xml.words("gli altri") + whole(xml),
        xml.words("unis.") + whole(xml),
    ]
    players = [p for p, _ in played(xml, "Viola", *bars)]
    assert players == [size / 2, size, size, size / 2, size / 2, 2, size - 1, size]


def test_stems_both_ways_divide_a_section(xml):
    both = whole(xml, "E5") + BACK + whole(xml, "C5", voice=2)
    (upper, _), (lower, _) = played(xml, "Viola", both)
    assert upper == lower == played(xml, "Viola", whole(xml))[0][0] / 2
    assert [p for p, _ in played(xml, "Viola", xml.words("non div.") + both)] == [2 * upper] * 2


def test_violins_that_share_a_staff(xml):
    both = whole(xml, "E5") + BACK + whole(xml, "C5", voice=2)
    found = played(xml, "Violini I e II", both, xml.words("unis.") + whole(xml))
    # Rimsky-Korsakov, Principles of Orchestration, ch. I, the medium body: 12 and 10.
    assert found == [(10, (2,)), (12, (1,)), (22, (1, 2))]


def test_players_never_fall_below_one_nor_above_the_part(xml):
    chord = "".join(whole(xml, p, chord=p != "C5") for p in ("C5", "E5", "G5"))
    for name in ("Oboes 1.2", "Oboe", "Viola", "Harp", "Choir"):
        score = read_score(xml.save(xml.score(xml.part(name, xml.words("div. a 3") + chord))))
        assert all(1 <= n.players <= score.parts[0].players for n in score.notes)


def players_by_part(xml, *names, rest=()):
    parts = [xml.part(n, whole(xml), whole(xml, "R" if n in rest else "C5")) for n in names]
    score = read_score(xml.save(xml.score(*parts)))
    found = {name: [] for name in names}
    for note in score.notes:
        found[names[note.part - 1]].append(note.players)
    return found


def test_a_section_on_two_parts_is_one_body(xml):
    found = players_by_part(xml, "Viola 1", "Viola 2", "Flute", rest=("Viola 2",))
    # Eight violas (Rimsky-Korsakov's medium body): four and four, then all on the first.
    assert found["Viola 1"] == [4, 8]
    assert found["Viola 2"] == [4]


def test_three_violin_parts_share_the_violins(xml):
    found = players_by_part(xml, "Violin 1", "Violin 2", "Violin 3", "Violone")
    assert sum(found[f"Violin {n}"][0] for n in (1, 2, 3)) == pytest.approx(22)


def test_firsts_and_seconds_keep_their_bodies(xml):
    found = players_by_part(xml, "Violin I", "Violin II", "Contrabass")
    assert found["Violin I"] == [12, 12]
    assert found["Violin II"] == [10, 10]


def test_a_quartet_is_four_players(xml):
    found = players_by_part(xml, "Violin I", "Violin II", "Viola", "Violoncello")
    assert all(players == [1, 1] for players in found.values())


def test_parts_of_one_name_are_told_apart(xml):
    parts = [xml.part(name, xml.note("C5", 4)) for name in ("Violin", "Oboe", "Violin")]
    score = read_score(xml.save(xml.score(*parts)))
    assert [line.name for line in score.lines] == ["Violin (part 1)", "Oboe", "Violin (part 3)"]
    assert [part.name for part in score.parts] == ["Violin", "Oboe", "Violin"]
