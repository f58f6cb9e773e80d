"""A set as one file: passed on and taken in whole, or one sentence and nothing changed."""

import errno
import io
import json
import zipfile

import pytest
from typer.testing import CliRunner

from auditor.cli import app
from auditor.errors import InputError
from auditor.learning import learn as learning
from auditor.learning import listing
from auditor.learning.exchange import as_file, take_in
from auditor.learning.kit import kit_for_names
from auditor.learning.learn import learn
from auditor.learning.listing import read_list, write_kit
from auditor.timbre.library import open_library


@pytest.fixture(scope="module")
def learned(tmp_path_factory, make_score, play):
    """Folder of a small set."""
    import soundfile

    from auditor.learning.kit import kit_for_score
    from auditor.learning.listing import renders_of

    place = tmp_path_factory.mktemp("set")
    sheets = kit_for_score(make_score(("Flute", (67, 74), ())))
    write_kit(sheets, place / "kit")
    soundfile.write(place / "kit" / "kit-flute.wav", play(renders_of(sheets)[0]), 44_100)
    learn(place / "kit", "mine", place / "mine")
    return place / "mine"


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data" / "auditor" / "libraries"


def files_in(folder):
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir())}


def test_what_goes_out_comes_back_byte_for_byte(learned, tmp_path):
    file = tmp_path / "mine.auditor-library"
    file.write_bytes(as_file(learned))
    found = take_in(file, tmp_path / "theirs")
    assert files_in(tmp_path / "theirs") == files_in(learned)
    assert found.digest == open_library(learned).digest
    assert as_file(tmp_path / "theirs") == file.read_bytes()


def repacked(data, change):
    """The archive with its members changed: name to bytes."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = change({row.filename: archive.read(row) for row in archive.infolist()})
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def with_about(**words):
    def change(members):
        about = json.loads(members["library.json"]) | words
        return members | {"library.json": json.dumps(about).encode()}

    return change


DAMAGE = {
    "cut": (lambda d: d[: len(d) // 2], "is damaged or no library"),
    "a bit": (lambda d: d[:400] + bytes([d[400] ^ 1]) + d[401:], "is damaged or no library"),
    "empty": (lambda d: b"", "is damaged or no library"),
    "a sound": (lambda d: b"RIFF" + d[4:90], "is damaged or no library"),
    "more": (lambda d: repacked(d, lambda m: m | {"../evil": b"x"}), "is no library; give"),
    "less": (lambda d: repacked(d, lambda m: {"library.json": b"{}"}), "is no library; give"),
    "hash": (
        lambda d: repacked(d, with_about(templates_sha256="0" * 64)),
        "is not the file that library.json describes",
    ),
    "version": (
        lambda d: repacked(d, with_about(format=99)),
        "has the format 99, this version",
    ),
    "a list": (
        lambda d: repacked(d, lambda m: m | {"library.json": b"[]"}),
        "has the format None",
    ),
}


@pytest.mark.parametrize("kind", DAMAGE)
def test_damaged_files_are_refused_and_an_earlier_set_stays(learned, tmp_path, kind):
    change, match = DAMAGE[kind]
    file = tmp_path / "mine.auditor-library"
    file.write_bytes(change(as_file(learned)))
    place = tmp_path / "place"
    place.mkdir()
    (place / "library.json").write_text("earlier")
    with pytest.raises(InputError, match=match) as told:
        take_in(file, place)
    assert "\n" not in str(told.value)
    assert str(file) in str(told.value)
    assert files_in(place) == {"library.json": b"earlier"}
    assert {p.name for p in tmp_path.iterdir()} == {file.name, "place"}


def test_the_commands(learned, home, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run = CliRunner().invoke
    assert run(app, ["library", "export", str(learned)]).output.startswith(
        "mine.auditor-library"
    )
    back = run(app, ["library", "import", "mine.auditor-library"])
    assert back.exit_code == 0
    assert files_in(home / "mine") == files_in(learned)
    digest = open_library(learned).digest[:12]
    assert run(app, ["library", "list"]).output == f"mine\t{digest}\tflute\n"
    with pytest.raises(InputError, match="already holds a result"):
        run(app, ["library", "import", "mine.auditor-library"], catch_exceptions=False)
    with pytest.raises(InputError, match="is there already"):
        run(app, ["library", "export", "mine"], catch_exceptions=False)
    with pytest.raises(InputError, match="is no name for a library"):
        run(app, ["library", "import", "mine.auditor-library", "--name", "../up"],
            catch_exceptions=False)  # fmt: skip


# --- whole or nothing -----------------------------------------------------------------


def stopping(error, after):
    """A function that stops with an error when it is called for the n-th time."""
    calls = []

    def run(original, *given):
        calls.append(given)
        if len(calls) > after:
            raise error
        return original(*given)

    return run


STOPS = [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()]


@pytest.mark.parametrize("error", STOPS, ids=["full disk", "interrupted"])
def test_a_kit_that_cannot_be_finished_leaves_the_earlier_one(tmp_path, monkeypatch, error):
    write_kit(kit_for_names("oboe"), tmp_path / "kit")
    (tmp_path / "kit" / "kit-oboe.wav").write_bytes(b"a render of the user")
    before = files_in(tmp_path / "kit")
    stop = stopping(error, 2)
    original = listing.midi_of
    monkeypatch.setattr(listing, "midi_of", lambda *given: stop(original, *given))
    kind = InputError if isinstance(error, OSError) else KeyboardInterrupt
    with pytest.raises(kind):
        write_kit(kit_for_names("flute, horn, viola"), tmp_path / "kit")
    assert files_in(tmp_path / "kit") == before
    assert [p.name for p in tmp_path.iterdir()] == ["kit"]


def test_a_new_kit_takes_the_place_of_the_old_one_and_leaves_sounds(tmp_path):
    write_kit(kit_for_names("oboe"), tmp_path)
    (tmp_path / "kit-oboe.wav").write_bytes(b"a render of the user")
    write_kit(kit_for_names("flute"), tmp_path)
    assert [r.name for r in read_list(tmp_path)] == ["kit-flute"]
    assert set(files_in(tmp_path)) == {
        "kit.json", "kit.txt", "kit-flute.mid", "kit-flute.musicxml", "kit-oboe.wav",
    }  # fmt: skip


@pytest.mark.parametrize("error", STOPS, ids=["full disk", "interrupted"])
def test_a_set_that_cannot_be_finished_leaves_the_earlier_one(
    learned, tmp_path, monkeypatch, error
):
    place = tmp_path / "mine"
    file = tmp_path / "mine.auditor-library"
    file.write_bytes(as_file(learned))
    take_in(file, place)
    before = files_in(place)

    def half(folder, *_):
        (folder / "templates.npz").write_bytes(b"half")
        raise error

    monkeypatch.setattr(learning, "save_library", half)
    kind = InputError if isinstance(error, OSError) else KeyboardInterrupt
    with pytest.raises(kind):
        learn(learned.parent / "kit", "mine", place)
    assert files_in(place) == before
    assert {p.name for p in tmp_path.iterdir()} == {"mine", file.name}
