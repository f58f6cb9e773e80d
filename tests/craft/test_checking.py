import dataclasses

import pytest

from auditor.craft import checking
from auditor.craft.limits import CraftLimits
from auditor.craft.remark import Remark, in_order


@pytest.fixture
def score(made):
    return made.page([("flute", [made.note(at, 72, 4) for at in range(0, 80, 4)])], bars=20)


def remark(bar, sentence="too low.", kind="out-of-range", weight="risky", part=1, note="n"):
    return Remark(kind, weight, part, bar, bar, (f"{note}{bar}",), sentence, "why", "remedy")


def put_together(score, *remarks):
    return checking.put_together(remarks, score, CraftLimits())


def test_like_remarks_in_neighbouring_bars_are_one(score):
    (one,) = put_together(score, remark(2), remark(3), remark(5))
    assert (one.first_bar, one.last_bar) == (2, 5)
    assert one.notes == ("n2", "n3", "n5")
    assert one.sentence == "too low."


def test_neighbours_of_one_kind_that_say_other_things_are_counted(score):
    (one,) = put_together(score, remark(2), remark(3, "lower still."))
    assert one.sentence == "too low. (1 more of this kind close by)"


def test_the_same_remark_far_off_is_told_once_with_its_places(score):
    (one,) = put_together(score, remark(2), remark(9), remark(15))
    assert one.sentence == "too low. The same again: bars 10, 16."
    assert (one.first_bar, one.last_bar) == (2, 2)


@pytest.mark.parametrize(
    "other", [{"kind": "breath"}, {"weight": "worth a thought"}, {"part": 0}]
)
def test_what_differs_in_kind_weight_or_part_stays_apart(score, other):
    assert len(put_together(score, remark(2), remark(3, **other))) == 2


def test_remarks_come_in_the_order_of_the_music_the_heavier_first(score):
    light = remark(4, kind="a", weight="worth a thought")
    heavy = remark(4, kind="b", weight="cannot be played")
    early = remark(1, kind="c")
    assert put_together(score, light, heavy, early) == (early, heavy, light)


def test_putting_together_does_not_depend_on_the_order_given(score):
    remarks = [remark(b, kind=k) for b in (1, 2, 8, 15) for k in ("a", "b")]
    assert put_together(score, *remarks) == put_together(score, *reversed(remarks))


def test_nothing_is_remarked_on_an_easy_scale(made):
    easy = made.page(
        [("violin", [made.note(k, 67 + d) for k, d in enumerate((0, 2, 4, 5, 7, 5, 4, 2))])],
        bars=2,
    )
    own = {"strings", "harp", "timpani", "percussion", "keyboards"}
    page = checking.Page(easy, CraftLimits())
    found = [
        r for name, family in checking.FAMILIES if name in own
        for r in family(page, CraftLimits())
    ]  # fmt: skip
    assert found == []


def test_a_repeat_adds_no_remark(made):
    notes = made.chord(0, (55, 57))
    once = made.page([("violin", notes)], bars=2, players={1: 1})
    again = dataclasses.replace(
        once,
        bars=(*once.bars, dataclasses.replace(once.bars[0], index=2, pass_number=2, onset=8.0)),
        notes=(
            *once.notes,
            *(dataclasses.replace(n, id=f"{n.id}.2", bar=2, onset=8.0) for n in once.notes),
        ),
    )
    assert checking.remarks_on(once) == checking.remarks_on(again)
    assert "stop-not-fingered" in {r.kind for r in checking.remarks_on(once)}


def test_remarks_are_in_order_and_the_caution_defers_to_the_player(made):
    notes = [n for k in range(6) for n in made.chord(4.0 * k, (55, 57 + k % 3))]
    found = checking.remarks_on(made.page([("violin", notes)], players={1: 1}))
    assert found == in_order(found)
    assert "player's word overrules" in checking.CAUTION
