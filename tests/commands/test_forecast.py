"""The forecast and the reading sheet from the command line, without sound."""

import json
import shutil
from pathlib import Path

import pytest

from auditor.cli import main

DEMO = Path(__file__).parents[2] / "test_audio" / "demo" / "score.musicxml"


def run(*words: object) -> int:
    with pytest.raises(SystemExit) as left:
        main([str(w) for w in words])
    return int(left.value.code or 0)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    out = tmp_path_factory.mktemp("forecast") / "out"
    assert run("forecast", DEMO, "-o", out, "--strings", "small") == 0
    return out


def test_writes_the_tables_of_an_audit_and_says_it_is_a_forecast(folder, capsys):
    names = {p.name for p in folder.iterdir()}
    assert {"forecast.json", "notes.csv", "lines.csv", "findings.md", "sheet.html"} <= names
    assert "audit.json" not in names
    record = json.loads((folder / "forecast.json").read_text(encoding="utf-8"))
    assert record["settings"]["source"] == "forecast"
    assert "forecast" in record["cautions"][0]
    told = (folder / "findings.md").read_text(encoding="utf-8")
    assert "no sound was heard" in told
    assert "Violin I 8" in told


def test_a_sheet_is_made_again_from_the_folder(folder, tmp_path):
    assert run("sheet", folder, "--minutes", "12", "-o", tmp_path / "s.html") == 0
    html = (tmp_path / "s.html").read_text(encoding="utf-8")
    assert "session of 12 minutes" in html
    assert "by the tempo marks" in html


def test_an_earlier_forecast_is_kept(folder, capsys):
    assert run("forecast", DEMO, "-o", folder) == 2
    assert "--force" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--strings", "huge"), "expected one of full, medium, small"),
        (("--room-gain", "40"), "concert halls have about 2 to 6"),
    ],
)
def test_refuses_settings(words, said, capsys):
    assert run("forecast", DEMO, *words) == 2
    assert said in capsys.readouterr().err


def test_a_place_without_anything_is_refused(tmp_path, capsys):
    assert run("sheet", tmp_path) == 2
    assert "holds no score" in capsys.readouterr().err


def test_players_of_the_case_stay(tmp_path):
    score = Path(shutil.copy(DEMO, tmp_path / "score.musicxml"))
    (tmp_path / "score.toml").write_text('[parts."Viola"]\nplayers = 11\n', encoding="utf-8")
    assert run("forecast", score, "-o", tmp_path / "out", "--strings", "small") == 0
    told = (tmp_path / "out" / "findings.md").read_text(encoding="utf-8")
    assert "Viola 11" in told
