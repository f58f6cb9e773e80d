"""Made cases with known answers: what is said when a line fares so and so."""

import pytest


def kinds(findings):
    return [f.kind for f in findings]


def test_a_covered_tune_is_one_finding_with_its_coverer(flute_tune):
    found = flute_tune.judged(lambda line, bar: 0.01 if line == 1 else 0.6)
    (one,) = [f for f in found if f.kind == "covered"]
    assert one.lines == (1,)
    assert (one.first_bar, one.last_bar) == (0, 7)
    assert (one.start_s, one.end_s) == (0.0, 16.0)
    assert one.covers[0].line == 3
    assert one.weight >= 0.6
    assert one.sentence.startswith("Bars 1–8: Flute 1 is lost under Horn 1;")
    assert "Horn 1 plays in the same register and is marked louder" in one.cause
    assert one.remedies[0] == "mark Horn 1 mf instead of f"
    assert any("Flute 2, who rests here" in r for r in one.remedies)


def test_only_the_bad_bars_are_named(flute_tune):
    found = flute_tune.judged(lambda line, bar: 0.01 if line == 1 and 2 <= bar <= 4 else 0.6)
    (one,) = [f for f in found if f.kind in ("covered", "faint")]
    assert (one.first_bar, one.last_bar) == (2, 4)
    assert one.sentence.startswith("Bars 3–5:")


def test_a_faint_tune_weighs_less_than_a_covered_one(flute_tune):
    faint = flute_tune.judged(lambda line, bar: 0.10 if line == 1 else 0.6)
    covered = flute_tune.judged(lambda line, bar: 0.01 if line == 1 else 0.6)
    assert kinds(faint)[0] == "faint"
    assert faint[0].weight < covered[0].weight


def test_the_worse_a_line_fares_the_heavier_the_finding(flute_tune):
    weights = [
        flute_tune.judged(lambda line, bar, r=r: r if line == 1 else 0.6)[0].weight
        for r in (0.12, 0.08, 0.04, 0.02, 0.0)
    ]
    assert weights == sorted(weights)
    assert weights[0] < weights[-1]


def test_a_clear_tune_is_praised_and_nothing_is_blamed(flute_tune):
    found = flute_tune.judged(lambda line, bar: 0.6)
    assert set(kinds(found)) == {"works"}
    assert found[0].lines[0] == 1
    assert "Flute 1 stays clear" in found[0].sentence


def test_a_covered_doubling_of_a_clear_tune_is_no_alarm(doubled_tune):
    found = doubled_tune.judged(lambda line, bar: 0.01 if line == 1 else 0.6)
    assert "covered" not in kinds(found)
    assert "faint" not in kinds(found)


def test_an_idle_doubling_is_said_while_the_tune_is_clear(doubled_tune):
    found = doubled_tune.judged(lambda line, bar: 0.01 if line == 1 else 0.6)
    (one,) = [f for f in found if f.kind == "idle-doubling"]
    assert one.lines == (1, 4)
    assert "Flute 1 doubles Violin I at the octave" in one.sentence
    assert one.weight <= 0.4


def test_a_doubling_that_adds_loudness_is_not_idle(doubled_tune):
    found = doubled_tune.judged(
        lambda line, bar: 0.01 if line == 1 else 0.6,
        energy=lambda line, bar: 0.3,
    )
    assert "idle-doubling" not in kinds(found)


def test_when_all_that_carry_the_tune_are_covered_it_is_one_finding(doubled_tune):
    found = doubled_tune.judged(lambda line, bar: 0.01 if line in (1, 4) else 0.6)
    (one,) = [f for f in found if f.kind == "covered"]
    assert set(one.lines) == {1, 4}
    assert " are lost under " in one.sentence


def test_a_covered_accompaniment_is_no_heavy_matter(flute_tune):
    found = flute_tune.judged(lambda line, bar: 0.01 if line == 5 else 0.6)
    assert all(f.weight < 0.6 for f in found if f.kind != "works")


@pytest.mark.parametrize("word", ["undecided", "not judged"])
def test_what_the_sound_cannot_tell_is_no_alarm(flute_tune, word):
    found = flute_tune.judged(
        lambda line, bar: 0.01 if line == 1 else 0.6,
        state=lambda line, bar: word if line == 1 else "",
    )
    assert not [f for f in found if 1 in f.lines]


