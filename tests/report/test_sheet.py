"""The reading sheet: what it tells, in which order, and that the minutes add up."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.errors import InputError
from auditor.report.record import as_record, to_json
from auditor.report.session import plan_for
from auditor.report.sheet import MOST_ROWS, compose_sheet, read_record

FINDINGS = st.lists(
    st.fixed_dictionaries({
        "weight": st.floats(0.15, 1.0),
        "start_s": st.floats(0.0, 300.0),
        "end_s": st.floats(300.0, 400.0),
    }),
    max_size=12,
)  # fmt: skip


@given(st.floats(1.0, 600.0), st.floats(0.0, 4000.0), FINDINGS)
def test_a_plan_never_takes_longer_than_the_session(minutes, duration, findings):
    plan = plan_for(minutes, duration, findings)
    assert plan.spent_s <= 60 * minutes + 1e-6
    assert sorted((*plan.stops, *plan.left)) == list(range(len(findings)))


@given(FINDINGS, st.floats(0.0, 600.0))
def test_more_minutes_never_leave_out_the_heaviest(findings, duration):
    plan = plan_for(600.0, duration, findings)
    if findings and plan.stops:
        heaviest = max(range(len(findings)), key=lambda k: (findings[k]["weight"], -k))
        assert plan.stops[0] == heaviest


@pytest.mark.parametrize("minutes", [0.0, -5.0, 601.0, float("nan")])
def test_refuses_a_session_that_cannot_be(minutes):
    with pytest.raises(InputError, match="expected 1 to 600 minutes"):
        plan_for(minutes, 60.0, [])


def rows(html: str) -> list[str]:
    return re.findall(r"<tbody.*?</tbody>", html, re.S)


def test_rows_stand_in_the_order_of_the_music_with_their_rank(audit):
    record = as_record(audit)
    html = compose_sheet(record)
    asks = [f for f in record["findings"] if f["kind"] not in ("works", "silent")]
    assert len(rows(html)) == min(len(asks), MOST_ROWS)
    ranks = [int(re.search(r'class="rank">(\d+)', row)[1]) for row in rows(html)]
    assert sorted(ranks) == list(range(1, len(ranks) + 1))
    shown = sorted(
        sorted(asks, key=lambda f: -f["weight"])[:MOST_ROWS], key=lambda f: f["first_bar"]
    )
    for row, finding in zip(rows(html), shown, strict=True):
        number = record["score"]["played_bars"][finding["first_bar"]]["number"]
        assert re.search(rf"\b{re.escape(str(number))}\b", row)


def test_says_players_and_leaves_space_to_write(audit):
    html = compose_sheet(as_record(audit))
    assert "Timpani" in html
    assert "Bassoon 1.2. (2)" in html
    assert html.count('class="rule"') >= 2
    assert "is for the player to say" in html


def test_is_one_file_without_scripts(audit):
    html = compose_sheet(as_record(audit))
    assert "<script" not in html
    assert "default-src 'none'" in html
    assert not re.search(r"(?:src|href)=", html)


def test_names_from_a_file_stay_text(audit):
    record = as_record(audit)
    record["score"]["title"] = "<b>Study</b>"
    assert "&lt;b&gt;Study" in compose_sheet(record)


def test_rehearsal_marks_are_counted_from(audit):
    record = as_record(audit)
    record["score"]["rehearsal"] = [{"bar": 0, "text": "A"}]
    html = compose_sheet(record)
    first = min(
        f["first_bar"] for f in record["findings"] if f["kind"] not in ("works", "silent")
    )
    assert ("<b>A</b>" if first == 0 else f"<b>{first} after A</b>") in html


def test_a_result_folder_gives_the_same_sheet(audit, tmp_path):
    (tmp_path / "audit.json").write_text(to_json(audit), encoding="utf-8")
    assert compose_sheet(read_record(tmp_path)) == compose_sheet(as_record(audit))


def test_a_folder_without_a_result_is_refused(tmp_path):
    with pytest.raises(InputError, match="holds no result"):
        read_record(tmp_path)
    (tmp_path / "audit.json").write_text("{}", encoding="utf-8")
    with pytest.raises(InputError, match="no record of a result"):
        read_record(tmp_path)


def test_lines_called_alike_are_no_doublings_and_a_second_instrument_is(audit):
    record = as_record(audit)
    names = record["score"]["line_names"]
    record["score"] = {**record["score"], "line_names": [
        f"{record['score']['parts'][0]['name']} (part 1)", *names[1:-1], "Flute 2 (Piccolo)"
    ]}  # fmt: skip
    told = re.search(r"Who doubles</dt><dd>(.*?)</dd>", compose_sheet(record))
    assert told
    assert told[1] == "Flute 2 (Piccolo)"


def test_a_change_that_is_not_enough_says_so(audit):
    record = as_record(audit)
    ask = next(f for f in record["findings"] if f["kind"] in ("covered", "faint"))
    tried = [{"words": "mark it f", "kind": "louder", "state": "covered"},
             {"words": "let it rest", "kind": "rest", "state": "clear"}]  # fmt: skip
    html = compose_sheet({**record, "findings": [{**ask, "tried": tried}]})
    assert "mark it f (not enough by itself)" in html
    assert "let it rest</li>" in html


def test_fewer_rows_leave_more_space_to_write(audit):
    record = as_record(audit)
    ask = next(f for f in record["findings"] if f["kind"] in ("covered", "faint"))
    many = [{**ask, "id": f"f{k}"} for k in range(MOST_ROWS)]
    full, empty = (compose_sheet({**record, "findings": found}) for found in (many, []))
    assert empty.count('class="rule"') > full.count('class="rule"') >= 2


def test_a_section_on_several_staves_sits_there_once(audit):
    """Twelve first violins that divide over three staves are twelve."""
    record = as_record(audit)
    like = record["score"]["parts"][0]
    strings = {"family": "strings", "key": "violin", "name": "Violin"}
    staves = [
        {**like, "name": name, "players": players, "instrument": strings}
        for name, players in (("Violin 1", 12.0), ("Violin 1 div.", 12.0), ("Violin 2", 10.0))
    ]
    html = compose_sheet({**record, "score": {**record["score"], "parts": staves}})
    assert "about 22 players" in html
    assert "Violin 1 (12), Violin 2 (10)" in html
