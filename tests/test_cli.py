"""The real command line: what it says, where, with which exit code, and what it leaves behind."""

import json
import re
import signal
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile

from auditor import auditing
from auditor.cli import main
from auditor.errors import InputError
from auditor.sound.level import calibration_db

RATE = 44_100
QUARTER_S = 0.5
# Two pieces of eight bars in 4/4, one MIDI pitch a quarter: no bar of one is in the other.
MARCH = {
    "Flute": [72, 74, 76, 77, 79, 77, 76, 74, 72, 76, 79, 84, 83, 79, 77, 74,
              76, 77, 79, 81, 83, 81, 79, 77, 76, 72, 74, 71, 72, 67, 64, 60],
    "Bassoon": [48, 55, 48, 55, 43, 50, 43, 50, 48, 55, 52, 48, 43, 47, 50, 43,
                48, 52, 55, 53, 43, 50, 47, 43, 48, 45, 41, 43, 48, 43, 48, 48],
}  # fmt: skip
SONG = {
    "Flute": [78, 73, 70, 66, 68, 75, 80, 82, 66, 66, 85, 70, 63, 73, 61, 87,
              70, 68, 66, 61, 63, 82, 80, 66, 75, 73, 85, 61, 78, 70, 73, 66],
    "Bassoon": [42, 42, 54, 54, 46, 46, 51, 51, 42, 49, 54, 42, 51, 58, 49, 37,
                46, 46, 42, 42, 51, 51, 44, 44, 49, 49, 37, 37, 42, 54, 42, 42],
}  # fmt: skip
_NAMES = [("C", 0), ("C", 1), ("D", 0), ("D", 1), ("E", 0), ("F", 0), ("F", 1), ("G", 0),
          ("G", 1), ("A", 0), ("A", 1), ("B", 0)]  # fmt: skip


def note_xml(pitch):
    step, alter = _NAMES[pitch % 12]
    what = (
        f"<pitch><step>{step}</step><alter>{alter}</alter>"
        f"<octave>{pitch // 12 - 1}</octave></pitch>"
        if pitch
        else "<rest/>"
    )
    return f"<note>{what}<duration>1</duration><voice>1</voice><type>quarter</type></note>"


def score_xml(parts):
    names = "".join(
        f'<score-part id="P{k}"><part-name>{name}</part-name></score-part>'
        for k, name in enumerate(parts, 1)
    )
    bodies = ""
    for k, pitches in enumerate(parts.values(), 1):
        bars = ""
        for b in range(0, len(pitches), 4):
            head = (
                "<attributes><divisions>1</divisions><time><beats>4</beats>"
                "<beat-type>4</beat-type></time></attributes>"
                '<sound tempo="120"/>'
                if b == 0
                else ""
            )
            notes = "".join(map(note_xml, pitches[b : b + 4]))
            bars += f'<measure number="{b // 4 + 1}">{head}{notes}</measure>'
        bodies += f'<part id="P{k}">{bars}</part>'
    return (
        f'<score-partwise version="4.0"><part-list>{names}</part-list>{bodies}</score-partwise>'
    )


def tones(pitches):
    """Six partials falling by 6 dB an octave, 10 ms in and 80 ms out."""
    t = np.arange(round(QUARTER_S * RATE)) / RATE
    envelope = np.minimum(1.0, np.minimum(t / 0.01, (QUARTER_S - t) / 0.08))
    out = []
    for pitch in pitches:
        hz = 440.0 * 2 ** ((pitch - 69) / 12)
        out.append(sum(np.sin(2 * np.pi * hz * n * t) / n for n in range(1, 7)) * envelope)
    return np.pad(np.concatenate(out) * 0.1, (RATE // 4, RATE // 2)).astype(np.float32)


@dataclass(frozen=True)
class Files:
    folder: Path

    def __truediv__(self, name):
        return self.folder / name


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Scores, sounds and stems of both pieces; nobody writes here afterwards."""
    folder = tmp_path_factory.mktemp("made")
    for name, piece in (("march", MARCH), ("song", SONG)):
        (folder / f"{name}.musicxml").write_text(score_xml(piece), encoding="utf-8")
        stems = {part: tones(pitches) for part, pitches in piece.items()}
        soundfile.write(folder / f"{name}.wav", sum(stems.values()), RATE)
        (folder / f"{name}-stems").mkdir()
        for part, sound in stems.items():
            soundfile.write(folder / f"{name}-stems" / f"{part}.wav", sound, RATE)
    return Files(folder)


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


def refused(left, code, match):
    """One sentence on stderr, nothing on stdout, nothing on disk."""
    assert left.code == code, left.err
    assert left.out == ""
    assert re.search(match, left.said), left.err
    assert left.said.startswith("auditor: ")
    assert "Traceback" not in left.err
    assert not list(left.folder.iterdir())


# --- done -----------------------------------------------------------------------------


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
    auditor, files, tmp_path, rate, channels, said
):
    import soxr

    sound, _ = soundfile.read(files / "march.wav", dtype="float32")
    moved = soxr.resample(sound, RATE, rate)
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
