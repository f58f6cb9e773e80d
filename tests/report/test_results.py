"""The result folder: whole or not at all, and the same every time."""

import json

import pytest

from auditor.errors import InputError
from auditor.report import results
from auditor.report.page import compose_page
from auditor.report.results import FILES, write_results


def no_constants(name):
    raise AssertionError(f"{name} is not JSON (RFC 8259, section 6)")


def test_every_file_is_there_and_nothing_else(audit, page, tmp_path):
    write_results(audit, tmp_path / "out", page=page)
    assert {p.name for p in (tmp_path / "out").iterdir()} == set(FILES)
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_the_record_is_strict_json_and_says_what_it_rests_on(audit, tmp_path):
    write_results(audit, tmp_path / "out")
    text = (tmp_path / "out" / "audit.json").read_text(encoding="utf-8")
    record = json.loads(text, parse_constant=no_constants)
    assert list(record) == sorted(record)
    assert record["schema_version"] == 1
    assert record["inputs"][0] == {"name": "study.musicxml", "sha256": "0" * 64}
    assert record["settings"]["limits_distinct_ratio"] == {"clear": 0.15, "covered": 0.05}
    assert len(record["notes"]["rows"]) == len(audit.score.notes)
    assert record["findings"][0]["bar_first"] == "5"
    assert record["findings"][0]["covers"][0] == {"line": 8, "part": 7, "share": 0.62}
    assert record["made_at"] is None


def test_the_only_clock_is_the_one_asked_for(audit, tmp_path, monkeypatch):
    # reproducible-builds.org: SOURCE_DATE_EPOCH is seconds since 1970-01-01 UTC.
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    write_results(audit, tmp_path / "out")
    record = json.loads((tmp_path / "out" / "audit.json").read_text(encoding="utf-8"))
    assert record["made_at"] == "1970-01-02T00:00:00+00:00"


def test_the_same_audit_gives_the_same_bytes(audit, source, tmp_path):
    for name in ("one", "two"):
        write_results(audit, tmp_path / name, page=compose_page(audit, source))
    for name in FILES:
        first = (tmp_path / "one" / name).read_bytes()
        assert first == (tmp_path / "two" / name).read_bytes(), name


def test_a_result_is_not_overwritten_unasked(audit, tmp_path):
    folder = tmp_path / "out"
    write_results(audit, folder)
    (folder / "bars.csv").write_text("mine")
    with pytest.raises(InputError, match="already holds a result"):
        write_results(audit, folder)
    assert (folder / "bars.csv").read_text() == "mine"
    write_results(audit, folder, force=True)
    assert (folder / "bars.csv").read_text() != "mine"


def test_replacing_a_result_keeps_what_is_not_ours(audit, tmp_path):
    folder = tmp_path / "out"
    write_results(audit, folder)
    (folder / "remarks.txt").write_text("talk to the trombones")
    write_results(audit, folder, force=True)
    assert (folder / "remarks.txt").read_text() == "talk to the trombones"


def test_a_folder_of_other_things_is_left_alone_even_when_forced(audit, tmp_path):
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(InputError, match="not a result of an audit"):
        write_results(audit, tmp_path, force=True)
    assert [p.name for p in tmp_path.iterdir()] == ["letter.txt"]


def test_an_empty_folder_is_filled(audit, tmp_path):
    (tmp_path / "out").mkdir()
    write_results(audit, tmp_path / "out")
    assert (tmp_path / "out" / "audit.json").is_file()


def test_a_file_in_the_way_is_said(audit, tmp_path):
    (tmp_path / "out").write_text("")
    with pytest.raises(InputError, match="is a file"):
        write_results(audit, tmp_path / "out")


def test_nothing_is_left_half_written(audit, tmp_path, monkeypatch):
    folder = tmp_path / "out"
    write_results(audit, folder)
    before = {p.name: p.read_bytes() for p in folder.iterdir()}

    def disk_full(audit):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(results, "to_json", disk_full)
    with pytest.raises(InputError, match="No space left on device"):
        write_results(audit, folder, force=True)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_the_score_is_annotated_and_the_paper_kept(made, audit, tmp_path):
    score = tmp_path / "study.musicxml"
    parts = tuple(p.number for p in audit.score.parts)
    score.write_text(made.made_excerpt(audit, 0, len(audit.score.bars) - 1, parts))
    folder = tmp_path / "out"
    write_results(audit, folder, score=score, pdf=b"%PDF-1.4")
    assert (folder / "annotated.musicxml").read_bytes() != score.read_bytes()
    assert (folder / "report.pdf").read_bytes() == b"%PDF-1.4"
    # What an earlier run left must not pass for this one's.
    write_results(audit, folder, force=True)
    assert {p.name for p in folder.iterdir()} == set(FILES) - {"report.html"}


def test_a_score_that_cannot_be_written_into_costs_nothing_else(audit, tmp_path):
    score = tmp_path / "study.mid"
    score.write_bytes(b"MThd\x00\x00\x00\x06\x00\x01\x00\x01\x01\xe0")
    write_results(audit, tmp_path / "out", score=score)
    assert {p.name for p in (tmp_path / "out").iterdir()} == set(FILES) - {"report.html"}
