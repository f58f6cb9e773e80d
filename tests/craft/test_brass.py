import pytest

from auditor.craft import brass


def high(made, play, rest, count=30, pitch=79, key="trumpet", **more):
    notes = [made.note(k * (play + rest), pitch, play, **more) for k in range(count)]
    bars = int(count * (play + rest) // 4) + 2
    return made.page([(key, notes)], bars=bars, tempo=60.0)


def loads(kinds, score, **limits):
    return [(k, w) for k, w in kinds(brass.remarks, score, **limits) if k == "high-load"]


def test_high_playing_without_rest_heaps_up(made, kinds):
    assert loads(kinds, high(made, 2, 0.1)) == [("high-load", "worth a thought")]


def test_who_rests_as_long_as_he_plays_is_not_tired(made, kinds):
    # University brass studios: "rest as much as you play" (at mf, the strained register).
    assert loads(kinds, high(made, 2, 2, pitch=78)) == []


def test_low_playing_is_no_load(made, kinds):
    assert loads(kinds, high(made, 2, 0.1, pitch=67)) == []


def test_louder_and_longer_are_never_lighter(made, kinds):
    def rank(**more):
        return [w for _, w in loads(kinds, high(made, 2, 0.1, **more))]

    assert rank(count=10) == []
    assert rank(count=28) == ["worth a thought"]
    assert rank(count=28, dynamic=5.0, pitch=83) == ["risky"]


def test_a_long_rest_begins_a_new_heap(made, kinds):
    notes = [made.note(k * 2 + (200 if k > 10 else 0), 79, 2) for k in range(22)]
    assert loads(kinds, made.page([("trumpet", notes)], bars=70, tempo=60.0)) == []


def test_high_playing_of_a_whole_piece_is_summed(made, kinds):
    score = high(made, 2, 2, count=120, pitch=78)
    assert kinds(brass.remarks, score) == [("high-load-in-all", "worth a thought")]
    assert kinds(brass.remarks, score, load_total_s=500.0) == []


@pytest.mark.parametrize(("brasses", "equal"), [("trumpet", 4), ("trombone", 4), ("horn", 2)])
def test_powers_are_rimsky_korsakovs(made, kinds, brasses, equal):
    # Principles (1922), p. 33, in forte: 1 trumpet = 1 trombone = 2 horns, 1 horn = 2 flutes,
    # so one trumpet outweighs three flutes and not four at a ratio of one.
    pitch = {"trumpet": 80, "trombone": 70, "horn": 72}[brasses]

    def beside(flutes):
        parts = [(brasses, [made.note(0, pitch, 4, dynamic=5.0)])]
        parts += [("flute", [made.note(0, 76 + k, 4, dynamic=5.0)]) for k in range(flutes)]
        found = kinds(brass.remarks, made.page(parts), blend_ratio=0.99)
        return [k for k, _ in found if k == "brass-over-neighbours"]

    assert beside(equal + 1) == []
    assert beside(equal) == ["brass-over-neighbours"]


@pytest.mark.parametrize(
    ("brass_level", "others", "pitch", "expected"),
    [(5.0, 3.0, 80, 1), (5.0, 5.0, 80, 0), (4.0, 2.0, 80, 0), (5.0, 3.0, 70, 0)],
)
def test_brass_is_marked_down_only_where_it_is_loud_high_and_above_the_rest(
    made, kinds, brass_level, others, pitch, expected
):
    parts = [("trumpet", [made.note(0, pitch, 4, dynamic=brass_level)])]
    parts += [("oboe", [made.note(0, 70 + k, 4, dynamic=others)]) for k in range(4)]
    found = [k for k, _ in kinds(brass.remarks, made.page(parts))]
    assert found.count("brass-over-neighbours") == expected
