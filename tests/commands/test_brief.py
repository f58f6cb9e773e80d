"""``auditor brief`` writes a file that the case then takes up."""

from pathlib import Path

import pytest

from auditor.case import case_of, open_case
from auditor.cli import main

SCORE = """<?xml version="1.0"?><score-partwise version="4.0"><part-list>
<score-part id="P1"><part-name>Oboe</part-name></score-part>
<score-part id="P2"><part-name>Violoncello</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats>
<beat-type>4</beat-type></time></attributes>{tune}</measure></part>
<part id="P2"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><pitch><step>C</step><octave>3</octave></pitch><duration>4</duration></note></measure>
</part></score-partwise>"""
NOTE = "<note><pitch><step>{}</step><octave>5</octave></pitch><duration>1</duration></note>"


@pytest.fixture
def page(tmp_path) -> Path:
    path = tmp_path / "score.musicxml"
    path.write_text(SCORE.format(tune="".join(NOTE.format(s) for s in "CDEF")))
    return path


def run(*words: object) -> int:
    with pytest.raises(SystemExit) as left:
        main([str(w) for w in words])
    return int(left.value.code or 0)


def test_writes_beside_the_score_and_the_case_takes_it_up(page):
    assert run("brief", page) == 0
    brief = page.parent / "brief.toml"
    assert 'lines = ["Oboe"]' in brief.read_text(encoding="utf-8")
    (page.parent / "mix.wav").write_bytes(b"")
    assert open_case(page.parent).brief == brief
    assert case_of(page, page.parent / "mix.wav").brief == brief


def test_never_writes_over_a_file_unless_told(page, capsys):
    brief = page.parent / "mine.toml"
    brief.write_text("mine")
    assert run("brief", page, "-o", brief) == 2
    assert brief.read_text() == "mine"
    assert "--force" in capsys.readouterr().err
    assert run("brief", page, "-o", brief, "--force") == 0
    assert "[[passage]]" in brief.read_text(encoding="utf-8")
