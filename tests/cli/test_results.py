"""What a run leaves behind: results on stdout and in the folder, the rest on stderr."""

import io
import json
import sys

import numpy as np
import pytest
import soundfile

from auditor.report import printing


def test_results_on_stdout_progress_on_stderr(auditor, files):
    left = auditor("audit", files / "march.musicxml", files / "march.wav", "-o", "result")
    assert left.code == 0, left.err
    assert left.out.strip()
    assert "reading the score" in left.err
    assert "reading the score" not in left.out
    assert "result/report.html" in left.err
    assert {p.name for p in left.folder.iterdir()} == {"result"}
    assert (left.folder / "result" / "report.html").stat().st_size > 0
    assert json.loads((left.folder / "result" / "audit.json").read_text())


def test_hall_and_strings_change_the_forecast_and_nothing_that_was_heard(auditor, files):
    """The bassoon becomes a section of violas: a string body has something to say of it."""
    page = (files / "march.musicxml").read_text().replace("Bassoon", "Viola")
    place = files / "hall"
    place.mkdir()
    (place / "score.musicxml").write_text(page)
    (place / "mix.wav").write_bytes((files / "march.wav").read_bytes())
    first = auditor("audit", place, "-o", "plain", "--no-forecast")
    assert first.code == 0, first.err
    assert "forecasting" not in first.err
    more = ("--strings", "small", "--room-gain", "2")
    second = auditor("audit", place, "-o", "small", *more)
    assert second.code == 0, second.err
    plain, small = (
        json.loads((left.folder / name / "audit.json").read_text())
        for left, name in ((first, "plain"), (second, "small"))
    )
    assert plain["forecast"] is None
    assert small["forecast"]["room_gain_db"] == 2.0
    # Rimsky-Korsakov, Principles of Orchestration, ch. I: eight violas, four in a small body.
    assert [r["score"]["parts"][1]["players"] for r in (plain, small)] == [8.0, 4.0]
    assert any("Viola 4" in said for said in small["forecast"]["remarks"])
    assert plain["notes"] == small["notes"]


def test_stems_folder_alone_is_enough(auditor, files):
    left = auditor(
        "audit", files / "march.musicxml", "--stems", files / "march-stems", "-o", "result"
    )
    assert left.code == 0, left.err
    assert "the stems were added up" in left.err


@pytest.mark.parametrize(
    ("rate", "channels", "said"),
    [
        (44_100, 1, ""),
        (44_100, 6, "6 channels were averaged"),
        (8_000, 1, "nothing above 4 kHz can be judged"),
        (192_000, 2, "sound above 22 kHz was left out"),
    ],
)
def test_odd_formats_are_taken_and_their_limits_said(
    auditor, files, tmp_path, rate, channels, said, made
):
    import soxr

    sound, _ = soundfile.read(files / "march.wav", dtype="float32")
    moved = soxr.resample(sound, made.RATE, rate)
    mix = tmp_path / "mix.wav"
    soundfile.write(mix, np.tile(moved[:, None], (1, channels)), rate)
    left = auditor("audit", files / "march.musicxml", mix, "-o", "result")
    assert left.code == 0, left.err
    assert said in left.err
    assert said in (tmp_path / "result" / "report.html").read_text()


def test_cut_short_is_taken_with_a_remark(auditor, files, tmp_path):
    mix = tmp_path / "mix.wav"
    data = (files / "march.wav").read_bytes()
    mix.write_bytes(data[: -len(data) // 50])
    left = auditor("audit", files / "march.musicxml", mix, "-o", "result")
    assert left.code == 0, left.err
    assert "cut short: its header promises" in left.err


def test_result_folder_in_use(auditor, files, tmp_path):
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    (tmp_path / "result").mkdir()
    (tmp_path / "result" / "letter.txt").write_text("dear all")
    left = auditor(*words, "--force")
    assert left.code == 2
    assert "not a result of an audit" in left.said
    assert [p.name for p in (tmp_path / "result").iterdir()] == ["letter.txt"]


def test_earlier_result_is_kept_or_replaced_whole(auditor, files, tmp_path):
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    assert auditor(*words).code == 0
    before = {p.name: p.read_bytes() for p in (tmp_path / "result").iterdir()}
    left = auditor(*words, "--playback-level=60")
    assert left.code == 2
    assert "--force" in left.said
    assert {p.name: p.read_bytes() for p in (tmp_path / "result").iterdir()} == before
    bad = ["audit", files / "march.musicxml", files / "song.wav", "-o", "result", "--force"]
    assert auditor(*bad).code == 4
    assert {p.name: p.read_bytes() for p in (tmp_path / "result").iterdir()} == before
    assert auditor(*words, "--playback-level=60", "--force").code == 0
    after = {p.name: p.read_bytes() for p in (tmp_path / "result").iterdir()}
    assert after.keys() == before.keys()
    assert after["audit.json"] != before["audit.json"]
    assert [p.name for p in tmp_path.iterdir()] == ["result"]


def test_a_terminal_without_all_letters_is_no_bug(auditor, files, monkeypatch):
    monkeypatch.setattr(printing, "worst_findings_text", lambda _: "B♭\n")
    ascii_only = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", ascii_only)
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    assert auditor(*words).code == 0
    assert ascii_only.buffer.getvalue() == b"B?\n"
