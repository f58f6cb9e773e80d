"""Bugs, Ctrl-C, and readers that have seen enough."""

import signal

from auditor import auditing


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


def test_reader_that_has_seen_enough_is_no_failure(files, tmp_path, started):
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    with started(words, tmp_path) as process:
        process.stdout.close()
        err = process.stderr.read()
    assert process.returncode == 0, err
    assert "Traceback" not in err
    assert (tmp_path / "result" / "report.html").exists()
