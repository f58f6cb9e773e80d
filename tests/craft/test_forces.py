import pytest

from auditor.craft import forces
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page

# 2222 4231 and strings, as many orchestras keep on contract (common practice, no source).
STANDARD = [
    *["flute"] * 2, *["oboe"] * 2, *["clarinet"] * 2, *["bassoon"] * 2, *["horn"] * 4,
    *["trumpet"] * 2, *["trombone"] * 3, "tuba", "timpani", "harp",
    "violin", "violin", "viola", "cello", "double-bass",
]  # fmt: skip


def score(made, keys, **more):
    return made.page([(key, [made.note(0, 45, 4)]) for key in keys], **more)


def test_a_standard_orchestra_needs_nobody_else(made, kinds):
    assert kinds(forces.remarks, score(made, STANDARD)) == []


@pytest.mark.parametrize(
    "extra", ["piccolo", "english-horn", "bass-clarinet", "contrabassoon", "horn", "trumpet",
              "trombone", "tuba", "harp", "timpani", "celesta", "piano", "alto-saxophone"],
)  # fmt: skip
def test_what_goes_beyond_it_is_named(made, kinds, extra):
    found = kinds(forces.remarks, score(made, [*STANDARD, extra]))
    assert found == [("extra-player", "worth a thought")]


def test_a_part_of_two_players_counts_two(made, kinds):
    parts = ["flute", "flute"]
    assert kinds(forces.remarks, score(made, parts)) == []
    assert len(kinds(forces.remarks, score(made, parts, players={2: 2.0}))) == 1


def test_the_standard_is_settable(made, kinds):
    assert kinds(forces.remarks, score(made, ["flute"] * 3), standard_flutes=3.0) == []


def remark_of(made, parts, **more):
    limits = CraftLimits()
    (one,) = forces.remarks(Page(made.page(parts, **more), limits), limits)
    return one


def test_how_much_the_extra_plays_is_said(made):
    piccolo = [made.note(4, 84, 2), made.note(8, 84, 4)]
    parts = [("flute", [made.note(0, 72, 4)])] * 2 + [("piccolo", piccolo)]
    one = remark_of(made, parts, bars=10, tempo=60.0)
    assert "2 of 10 bars, 6.0 s in all" in one.sentence
    assert "a standard player could take it" in one.sentence


def test_who_plays_while_all_others_do_cannot_be_shared(made):
    parts = [("flute", [made.note(0, 72, 4)])] * 2 + [("piccolo", [made.note(0, 84, 4)])]
    assert "could take it" not in remark_of(made, parts).sentence


def test_more_percussion_at_once_than_players(made, kinds):
    drums = ["snare-drum", "bass-drum", "cymbals"]
    assert kinds(forces.remarks, score(made, drums[:2])) == []
    assert kinds(forces.remarks, score(made, drums)) == [
        ("extra-percussion", "worth a thought")
    ]
