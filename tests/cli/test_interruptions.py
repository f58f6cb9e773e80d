"""Bugs, Ctrl-C, and readers that have seen enough."""

import signal
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from auditor import __main__, auditing


def fails(error):
    def audit(*_args, **_more):
        raise error

    return audit


def test_a_bug_is_called_ours(auditor, files, monkeypatch, refused):
    monkeypatch.setattr(auditing, "audit", fails(ZeroDivisionError("two\nlines")))
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    refused(auditor(*words), 70, r"bug of ours \(ZeroDivisionError: two lines\)")


def test_interruption_is_no_bug(auditor, files, monkeypatch, refused):
    monkeypatch.setattr(auditing, "audit", fails(KeyboardInterrupt()))
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    refused(auditor(*words), 130, "stopped; nothing was written")


def test_ctrl_c_in_a_process_of_its_own(files, tmp_path, started):
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    with started(words, tmp_path) as process:
        while process.stderr.readline().strip() != "finding the score in the sound":
            assert process.poll() is None
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert out == ""
    assert err.splitlines()[-1] == "auditor: stopped; nothing was written"
    assert "Traceback" not in err
    assert not list(tmp_path.iterdir())


def test_process_leaves_with_the_code_and_without_traceback(files, tmp_path, started):
    with started(["audit", files / "march.musicxml", files / "none.wav"], tmp_path) as process:
        out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (3, "")
    assert "Traceback" not in err


def test_a_full_disk_is_no_bug(files, tmp_path):
    """/dev/full refuses every write as a full disk does (full(4))."""
    words = [sys.executable, "-m", "auditor", "craft", files / "march.musicxml"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            words, cwd=tmp_path, stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 3, done.stderr
    assert "cannot be used (No space left on device)" in done.stderr.splitlines()[-1]


def test_nobody_listening_is_no_failure(auditor, files, monkeypatch):
    monkeypatch.setattr(sys, "stdout", None)
    assert auditor("craft", files / "march.musicxml").code == 0


def test_reader_that_has_seen_enough_is_no_failure(files, tmp_path, started):
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    with started(words, tmp_path) as process:
        process.stdout.close()
        err = process.stderr.read()
    assert process.returncode == 0, err
    assert "Traceback" not in err
    assert (tmp_path / "result" / "report.html").exists()


def test_ctrl_c_while_the_program_loads(monkeypatch, capsys):
    class Interrupted(ModuleType):
        def __getattr__(self, name):
            raise KeyboardInterrupt

    monkeypatch.setitem(sys.modules, "auditor.cli", Interrupted("auditor.cli"))
    with pytest.raises(SystemExit) as left:
        __main__.main()
    assert left.value.code == 130
    assert capsys.readouterr().err == "auditor: stopped; nothing was written\n"
