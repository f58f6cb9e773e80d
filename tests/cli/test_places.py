"""Where results may go, and where not: refused before anything is read."""

import os
import shutil
import subprocess

import pytest

# Root may do everything but what it has laid down; setpriv is util-linux's.
_LAID_DOWN = "-dac_override,-dac_read_search"
_UNARMED = (
    ("setpriv", f"--bounding-set={_LAID_DOWN}", f"--inh-caps={_LAID_DOWN}")
    if os.geteuid() == 0
    else ()
)
without_rights = pytest.mark.skipif(
    bool(_UNARMED)
    and (
        shutil.which("setpriv") is None
        or subprocess.run([*_UNARMED, "true"], check=False, capture_output=True).returncode != 0
    ),
    reason="runs as root, which may read everything, and cannot lay that down",
)


def with_score(command, files):
    """Words of a command that writes into a folder, up to the folder's name."""
    sound = [files / "march.wav"] if command in ("audit", "align") else []
    return [command, files / "march.musicxml", *sound, "-o"]


INTO_FOLDERS = ["audit", "align", "craft", "forecast", "kit"]


@pytest.mark.parametrize("command", ["audit", "align", "forecast"])
@pytest.mark.parametrize("out", [".", ""])
def test_results_have_a_folder_of_their_own(auditor, files, command, out, refused):
    left = auditor(*with_score(command, files), out)
    refused(left, 2, "is the folder you are in")
    assert "reading" not in left.err


@pytest.mark.parametrize("command", INTO_FOLDERS)
def test_results_inside_a_file(auditor, files, command, refused):
    left = auditor(*with_score(command, files), files / "march.wav" / "deep" / "result")
    refused(left, 2, "march.wav is a file; name a folder for the results elsewhere")
    assert "reading" not in left.err


@pytest.mark.parametrize("command", INTO_FOLDERS)
def test_results_in_place_of_a_file(auditor, files, command, tmp_path):
    (tmp_path / "mine").write_text("mine")
    left = auditor(*with_score(command, files), "mine")
    assert (left.code, left.out) == (2, "")
    assert "mine is a file" in left.said
    assert (tmp_path / "mine").read_text() == "mine"


@without_rights
@pytest.mark.parametrize("command", INTO_FOLDERS)
def test_results_where_nothing_may_be_written(files, tmp_path, started, command):
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o555)
    words = with_score(command, files)
    with started([*words, locked / "result"], tmp_path, *_UNARMED) as process:
        out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (2, ""), err
    assert "locked cannot be written (permission denied); name another" in err
    assert "reading" not in err


@without_rights
@pytest.mark.parametrize("command", ["audit", "align", "craft", "brief", "sheet"])
def test_what_may_not_be_read(files, tmp_path, started, command):
    score = tmp_path / "score.musicxml"
    score.write_bytes((files / "march.musicxml").read_bytes())
    score.chmod(0)
    words = with_score(command, files)
    words[1] = score
    with started([*words, "result"], tmp_path, *_UNARMED) as process:
        out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (3, ""), err
    assert "score.musicxml cannot be opened (Permission denied)" in err


@without_rights
@pytest.mark.parametrize("command", ["audit", "sheet", "brief", "craft"])
def test_a_case_that_may_not_be_looked_into(tmp_path, started, command):
    """What no command thought of is told by the system's own words, and is no bug."""
    (tmp_path / "case").mkdir(mode=0)
    with started([command, "case"], tmp_path, *_UNARMED) as process:
        out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (3, ""), err
    assert "case" in err
    assert "cannot be used (Permission denied)" in err
    assert "Traceback" not in err


@pytest.mark.parametrize("command", ["audit", "align", "craft", "brief", "sheet", "kit"])
def test_a_link_that_leads_in_a_circle(auditor, files, place, command, refused):
    link = place / "circle.musicxml"
    link.symlink_to(link)
    words = with_score(command, files)[:-1]
    words[1] = link
    refused(auditor(*words), 3, "circle.musicxml cannot be (opened|used)")


@pytest.mark.parametrize("command", [*INTO_FOLDERS, "brief", "sheet"])
def test_a_name_longer_than_the_disk_takes(auditor, files, command, refused):
    refused(
        auditor(*with_score(command, files), "x" * 300),
        3,
        r"x(/.*)? cannot be used \(File name too long\)",
    )