def test_a_line_without_sound_is_missing_not_covered(flute_tune):
    found = flute_tune.judged(
        lambda line, bar: 0.0 if line == 1 else 0.6,
        state=lambda line, bar: "silent" if line == 1 else "",
    )
    (one,) = [f for f in found if 1 in f.lines]
    assert one.kind == "silent"
    assert "Flute 1 has notes on the page" in one.sentence


def test_the_same_case_gives_the_same_findings(flute_tune):
    def left(line, bar):
        return 0.01 if line == 1 else 0.6

    assert flute_tune.judged(left) == flute_tune.judged(left)


def test_figures_of_findings_stay_in_bounds(flute_tune, doubled_tune):
    for case in (flute_tune, doubled_tune):
        for f in case.judged(lambda line, bar: 0.02 * line * (bar % 3)):
            assert 0.0 <= f.weight <= 1.0
            assert 0.0 <= f.confidence <= 1.0
            assert 0.0 <= f.reliance <= 1.0
            assert f.first_bar <= f.last_bar
            assert f.start_s < f.end_s
            assert sum(c.share for c in f.covers) <= 1.001
            assert f.sentence.endswith(".")
            assert f.caution


def test_a_covered_bass_for_a_moment_is_not_worth_a_word(flute_tune):
    found = flute_tune.judged(lambda line, bar: 0.01 if line == 6 and bar == 3 else 0.6)
    assert not [f for f in found if f.kind == "covered"]


@pytest.mark.parametrize(
    ("coverer", "register", "said"),
    [
        (3, (0.4, 0.4, 0.1, 0.1, 0), True),
        (4, (0.4, 0.4, 0.1, 0.1, 0), False),
        (3, (0, 0.1, 0.2, 0.6, 0.1), False),
    ],
)
def test_a_bass_is_missed_in_its_own_register_under_a_low_line(
    low_horn, coverer, register, said
):
    found = low_horn.judged(
        lambda line, bar: 0.01 if line in (5, 6) else 0.6, coverer=coverer, register=register
    )
    assert bool([f for f in found if f.kind == "covered" and 6 in f.lines]) is said


def test_no_register_is_named_above_a_lines_notes(low_horn):
    top = (0, 0, 0.1, 0.1, 0.8)
    found = low_horn.judged(lambda line, bar: 0.01 if line == 1 else 0.6, register=top)
    (one,) = [f for f in found if f.kind == "covered"]
    assert "most is lost" not in one.cause


def test_a_doubling_of_one_bar_is_no_remark(one_bar_doubled):
    case = one_bar_doubled
    found = case.judged(lambda line, bar: 0.01 if line == 1 else 0.6)
    assert "idle-doubling" not in kinds(found)


def test_a_line_is_not_called_lost_and_too_loud_in_one_place(flute_tune, monkeypatch):
    """Whatever the levels say: of two remarks that exclude each other the heavier stays."""
    from auditor.judging import judge
    from auditor.judging.saying import remark

    def loud(s):
        return [
            remark(s, "dynamic", (1,), (2, 4), weight=0.3, why="", sentence="Flute 1."),
            remark(s, "dynamic", (5,), (2, 4), weight=0.3, why="", sentence="Viola."),
        ]

    monkeypatch.setattr(judge, "find_loud_renderings", loud)
    found = flute_tune.judged(lambda line, bar: 0.01 if line == 1 else 0.6)
    assert [f.lines for f in found if f.kind == "dynamic"] == [(5,)]


def test_names_of_findings_are_no_numbers(flute_tune):
    found = flute_tune.judged(lambda line, bar: 0.01 if line == 1 else 0.6)
    assert all(f.id[0].isalpha() for f in found)


def test_twins_that_cannot_be_told_apart_still_carry_a_doubled_tune(doubled_tune):
    """Nothing is sure of the violins alone, but what they carry is loud enough to be heard."""

    def judged(left_of_violins):
        return doubled_tune.judged(
            lambda line, bar: {1: 0.01, 4: left_of_violins}.get(line, 0.6),
            state=lambda line, bar: "undecided" if line == 4 else "",
        )

    assert not [f for f in judged(0.6) if f.kind in ("covered", "faint")]
    assert [f for f in judged(0.01) if f.kind == "covered"]


def test_twins_alone_are_judged_as_one(doubled_tune):
    def judged(left):
        return doubled_tune.judged(
            lambda line, bar: left if line in (1, 4) else 0.6,
            state=lambda line, bar: "undecided" if line in (1, 4) else "",
        )

    assert [f for f in judged(0.01) if f.kind == "covered"]
    assert not [f for f in judged(0.6) if f.kind == "covered"]
