import pytest

from auditor.craft import chairs
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.players import chairs as seats


def line(made, pitch, first, last, **more):
    return [made.note(at, pitch, 3.5, **more) for at in range(first, last, 4)]


def pair(made, upper, lower, key="flute", names=("1", "2")):
    row = made.page([(key, upper), (key, lower)], bars=16)
    title = row.parts[0].name
    return made.page(
        [(key, upper), (key, lower)],
        bars=16,
        names={k: f"{title} {number}" for k, number in enumerate(names, start=1)},
    )


def test_an_exposed_line_goes_to_the_first_chair(made, kinds):
    score = pair(made, line(made, 79, 0, 8), line(made, 76, 32, 48))
    assert kinds(chairs.remarks, score) == [("exposed-lower-chair", "worth a thought")]


def test_a_first_chair_that_has_just_played_may_rest(made, kinds):
    assert (
        kinds(chairs.remarks, pair(made, line(made, 79, 0, 28), line(made, 76, 32, 48))) == []
    )


def test_the_third_horn_leads_its_pair(made, kinds):
    # Orchestral horn practice: first and third play high and lead, second and fourth low.
    first, other = line(made, 65, 0, 8), line(made, 62, 32, 48)
    assert kinds(chairs.remarks, pair(made, first, other, "horn", ("1", "3"))) == []
    assert kinds(chairs.remarks, pair(made, first, other, "horn", ("1", "2"))) == [
        ("exposed-lower-chair", "worth a thought")
    ]


def test_parts_without_numbers_are_not_judged(made, kinds):
    score = made.page([("flute", line(made, 79, 0, 8)), ("flute", line(made, 76, 32, 48))])
    assert kinds(chairs.remarks, score) == []


def crossing(made, above, count):
    upper = [made.note(b, 72, 1) for b in range(16)]
    lower = [made.note(b, 72 + (above if b < count else -4), 1) for b in range(16)]
    return pair(made, upper, lower)


@pytest.mark.parametrize(
    ("above", "count", "expected"), [(4, 4, 1), (2, 4, 0), (4, 2, 0), (-3, 4, 0)]
)
def test_a_short_high_passage_on_the_lower_chair(made, kinds, above, count, expected):
    found = kinds(chairs.remarks, crossing(made, above, count))
    assert found == [("high-on-lower-chair", "worth a thought")] * expected


@pytest.mark.parametrize(
    ("high", "low", "names", "expected"),
    [([], 74, ("1", "2"), 1), ([65], 74, ("1", "2"), 0), ([], 60, ("1", "2"), 0),
     ([], 74, ("2", "3"), 0)],
)  # fmt: skip
def test_high_notes_on_a_low_horn_while_its_high_one_rests(
    made, kinds, high, low, names, expected
):
    upper = [made.note(0, p, 4) for p in high] + [made.note(40, 65, 1)]
    lower = [made.note(0, low, 4)]
    found = kinds(chairs.remarks, pair(made, upper, lower, "horn", names))
    assert [k for k, _ in found].count("horn-pairs") == expected


def unison(made, dynamic, others=0, apart=0):
    parts = [("oboe", [made.note(0, 72, 8, dynamic=dynamic)]),
             ("oboe", [made.note(0, 72 + apart, 8, dynamic=dynamic)])]  # fmt: skip
    parts += [("violin", [made.note(0, 60 + k, 8)]) for k in range(others)]
    return made.page(parts)


@pytest.mark.parametrize(
    ("dynamic", "others", "apart", "expected"),
    [(1.0, 1, 0, 1), (3.0, 1, 0, 0), (1.0, 6, 0, 0), (1.0, 1, 3, 0)],
)
def test_a_soft_exposed_unison_of_two_winds(made, kinds, dynamic, others, apart, expected):
    found = kinds(chairs.remarks, unison(made, dynamic, others, apart))
    assert found == [("soft-a2", "worth a thought")] * expected


def test_a2_on_one_staff_is_read_from_its_chairs(made, kinds):
    score = made.page([("oboe", [made.note(0, 72, 8, dynamic=1.0, chairs=(1, 2))])])
    assert kinds(chairs.remarks, score) == [("soft-a2", "worth a thought")]


@pytest.mark.parametrize(
    ("name", "given", "expected"),
    [("Horns 3-4", (1,), [3]), ("Horns 3-4", (3,), [3]), ("Horns 3-4", (1, 2), [3, 4]),
     ("Horn 2", (), [2]), ("Horns 1.2.", (), [])],
)  # fmt: skip
def test_chairs_are_counted_within_the_part_or_the_section(made, name, given, expected):
    parts = [("horn", [made.note(0, 60, 4, chairs=given)]), ("horn", [made.note(0, 64, 4)])]
    score = made.page(parts, names={1: name, 2: "Horn 8"})
    row = seats(Page(score, CraftLimits())).get("horn", ())
    assert [c.number for c in row if c.number != 8] == expected
