"""What a user writes beside a score is read as TOML, or refused in one sentence."""

import os
from pathlib import Path

import pytest

from auditor.errors import InputError
from auditor.settings_files import read_toml


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte-order-mark"])
def test_reads_text(tmp_path, mark):
    (tmp_path / "a.toml").write_bytes(mark + "name = 'Flöte'".encode())
    assert read_toml(tmp_path / "a.toml") == {"name": "Flöte"}


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"a = ?", r"a\.toml is not valid TOML \(.*line 1.*\); mend that place"),
        (b"a = 1\na = 2", "is not valid TOML"),
        (b"\xff\xfe", "is not text in UTF-8"),
        (b"#" * (1 << 20) + b"#", "is larger than 1 MB"),
        (b"a = " + b"[" * 100_000, "is not valid TOML"),
    ],
    ids=["open", "twice", "not-text", "large", "deep"],
)
def test_refuses_what_is_no_toml(tmp_path, content, match):
    (tmp_path / "a.toml").write_bytes(content)
    with pytest.raises(InputError, match=match):
        read_toml(tmp_path / "a.toml")


@pytest.mark.parametrize("path", ["/dev/zero", "/dev/null", "."])
def test_refuses_what_is_no_file(path):
    """A device would be read until the memory is full."""
    with pytest.raises(InputError, match="is not an ordinary file"):
        read_toml(Path(path))


def test_refuses_a_pipe_without_waiting_for_it(tmp_path):
    os.mkfifo(tmp_path / "a.toml")
    with pytest.raises(InputError, match="is not an ordinary file"):
        read_toml(tmp_path / "a.toml")


def test_missing(tmp_path):
    with pytest.raises(InputError, match=r"cannot be read .*see that it is there"):
        read_toml(tmp_path / "none.toml")


def test_says_what_to_write(tmp_path):
    (tmp_path / "a.toml").write_text("A.wav: Flute")
    with pytest.raises(InputError, match=r"write lines such as x$"):
        read_toml(tmp_path / "a.toml", hint="write lines such as x")
