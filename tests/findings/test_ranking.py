from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.findings.finding import Cover, Finding
from auditor.findings.ranking import (
    AT_LEAST,
    HEAVY,
    HEAVY_PER_100_BARS,
    LIGHTEST,
    badness,
    finding_id,
    folded,
    length_factor,
    rank,
)
from auditor.hearing.measures import Limits
from auditor.score.notes import Bar

ONE = Finding(
    id="x", kind="covered", weight=0.5, lines=(1,), parts=(1,), strand="", first_bar=0,
    last_bar=1, start_s=0.0, end_s=1.0, state="covered", distinct_ratio=0.01, margin_db=-3.0,
    covers=(), register_share=(0.0,) * 5, reliance=0.8, why="", cause="", remedies=(),
    confidence=0.9, sentence="",
)  # fmt: skip


def test_identifiers_depend_on_kind_parts_and_bars_and_on_nothing_else():
    assert finding_id("covered", (2, 5), (3, 9)) == finding_id("covered", (5, 2), (3, 9))
    others = [
        finding_id("faint", (2, 5), (3, 9)),
        finding_id("covered", (2, 6), (3, 9)),
        finding_id("covered", (2, 5), (3, 8)),
    ]
    assert finding_id("covered", (2, 5), (3, 9)) not in others


@given(st.floats(0, 1), st.floats(0, 1))
def test_less_left_is_never_better(a, b):
    low, high = sorted((a, b))
    assert badness(low, Limits()) >= badness(high, Limits())


def test_badness_at_the_limits():
    assert badness(0.15, Limits()) == 0.0
    assert badness(0.05, Limits()) == pytest.approx(0.6)
    assert badness(0.0, Limits()) == 1.0


@given(st.floats(0.1, 100), st.floats(0.1, 100))
def test_longer_is_never_lighter(a, b):
    low, high = sorted((a, b))
    assert length_factor(low) <= length_factor(high) <= 1.0


def test_faults_come_first_and_heaviest_first_praise_last():
    some = [
        replace(ONE, weight=w, first_bar=b, last_bar=b) for b, w in enumerate((0.2, 0.9, 0.5))
    ]
    praise = replace(ONE, kind="works", weight=0.95)
    ranked = rank([praise, *some], 100)
    assert [f.weight for f in ranked] == [0.9, 0.5, 0.2, 0.95]


def test_a_teacher_does_not_stop_at_every_bar():
    many = [
        replace(ONE, weight=0.6 + 0.002 * i, first_bar=2 * i, last_bar=2 * i)
        for i in range(100)
    ]
    heavy = [f for f in rank(many, 200) if f.weight >= HEAVY]
    assert len(heavy) == HEAVY_PER_100_BARS * 2
    assert min(f.weight for f in heavy) > 0.77
    assert len(rank(many, 4)) == AT_LEAST


def test_what_is_hardly_worth_saying_is_not_said():
    assert rank([replace(ONE, weight=0.05)], 100) == ()


def test_one_place_is_not_remarked_upon_again_and_again():
    same = [replace(ONE, weight=0.9 - 0.1 * i, lines=(i + 1,)) for i in range(5)]
    elsewhere = replace(ONE, weight=0.3, first_bar=9, last_bar=9)
    assert [f.weight for f in rank([*same, elsewhere], 100)] == [0.9, 0.8, 0.3]


def test_a_missing_line_is_always_said():
    missing = [replace(ONE, kind="silent", weight=0.5, lines=(i,)) for i in range(AT_LEAST * 3)]
    assert len(rank([*missing, ONE], 4)) == len(missing) + 1


def test_one_trouble_in_several_places_is_one_remark_that_names_them():
    bars = tuple(Bar(i, str(i + 1), i, 1, 4.0 * i, 4.0) for i in range(40))
    cover = (Cover(7, 1.0),)
    places = [(0, 3, 0.5), (10, 11, 0.7), (20, 20, 0.4)]
    same = [
        replace(
            ONE, id=str(a), first_bar=a, last_bar=z, weight=w, covers=cover, sentence="Lost."
        )
        for a, z, w in places
    ]
    other = replace(ONE, id="o", lines=(2,), covers=cover, weight=0.6, sentence="Lost too.")
    told = folded([*same, other], bars)
    assert [f.id for f in told] == ["10", "o"]
    assert told[0].sentence == "Lost. So too in bars 1–4 and bar 21."
    assert told[0].also == ((0, 3), (20, 20))
    assert told[1].sentence == "Lost too."


def test_too_loud_is_not_folded_with_too_soft_nor_with_what_is_not_worth_a_word():
    bars = tuple(Bar(i, str(i + 1), i, 1, 4.0 * i, 4.0) for i in range(40))
    loud = replace(ONE, id="l", kind="dynamic", cause="about 6 dB over what the mark gives",
                   sentence="Loud.")  # fmt: skip
    soft = replace(loud, id="s", weight=0.4, first_bar=20, last_bar=20, sentence="Soft.",
                   cause="about 6 dB under what the mark gives")  # fmt: skip
    light = replace(loud, id="x", weight=LIGHTEST - 0.01, first_bar=30, last_bar=30)
    assert [f.sentence for f in folded([loud, soft, light], bars)] == ["Loud.", "Soft."]
