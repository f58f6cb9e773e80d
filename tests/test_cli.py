"""The real command line: what it says, where, its exit codes, and what it leaves behind."""

import io
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
from auditor.report import printing
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


# --- scores that cannot be used -------------------------------------------------------

HTML = "<html><body>no music</body></html>"
BOMB = (  # the "billion laughs" of CVE-2003-1564, cut short
    '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
    "<score-partwise><part-list>&b;</part-list></score-partwise>"
)
NO_NOTES = score_xml({"Flute": []}).replace(
    '<part id="P1">', '<part id="P1"><measure number="1"></measure>'
)


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"", "is empty"),
        (b"RIFF\x00\x01", "not readable XML"),
        (HTML.encode(), "XML of something else"),
        (NO_NOTES.encode(), "no notes"),
        (score_xml({"Flute": [0] * 8}).encode(), "only rests"),
        (BOMB.encode(), "XML entities"),
        (b"<score-partwise>" * 3, "not readable XML"),
    ],
    ids=["empty", "not-xml", "something-else", "no-notes", "only-rests", "bomb", "cut"],
)
def test_scores_that_cannot_be_used(auditor, files, tmp_path_factory, content, match):
    score = tmp_path_factory.mktemp("in") / "score.musicxml"
    score.write_bytes(content)
    refused(auditor("audit", score, files / "march.wav", "-o", "result"), 3, match)


def test_missing_score(auditor, files):
    left = auditor("audit", files / "none.musicxml", files / "march.wav", "-o", "result")
    refused(left, 3, "does not exist")


def test_mxl_that_is_no_zip(auditor, files, tmp_path_factory):
    score = tmp_path_factory.mktemp("in") / "score.mxl"
    score.write_text(score_xml(MARCH))
    refused(auditor("audit", score, files / "march.wav"), 3, "not a zip archive")


