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
    score = pair(made, line(made, 79, 0, 28), line(made, 76, 32, 48))
    assert kinds(chairs.remarks, score, chair_rest=16) == []
    assert kinds(chairs.remarks, score) == [("exposed-lower-chair", "worth a thought")]


@pytest.mark.parametrize(
    ("others", "expected"),
    [
        (["violin", "violin", "viola", "cello", "double-bass"], 1),
        (["violin", "violin", "viola", "cello", "clarinet"], 0),
    ],
)
def test_the_only_wind_over_strings_is_exposed(made, kinds, others, expected):
    # The flute moves by the bar; strings (and a clarinet) hold another tone below.
    first, second = line(made, 79, 0, 8), line(made, 76, 32, 48)
    chords = [(key, [made.note(at, 60, 16) for at in (0, 16, 32)]) for key in others]
    score = made.page([("flute", first), ("flute", second), *chords], bars=16,
                      names={1: "Flute 1", 2: "Flute 2"})  # fmt: skip
    found = [k for k, _ in kinds(chairs.remarks, score)]
    assert found.count("exposed-lower-chair") == expected


def test_a_lower_chair_doubled_by_strings_is_not_exposed(made, kinds):
    first, second = line(made, 79, 0, 8), line(made, 76, 32, 48)
    strings = [(key, line(made, 64, 0, 48)) for key in ("violin", "violin", "viola", "cello")]
    score = made.page([("flute", first), ("flute", second), *strings], bars=16,
                      names={1: "Flute 1", 2: "Flute 2"})  # fmt: skip
    assert kinds(chairs.remarks, score) == []


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
    [([], 74, ("1", "2"), 1), ([65], 74, ("1", "2"), 1), ([76], 74, ("1", "2"), 0),
     ([], 60, ("1", "2"), 0), ([], 74, ("2", "3"), 0)],
)  # fmt: skip
def test_high_notes_on_a_low_horn_while_its_high_one_is_not_up_there(
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


@pytest.mark.parametrize(("others", "expected"), [(0, 1), (2, 1), (3, 0)])
def test_a2_on_one_staff_is_as_exposed_as_on_two(made, kinds, others, expected):
    one = [("oboe", [made.note(0, 72, 8, dynamic=1.0, chairs=(1, 2))])]
    one += [("violin", [made.note(0, 60 + k, 8)]) for k in range(others)]
    wanted = [("soft-a2", "worth a thought")] * expected
    assert kinds(chairs.remarks, made.page(one)) == wanted
    assert kinds(chairs.remarks, unison(made, 1.0, others)) == wanted


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
