"""Scores kept in the cache: the same as read, found again, never trusted when damaged."""

import dataclasses
import os
import threading
import time
from pathlib import Path

import music21
import numpy as np
import pytest

from auditor.errors import ScoreError
from auditor.score import cache, reading
from auditor.score.notes import Note
from auditor.score.reading import open_score, read_score

CORPUS = Path(music21.__file__).parent / "corpus"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    path = tmp_path / "kept"
    monkeypatch.setenv(cache.VARIABLE, str(path))
    return path


@pytest.fixture
def page(xml):
    harp = xml.part(
        "Harp",
        xml.dynamic("p") + xml.words("dolce") + xml.note("Bb4", 2) + xml.note("C5", 2),
        xml.note("C5", 4, notations="<fermata/>"),
    )
    return xml.save(xml.score(harp, xml.part("Bass Drum", xml.note("C4", 4), "")))


def entries(folder):
    return sorted(folder.glob("*.npz"))


def counted(monkeypatch):
    """Count how often a page is really read."""
    calls = []
    original = reading._page
    monkeypatch.setattr(reading, "_page", lambda path: calls.append(path) or original(path))
    return calls


def test_what_comes_back_is_what_was_read(folder, page):
    fresh = open_score(page).score
    assert read_score(page) == fresh
    assert len(entries(folder)) == 1
    again = read_score(page)
    assert again == fresh
    for field in dataclasses.fields(Note):
        for one, two in zip(again.notes, fresh.notes, strict=True):
            assert type(getattr(one, field.name)) is type(getattr(two, field.name))


def test_a_real_score_comes_back_the_same(folder):
    path = CORPUS / "mozart/k458/movement3.mxl"
    assert read_score(path) == read_score(path) == open_score(path).score


def test_the_second_time_nothing_is_read(folder, page, monkeypatch):
    calls = counted(monkeypatch)
    read_score(page)
    read_score(page)
    assert len(calls) == 1


def test_other_bytes_and_other_settings_are_read_anew(folder, page, monkeypatch):
    calls = counted(monkeypatch)
    read_score(page)
    (page.parent / "score.toml").write_text("[parts.1]\nplayers = 2\n")
    assert read_score(page).parts[0].players == 2
    page.write_text(page.read_text().replace("Study", "Etude"))
    assert read_score(page).title == "Etude"
    assert len(calls) == 3


def test_other_sources_are_another_name(folder, page, monkeypatch):
    read_score(page)
    monkeypatch.setattr(cache, "version", lambda: "another")
    read_score(page)
    assert len(entries(folder)) == 2


@pytest.mark.parametrize("damage", ["cut", "empty", "noise", "objects", "lengths"])
def test_a_damaged_entry_is_made_anew(folder, page, damage):
    fresh = read_score(page)
    (entry,) = entries(folder)
    data = entry.read_bytes()
    if damage == "objects":
        np.savez(entry, head=np.array([{}], dtype=object))
    elif damage == "lengths":
        with np.load(entry) as arrays:
            kept = dict(arrays)
        np.savez(entry, **{**kept, "pitch": kept["pitch"][:-1]})
    else:
        entry.write_bytes({"cut": data[:-200], "empty": b"", "noise": os.urandom(500)}[damage])
    assert read_score(page) == fresh
    assert entry.read_bytes() == data or cache._load(entry) == fresh


def test_it_never_grows_beyond_its_number(folder, page, xml, monkeypatch):
    monkeypatch.setattr(cache, "MOST_ENTRIES", 3)
    for number in range(6):
        path = xml.save(xml.score(xml.part("Flute", xml.note("C5", 4)), title=f"No. {number}"))
        read_score(path)
        for age, entry in enumerate(entries(folder)):
            os.utime(entry, (1e9 + age, 1e9 + age))
    assert len(entries(folder)) == 3


def test_leavings_of_broken_runs_are_removed(folder, page):
    folder.mkdir()
    old, young = folder / ".a.part", folder / ".b.part"
    old.touch()
    young.touch()
    os.utime(old, (1e9, 1e9))
    read_score(page)
    assert not old.exists()
    assert young.exists()


def test_several_at_once(folder, page):
    fresh = open_score(page).score
    found = []
    threads = [
        threading.Thread(target=lambda: found.append(read_score(page))) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [fresh] * 8
    assert len(entries(folder)) == 1
    assert not list(folder.glob("*.part"))


def test_a_folder_that_cannot_be_written_is_no_matter(page, tmp_path, monkeypatch):
    blocked = tmp_path / "file"
    blocked.touch()
    monkeypatch.setenv(cache.VARIABLE, str(blocked / "below"))
    assert read_score(page) == open_score(page).score


def test_errors_are_not_kept(folder, xml):
    path = xml.save("not a score")
    for _ in range(2):
        with pytest.raises(ScoreError):
            read_score(path)
    assert not folder.exists()


@pytest.mark.parametrize(
    ("environment", "expected"),
    [
        # XDG Base Directory Specification 0.8: $XDG_CACHE_HOME, default $HOME/.cache, and
        # relative paths are to be ignored.
        ({}, Path.home() / ".cache/auditor/scores"),
        ({"XDG_CACHE_HOME": "/var/c"}, Path("/var/c/auditor/scores")),
        ({"XDG_CACHE_HOME": "c"}, Path.home() / ".cache/auditor/scores"),
        ({"AUDITOR_CACHE": "/k", "XDG_CACHE_HOME": "/var/c"}, Path("/k")),
        ({"AUDITOR_CACHE": "off"}, None),
        ({"AUDITOR_CACHE": ""}, None),
    ],
)
def test_where_it_lies(environment, expected):
    assert cache.folder_of(environment) == expected


def test_a_kept_full_score_opens_in_a_fraction(folder, xml):
    # Demanded for 40 staves and 200 bars: 6 s uncached, 0.1 s cached; as a share of the
    # same run, so that a busy machine does not decide.
    bar = "".join(xml.note(p, 1) for p in ("C5", "E5", "G5", "C6"))
    path = xml.save(xml.score(*[xml.part(f"Violin {n}", *[bar] * 100) for n in range(1, 21)]))
    start = time.process_time()
    read_score(path)
    uncached = time.process_time() - start
    times = []
    for _ in range(3):
        start = time.process_time()
        read_score(path)
        times.append(time.process_time() - start)
    assert min(times) < uncached / 4