def test_mxl_that_unpacks_to_gigabytes(auditor, files, tmp_path_factory):
    score = tmp_path_factory.mktemp("in") / "score.mxl"
    block = bytes(1 << 20)
    with (
        zipfile.ZipFile(score, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("score.musicxml", "w", force_zip64=True) as member,
    ):
        for _ in range(2100):
            member.write(block)
    refused(auditor("audit", score, files / "march.wav"), 3, "unpacks to more than 256 MB")


# --- sounds that cannot be used -------------------------------------------------------


def sine(seconds, amplitude=0.1):
    return amplitude * np.sin(2 * np.pi * 440 * np.arange(round(seconds * RATE)) / RATE)


def with_nan():
    out = sine(4.0)
    out[RATE] = np.nan
    return out


@pytest.mark.parametrize(
    ("samples", "match"),
    [
        (sine(0.5), "lasts 0.50 s; expected at least 1 s"),
        (np.zeros(4 * RATE), "is silent"),
        (with_nan(), r"not numbers \(first at 1\.00 s\)"),
        (np.zeros(0), "holds no samples"),
    ],
    ids=["short", "silent", "nan", "no-samples"],
)
def test_sounds_that_cannot_be_used(auditor, files, tmp_path_factory, samples, match):
    mix = tmp_path_factory.mktemp("in") / "mix.wav"
    soundfile.write(mix, samples, RATE, subtype="FLOAT")
    refused(auditor("audit", files / "march.musicxml", mix, "-o", "result"), 3, match)


# ISO/IEC 14496-12, 4.3: a file begins with a box of type ftyp and its major brand.
M4A = b"\x00\x00\x00\x20ftypM4A \x00\x00\x02\x00M4A mp42isom\x00\x00\x00\x00" + bytes(4000)


@pytest.mark.parametrize(
    ("name", "content", "match"),
    [
        ("mix.m4a", M4A, "convert it to WAV or FLAC"),
        ("mix.wav", b"", "is empty"),
        (
            "mix.wav",
            b"this is no sound at all, only words",
            "not a sound file that can be read",
        ),
        ("mix.mp3", bytes(5000), "not a sound file that can be read"),
    ],
    ids=["m4a", "empty", "words", "noughts"],
)
def test_files_that_are_no_sound(auditor, files, tmp_path_factory, name, content, match):
    mix = tmp_path_factory.mktemp("in") / name
    mix.write_bytes(content)
    refused(auditor("audit", files / "march.musicxml", mix, "-o", "result"), 3, match)


def test_missing_sound(auditor, files):
    left = auditor("audit", files / "march.musicxml", files / "none.wav", "-o", "result")
    refused(left, 3, "does not exist")


def test_files_in_the_wrong_order(auditor, files):
    refused(
        auditor("audit", files / "march.wav", files / "march.musicxml"), 3, "not readable XML"
    )


def test_stem_missing(auditor, files, tmp_path_factory):
    stems = tmp_path_factory.mktemp("stems")
    (stems / "Flute.wav").write_bytes((files / "march-stems" / "Flute.wav").read_bytes())
    left = auditor("audit", files / "march.musicxml", "--stems", stems, "-o", "result")
    refused(left, 2, "no stem was found for Bassoon; name each file after its part")


def test_stems_folder_missing_or_without_sound(auditor, files, tmp_path_factory):
    score = files / "march.musicxml"
    refused(auditor("audit", score, "--stems", files / "none"), 2, "is not a folder")
    empty = tmp_path_factory.mktemp("stems")
    refused(auditor("audit", score, "--stems", empty), 2, "holds no sound files")


# --- sound and score do not follow each other -----------------------------------------

WRONG_PIECE = "check that (the sound and the score are the same piece|they belong together)"


@pytest.mark.parametrize(("score", "sound"), [("march", "song"), ("song", "march")])
def test_wrong_piece(auditor, files, score, sound):
    left = auditor("audit", files / f"{score}.musicxml", files / f"{sound}.wav", "-o", "result")
    refused(left, 4, WRONG_PIECE)


def test_noise_is_no_piece(auditor, files, tmp_path_factory):
    mix = tmp_path_factory.mktemp("in") / "mix.wav"
    rng = np.random.default_rng(1)
    soundfile.write(mix, 0.1 * rng.standard_normal(16 * RATE), RATE)
    refused(auditor("audit", files / "march.musicxml", mix, "-o", "result"), 4, WRONG_PIECE)


def test_right_piece_in_another_key(auditor, files, tmp_path_factory):
    mix = tmp_path_factory.mktemp("in") / "mix.wav"
    moved = [tones([pitch + 3 for pitch in pitches]) for pitches in MARCH.values()]
    soundfile.write(mix, sum(moved), RATE)
    left = auditor("audit", files / "march.musicxml", mix, "-o", "result")
    refused(left, 4, "3 semitones higher than the score")


# --- usage and settings ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "match"),
    [
        (["audit"], "Missing argument 'SCORE'"),
        (["audit", "a", "b", "--no-such-option"], "No such option: --no-such-option"),
        (["audit", "a", "b", "c"], "unexpected extra argument"),
        (["listen", "a"], "No such command 'listen'"),
        (["audit", "a", "b", "-o"], "requires an argument"),
        (["audit", "a", "b", "--playback-level", "loud"], "--playback-level.*valid number"),
        (["audit", "nowhere"], "nowhere does not exist; name a case folder"),
    ],
)
def test_usage(auditor, words, match):
    refused(auditor(*words), 2, match)


@pytest.mark.parametrize("level", [39.9, 110.1, -83, np.nan, np.inf])
def test_playback_level_is_one_for_music(auditor, files, level):
    """The command refuses early what the calibration would refuse late."""
    words = [
        "audit",
        files / "march.musicxml",
        files / "march.wav",
        f"--playback-level={level}",
    ]
    refused(auditor(*words), 2, "is not one for music; give 40 to 110")
    with pytest.raises(InputError, match="is not one for music; give 40 to 110"):
        calibration_db(sine(1.0).astype(np.float32), playback_db=level)


@pytest.mark.parametrize(
    ("covered", "clear"),
    [
        (0.0, 0.15),
        (0.2, 0.15),
        (0.15, 0.15),
        (0.05, 1.0),
        (np.nan, 0.15),
        (0.05, np.nan),
        (-1, 2),
    ],
)
def test_limits_part_in_order(auditor, files, covered, clear):
    words = ["audit", files / "march.musicxml", files / "march.wav"]
    left = auditor(*words, f"--covered-below={covered}", f"--clear-from={clear}")
    refused(left, 2, "expected 0 < covered < clear < 1")


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


