"""The real command line in an empty folder, and two pieces to hand to it."""

import importlib.util
import re
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
import soundfile

from auditor.cli import main


@pytest.fixture(scope="session")
def made():
    """Hand out the module that makes the pieces."""
    path = Path(__file__).with_name("made_piece.py")
    spec = importlib.util.spec_from_file_location("made_piece", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def files(tmp_path_factory, made):
    """Scores, sounds and stems of both pieces; nobody writes here afterwards."""
    folder = tmp_path_factory.mktemp("made")
    for name, piece in (("march", made.MARCH), ("song", made.SONG)):
        (folder / f"{name}.musicxml").write_text(made.score_xml(piece), encoding="utf-8")
        stems = {part: made.tones(pitches) for part, pitches in piece.items()}
        soundfile.write(folder / f"{name}.wav", sum(stems.values()), made.RATE)
        (folder / f"{name}-stems").mkdir()
        for part, sound in stems.items():
            soundfile.write(folder / f"{name}-stems" / f"{part}.wav", sound, made.RATE)
    return folder


@pytest.fixture
def place(tmp_path_factory):
    """A folder for what is handed over, beside the working folder."""
    return tmp_path_factory.mktemp("in")


@dataclass(frozen=True)
class Left:
    code: int
    out: str
    err: str
    folder: Path

    @property
    def said(self):
        """What was said after the names of the stages."""
        return self.err.splitlines()[-1]


@pytest.fixture
def auditor(capsys, tmp_path, monkeypatch):
    """Run the command line in an empty working folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TMPDIR", str(tmp_path))

    def run(*words):
        capsys.readouterr()
        with pytest.raises(SystemExit) as left:
            main([str(w) for w in words])
        out, err = capsys.readouterr()
        return Left(left.value.code, out, err, tmp_path)

    return run


@pytest.fixture(scope="session")
def refused():
    """One sentence on stderr, nothing on stdout, nothing on disk."""

    def check(left, code, match):
        assert left.code == code, left.err
        assert left.out == ""
        assert re.search(match, left.said), left.err
        assert left.said.startswith("auditor: ")
        assert "Traceback" not in left.err
        assert not list(left.folder.iterdir())

    return check


@pytest.fixture(scope="session")
def started():
    """Start the command line in a process of its own."""

    def start(words, folder, *before):
        # A shell that starts the tests in the background makes them deaf to SIGINT.
        return subprocess.Popen(
            [*before, sys.executable, "-m", "auditor", *map(str, words)],
            cwd=folder, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )  # fmt: skip

    return start
