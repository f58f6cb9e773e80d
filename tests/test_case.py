"""What a case folder may look like, and what is said when it does not."""

import os
from pathlib import Path

import pytest

from auditor.case import AUDIO_SUFFIXES, SCORE_SUFFIXES, Case, case_of, open_case
from auditor.errors import InputError


def made(folder, *names):
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    return folder


@pytest.mark.parametrize("score", SCORE_SUFFIXES)
@pytest.mark.parametrize("sound", AUDIO_SUFFIXES)
def test_score_and_mix_are_found_by_suffix(tmp_path, score, sound):
    made(tmp_path, f"s{score.upper()}", f"m{sound}", "notes.txt", "cover.png")
    assert open_case(tmp_path) == Case(tmp_path / f"s{score.upper()}", tmp_path / f"m{sound}")


def test_a_page_goes_before_the_keys_it_was_played_with(tmp_path):
    made(tmp_path, "s.mid", "m.wav")
    assert open_case(tmp_path).score == tmp_path / "s.mid"
    made(tmp_path, "s.mxl")
    assert open_case(tmp_path).score == tmp_path / "s.mxl"


def test_stems_are_taken_along_and_can_do_without_a_mix(tmp_path):
    made(tmp_path, "s.mxl", "m.wav", "stems/flute.wav")
    assert open_case(tmp_path).stems == tmp_path / "stems"
    (tmp_path / "m.wav").unlink()
    assert open_case(tmp_path) == Case(tmp_path / "s.mxl", None, tmp_path / "stems")


def test_hidden_twins_are_passed_over(tmp_path):
    """AppleDouble: other systems write "._name" beside each file (RFC 1740, appendix B)."""
    made(tmp_path, "s.musicxml", "._s.musicxml", "m.wav", "._m.wav")
    assert open_case(tmp_path) == Case(tmp_path / "s.musicxml", tmp_path / "m.wav")


@pytest.mark.parametrize(
    ("names", "match"),
    [
        (["m.wav"], r"holds no score \(looked for .musicxml"),
        (["s.mxl"], r"holds no mix \(looked for .wav"),
        (["s.mxl", "t.xml", "m.wav"], r"2 files that could be the score \(s.mxl, t.xml\)"),
        (["s.mxl", "m.wav", "n.flac"], r"2 files that could be the mix \(m.wav, n.flac\)"),
    ],
)
def test_a_folder_holds_one_of_each(tmp_path, names, match):
    with pytest.raises(InputError, match=match):
        open_case(made(tmp_path, *names))


def test_what_is_no_folder(tmp_path):
    made(tmp_path, "s.mxl")
    with pytest.raises(InputError, match="is not a folder; name a case folder"):
        open_case(tmp_path / "s.mxl")
    with pytest.raises(InputError, match="does not exist; name a case folder"):
        open_case(tmp_path / "none")


def test_what_is_named_outweighs_the_folder(tmp_path):
    made(tmp_path, "case/s.mxl", "case/m.wav", "case/stems/a.wav", "mine/a.wav")
    case, mine = tmp_path / "case", tmp_path / "mine"
    assert case_of(case, stems=mine) == Case(case / "s.mxl", case / "m.wav", mine)
    assert case_of(case, mix_only=True) == Case(case / "s.mxl", case / "m.wav", None)
    score, mix = case / "s.mxl", case / "m.wav"
    assert case_of(score, mix) == Case(score, mix, None)
    assert case_of(score, stems=mine) == Case(score, None, mine)
    assert case_of(score, mix, mine) == Case(score, mix, mine)


def test_nothing_to_listen_to(tmp_path):
    made(tmp_path, "s.mxl", "stems/a.wav")
    with pytest.raises(InputError, match="neither a mix nor stems"):
        case_of(tmp_path, mix_only=True)
    with pytest.raises(InputError, match="is not a folder; name one with a sound file a part"):
        case_of(tmp_path / "s.mxl", stems=tmp_path / "none")


def test_names_that_are_no_text():
    """POSIX names are bytes; one that is not UTF-8 could not stand in a report."""
    bad = Path(os.fsdecode(b"m\xff.wav"))
    with pytest.raises(InputError, match=r"m\?\.wav is not valid text in UTF-8; rename"):
        case_of(Path("s.mxl"), bad)