def test_result_in_place_of_a_file(auditor, files, tmp_path):
    (tmp_path / "result").write_text("mine")
    left = auditor("audit", files / "march.musicxml", files / "march.wav", "-o", "result")
    assert left.code == 2
    assert "is a file" in left.said
    assert (tmp_path / "result").read_text() == "mine"


@pytest.mark.parametrize("out", [".", ""])
def test_results_have_a_folder_of_their_own(auditor, files, out):
    left = auditor("audit", files / "march.musicxml", files / "march.wav", "-o", out)
    refused(left, 2, "is the folder you are in")


def test_results_inside_a_file(auditor, files):
    inside = files / "march.wav" / "deep" / "result"
    left = auditor("audit", files / "march.musicxml", files / "march.wav", "-o", inside)
    refused(left, 2, "march.wav is a file")
    assert "reading" not in left.err


def test_a_terminal_without_all_letters_is_no_bug(auditor, files, monkeypatch):
    monkeypatch.setattr(printing, "worst_findings_text", lambda _: "B♭\n")
    ascii_only = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", ascii_only)
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    assert auditor(*words).code == 0
    assert ascii_only.buffer.getvalue() == b"B?\n"


def test_sentences_stay_on_one_line(auditor, files, tmp_path_factory):
    """Long paths are not broken, and brackets in them are no markup."""
    deep = tmp_path_factory.mktemp("in") / ("long" * 40) / "[bold]"
    left = auditor("audit", deep / "score.musicxml", files / "march.wav")
    refused(left, 3, "does not exist")
    assert str(deep) in left.said


# --- help -----------------------------------------------------------------------------


def test_version(auditor):
    left = auditor("--version")
    assert (left.code, left.err) == (0, "")
    assert re.fullmatch(r"auditor \d+\.\d+\.\d+\n", left.out)


@pytest.mark.parametrize("words", [["-h"], ["--help"], ["audit", "-h"], ["audit", "--help"]])
def test_help_has_an_example(auditor, words):
    left = auditor(*words)
    assert (left.code, left.err) == (0, "")
    assert "Example: auditor audit overture.musicxml overture.wav -o overture-audit" in left.out


def test_nothing_asked_shows_help_on_stderr(auditor):
    left = auditor()
    assert (left.code, left.out) == (2, "")
    assert "Usage: auditor" in left.err


def test_every_option_says_what_it_does(auditor):
    text = auditor("audit", "-h").out
    options = re.findall(r"^ +(?:-\w, )?(--[\w-]+)(?: [A-Z]+)?  +(\S.*)$", text, re.MULTILINE)
    assert {name for name, _ in options} == {
        "--out", "--stems", "--mix-only", "--playback-level", "--covered-below",
        "--clear-from", "--force", "--verbose", "--help", "--library", "--pdf",
    }  # fmt: skip


# --- bugs and interruptions -----------------------------------------------------------


def fails(error):
    def audit(*_args, **_more):
        raise error

    return audit


def test_a_bug_is_called_ours(auditor, files, monkeypatch):
    monkeypatch.setattr(auditing, "audit", fails(ZeroDivisionError("two\nlines")))
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    refused(auditor(*words), 70, r"bug of ours \(ZeroDivisionError: two lines\)")


def test_interruption_is_no_bug(auditor, files, monkeypatch):
    monkeypatch.setattr(auditing, "audit", fails(KeyboardInterrupt()))
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    refused(auditor(*words), 130, "stopped; nothing was written")


def started(words, folder):
    # A shell that starts the tests in the background makes them deaf to SIGINT.
    return subprocess.Popen(
        [sys.executable, "-m", "auditor", *map(str, words)],
        cwd=folder, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip


def test_ctrl_c_in_a_process_of_its_own(files, tmp_path):
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


def test_process_leaves_with_the_code_and_without_traceback(files, tmp_path):
    with started(["audit", files / "march.musicxml", files / "none.wav"], tmp_path) as process:
        out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (3, "")
    assert "Traceback" not in err


def test_reader_that_has_seen_enough_is_no_failure(files, tmp_path):
    words = ["audit", files / "march.musicxml", files / "march.wav", "-o", "result"]
    with started(words, tmp_path) as process:
        process.stdout.close()
        err = process.stderr.read()
    assert process.returncode == 0, err
    assert "Traceback" not in err
    assert (tmp_path / "result" / "report.html").exists()
