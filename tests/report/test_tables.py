"""The tables others read: their columns are a promise."""

import csv
import dataclasses
import io
import math

import numpy as np
import pytest

from auditor.report.tables import COLUMNS, all_tables, main_role, main_strand, to_csv

# The published column lists, spelled out: other programs read these files.
HEADERS = {
    "notes": (
        "note_id,part,line,bar,pass,beat,onset_quarters,pitch,onset_s,offset_s,level_db,"
        "loudness_alone_sone,partial_loudness_sone,loudness_ratio,distinct_ratio,margin_db,"
        "covered_by,state,confidence"
    ),
    "lines": (
        "line,part,name,instrument,role,strand,level_db,partial_loudness_sone,loudness_ratio,"
        "distinct_ratio,margin_db,covered_share,covered_by,state,confidence"
    ),
    "strands": (
        "strand,kind,parts,bars,level_db,partial_loudness_sone,loudness_ratio,distinct_ratio,"
        "margin_db,covered_share,covered_by,state,confidence"
    ),
    "bars": "bar,pass,start_s,end_s,confidence,reason",
    "findings": (
        "id,kind,weight,parts,bars,start_s,end_s,state,margin_db,covered_by,confidence,"
        "sentence,remedy"
    ),
}


@pytest.fixture(scope="module")
def tables(audit):
    return {table.name: table for table in all_tables(audit)}


def read(table):
    return list(csv.DictReader(io.StringIO(to_csv(table))))


@pytest.mark.parametrize("name", HEADERS)
def test_columns_are_the_promised_ones(tables, name):
    assert to_csv(tables[name]).split("\n", 1)[0] == HEADERS[name]


@pytest.mark.parametrize("name", HEADERS)
def test_cells_come_back_as_they_went(tables, name):
    back = read(tables[name])
    assert len(back) == len(tables[name].rows)
    for row, cells in zip(tables[name].rows, back, strict=True):
        for value, text in zip(row, cells.values(), strict=True):
            if value is None:
                assert text == ""
            elif isinstance(value, float):
                assert float(text) == value
            else:
                assert text == str(value)


def test_a_note_row_says_what_was_heard_of_the_note(audit, tables):
    i = next(k for k, s in enumerate(audit.heard.note_state) if s == "covered")
    note, row = audit.score.notes[i], read(tables["notes"])[i]
    assert row["note_id"] == note.id
    assert row["bar"] == audit.score.bars[note.bar].number
    assert float(row["distinct_ratio"]) == pytest.approx(
        audit.heard.notes.distinct_ratio[i], abs=5e-5
    )
    assert float(row["margin_db"]) == pytest.approx(audit.heard.notes.margin_db[i], abs=5e-3)
    covering_line = audit.score.lines[audit.heard.notes.covered_by[i]]
    assert int(row["covered_by"]) == covering_line.part


def test_what_was_not_judged_stays_empty(audit, tables):
    judged = COLUMNS["notes"][COLUMNS["notes"].index("level_db") : -2]
    rows = read(tables["notes"])
    left_out = [
        r for r, s in zip(rows, audit.heard.note_state, strict=True) if s == "not judged"
    ]
    assert left_out
    for row in left_out:
        assert {row[name] for name in (*judged, "confidence")} == {""}


def test_a_note_that_was_not_played_has_no_times(audit, made):
    windows = audit.windows
    onset = windows.onset_s.copy()
    onset[3] = math.nan
    changed = dataclasses.replace(audit, windows=dataclasses.replace(windows, onset_s=onset))
    rows = read(all_tables(changed)[0])
    assert rows[3]["onset_s"] == ""
    assert rows[4]["onset_s"] != ""


def test_nobody_covering_is_an_empty_cell(audit):
    heard = audit.heard
    alone = dataclasses.replace(
        heard.notes, covered_by=np.full(len(heard.notes), -1, dtype=np.int64)
    )
    changed = dataclasses.replace(audit, heard=dataclasses.replace(heard, notes=alone))
    assert {row["covered_by"] for row in read(all_tables(changed)[0])} == {""}


def test_a_name_cannot_be_a_formula(made):
    # OWASP, "CSV Injection": cells beginning with = + - @ tab or return are run.
    audit = made.made_audit(names={1: '=HYPERLINK("x")', 2: "@SUM(A1)"})
    names = [row["name"] for row in read(all_tables(audit)[1])]
    assert names[0] == '\'=HYPERLINK("x")'
    assert names[1] == "'@SUM(A1)"
    assert names[2] == "Clarinet in B♭"


def test_commas_and_line_breaks_in_names_stay_in_their_cell(made):
    audit = made.made_audit(names={1: 'Flute, "piccolo"\nand alto'})
    rows = read(all_tables(audit)[1])
    assert rows[0]["name"] == 'Flute, "piccolo"\nand alto'
    assert rows[0]["part"] == "1"


def test_the_main_role_is_the_one_held_longest(audit):
    role = list(list(r) for r in audit.intent.role)
    role[0] = ["leading"] * 3 + ["bass"] * 2 + [""] * (len(audit.score.bars) - 5)
    changed = dataclasses.replace(
        audit, intent=dataclasses.replace(audit.intent, role=tuple(map(tuple, role)))
    )
    assert main_role(changed, 1) == "leading"
    # The same bars, the two of the bass four times as long: now the bass is longer.
    bars = tuple(
        dataclasses.replace(b, duration=16.0) if b.index in (3, 4) else b
        for b in audit.score.bars
    )
    longer = dataclasses.replace(changed, score=dataclasses.replace(audit.score, bars=bars))
    assert main_role(longer, 1) == "bass"


def test_the_main_strand_prefers_a_strand_to_a_layer(audit):
    assert main_strand(audit, 2) == "S1"
    assert main_strand(audit, 13) == "L-bass"
    assert main_strand(audit, 7) == ""


def test_a_finding_names_parts_bars_and_who_covers(tables):
    row = read(tables["findings"])[0]
    assert (row["parts"], row["bars"], row["covered_by"]) == ("2", "5-8", "7")
    assert row["remedy"].startswith("let the trombone play p instead of mf; ")
