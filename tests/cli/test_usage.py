"""Words on the command line that are wrong, and its help."""

import re

import numpy as np
import pytest

from auditor.errors import InputError
from auditor.sound.level import calibration_db


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
def test_usage(auditor, words, match, refused):
    refused(auditor(*words), 2, match)


@pytest.mark.parametrize(
    ("words", "match"),
    [
        (["forecast", "--minutes=0"], "expected 1 to 600 minutes"),
        (["forecast", "--minutes=nan"], "expected 1 to 600 minutes"),
        (["forecast", "--room-gain=nan"], "expected -5 to 20"),
        (["audit", "--room-gain=40"], "expected -5 to 20"),
        (["audit", "--strings=huge"], "expected one of full, medium, small"),
        (["craft", "--limits", "/dev/zero"], "/dev/zero is not an ordinary file"),
        (["craft", "--weight", "heavy"], "expected one of 'worth a thought'"),
    ],
)
def test_settings_are_checked_before_the_score_is_read(auditor, files, words, match, refused):
    left = auditor(*words, files / "march.musicxml")
    refused(left, 2, match)
    assert "reading" not in left.err


@pytest.mark.parametrize("level", [39.9, 110.1, -83, np.nan, np.inf])
def test_playback_level_is_one_for_music(auditor, files, level, refused, made):
    """The command refuses early what the calibration would refuse late."""
    words = [
        "audit",
        files / "march.musicxml",
        files / "march.wav",
        f"--playback-level={level}",
    ]
    refused(auditor(*words), 2, "is not one for music; give 40 to 110")
    with pytest.raises(InputError, match="is not one for music; give 40 to 110"):
        calibration_db(made.sine(1.0).astype(np.float32), playback_db=level)


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
def test_limits_part_in_order(auditor, files, covered, clear, refused):
    words = ["audit", files / "march.musicxml", files / "march.wav"]
    left = auditor(*words, f"--covered-below={covered}", f"--clear-from={clear}")
    refused(left, 2, "expected 0 < covered < clear < 1")


def test_sentences_stay_on_one_line(auditor, files, refused, place):
    """Long paths are not broken, and brackets in them are no markup."""
    deep = place / ("long" * 40) / "[bold]"
    left = auditor("audit", deep / "score.musicxml", files / "march.wav")
    refused(left, 3, "does not exist")
    assert str(deep) in left.said


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
        "--strings", "--room-gain", "--no-forecast",
    }  # fmt: skip
