"""The command for the page alone, run as a user runs it."""

import csv
import json

import pytest

from auditor.cli import main

NOTE = (
    "<note>{chord}<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
    "<duration>4</duration><voice>1</voice><type>whole</type></note>"
)


@pytest.fixture
def score(tmp_path):
    """A solo violin with G3 and B3 together, and a double bass on C2."""
    pair = NOTE.format(chord="", step="G", octave=3)
    pair += NOTE.format(chord="<chord/>", step="B", octave=3)
    low = NOTE.format(chord="", step="C", octave=2)
    bodies = "".join(
        f'<part id="P{k}"><measure number="1"><attributes><divisions>1</divisions>'
        f"<time><beats>4</beats><beat-type>4</beat-type></time>{more}</attributes>{notes}"
        f"</measure></part>"
        for k, (notes, more) in enumerate(
            [
                (pair, ""),
                (
                    low,
                    "<transpose><diatonic>0</diatonic><chromatic>0</chromatic>"
                    "<octave-change>-1</octave-change></transpose>",
                ),
            ],
            start=1,
        )
    )
    names = "".join(
        f'<score-part id="P{k}"><part-name>{name}</part-name></score-part>'
        for k, name in enumerate(("Solo Violin", "Contrabass"), start=1)
    )
    path = tmp_path / "page.musicxml"
    path.write_text(
        f'<score-partwise version="4.0"><part-list>{names}</part-list>{bodies}'
        f"</score-partwise>",
        encoding="utf-8",
    )
    return path


def run(*words):
    with pytest.raises(SystemExit) as left:
        main([str(word) for word in words])
    return left.value.code


def test_tells_bar_part_weight_reason_and_remedy(score, capsys):
    assert run("craft", score) == 0
    told = capsys.readouterr().out
    assert "Bar 1, Solo Violin: cannot be played" in told
    assert "G3 and B3 cannot be stopped together" in told
    assert "Bar 1, Contrabass: worth a thought" in told
    assert "What helps: " in told


def test_the_list_ends_by_deferring_to_the_player(score, capsys):
    run("craft", score)
    last = " ".join(capsys.readouterr().out.split("\n\n")[-1].split())
    assert last.startswith("The player's word overrules every remark here.")
    assert "never push through pain" in last


def test_only_what_is_heavy_enough_is_told(score, capsys):
    assert run("craft", score, "--weight", "risky") == 0
    told = capsys.readouterr().out
    assert "cannot be stopped together" in told
    assert "The basses go below" not in told


def test_table_and_record_agree_with_the_list(score, tmp_path, capsys):
    out = tmp_path / "out"
    assert run("craft", score, "-o", out) == 0
    rows = list(csv.DictReader((out / "craft.csv").read_text(encoding="utf-8").splitlines()))
    record = json.loads((out / "craft.json").read_text(encoding="utf-8"))
    assert [r["sentence"] for r in rows] == [r["sentence"] for r in record["remarks"]]
    told = " ".join(capsys.readouterr().out.split())
    assert all(row["sentence"] in told for row in rows)
    assert record["schema_version"] == 1
    assert rows[0]["bars"] == "1"


def test_register_weight_leaves_as_a_picture_and_a_table(score, tmp_path):
    out = tmp_path / "out"
    run("craft", score, "-o", out)
    assert (out / "register-weight.svg").read_text(encoding="utf-8").startswith("<svg")
    (row,) = csv.DictReader(
        (out / "register-weight.csv").read_text(encoding="utf-8").splitlines()
    )
    # G3 and B3 of one violin lie in the tenor, C2 of five basses in the bass; no mark is mf.
    assert float(row["tenor"]) == pytest.approx(2.0)
    assert float(row["bass"]) == pytest.approx(5.0)


def test_does_not_overwrite_unless_told(score, tmp_path, capsys):
    out = tmp_path / "out"
    run("craft", score, "-o", out)
    assert run("craft", score, "-o", out) == 2
    assert "use --force" in capsys.readouterr().err
    assert run("craft", score, "-o", out, "--force") == 0


def test_thresholds_beside_the_score_are_used_and_said(score, capsys):
    (score.parent / "craft.toml").write_text("low_bass = 24\n", encoding="utf-8")
    assert run("craft", score) == 0
    told = capsys.readouterr()
    assert "Thresholds are taken from" in told.err
    assert "The basses go below" not in told.out


def test_mistakes_are_told_in_one_sentence(score, tmp_path, capsys):
    assert run("craft", score, "--weight", "heavy") == 2
    assert "expected one of 'worth a thought'" in capsys.readouterr().err
    limits = tmp_path / "mine.toml"
    limits.write_text("low_base = 24\n", encoding="utf-8")
    assert run("craft", score, "--limits", limits) == 2
    assert "the nearest is 'low_bass'" in capsys.readouterr().err
    assert run("craft", tmp_path / "none.musicxml") == 3


def test_thresholds_can_be_printed_as_a_file(capsys):
    assert run("craft", "--show-thresholds") == 0
    assert "harp_span = 16" in capsys.readouterr().out
