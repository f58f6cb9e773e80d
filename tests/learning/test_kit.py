"""The kit: read back by another library, complete, short, and easy to tell apart."""

import json
from itertools import pairwise

import music21
import pytest
from typer.testing import CliRunner

from auditor.cli import app
from auditor.errors import InputError
from auditor.learning.kit import DYNAMICS, kit_for_names, kit_for_score, seconds
from auditor.learning.listing import read_list, write_kit
from auditor.learning.midi import midi_of
from auditor.learning.page import musicxml_of
from auditor.score.instruments import entry, table
from auditor.score.reading import read_score

PITCHED = [e for e in table() if e.instrument.pitched]
EVERY = kit_for_names(", ".join(e.names[0] for e in table() if e.instrument.key != "unknown"))


def test_every_instrument_renders_in_under_two_minutes():
    assert len(EVERY) > 60
    assert max(sheet.seconds for sheet in EVERY) < 120


@pytest.mark.parametrize("sheet", EVERY[::4], ids=lambda s: s.name)
def test_every_register_at_three_dynamics(sheet):
    """No gap is wider than a sixth, so a register of an octave has a note in it."""
    long = [n for n in sheet.notes if n.way != "short"]
    assert {n.dynamic for n in long} == set(DYNAMICS)
    pitches = sorted({n.pitch for n in long})
    assert {(n.pitch, n.dynamic) for n in long} == {(p, d) for p in pitches for d in DYNAMICS}
    if sheet.instrument.pitched:
        gaps = [b - a for a, b in pairwise(pitches)]
        assert max(gaps) <= 9
        assert pitches[0] == sheet.instrument.low
        assert pitches[-1] == sheet.instrument.high


def test_ways_of_playing():
    ways = {s.name: {n.way for n in s.notes} for s in kit_for_names("violin, harp, Becken")}
    assert ways == {
        "kit-violin": {"held", "short"},
        "kit-violin-pizz": {"plucked"},
        "kit-harp": {"plucked"},
        "kit-cymbals": {"struck"},
    }


def test_names_in_four_languages():
    keys = [s.key for s in kit_for_names("Flöte, corno inglese, hautbois, solo violin, Pauken")]
    assert keys == ["flute", "english-horn", "oboe", "violin-solo", "timpani"]


@pytest.mark.parametrize("names", ["flute, blurb", ",", "zzz"])
def test_names_that_are_not_known(names):
    with pytest.raises(InputError, match="no instrument"):
        kit_for_names(names)


SOME = kit_for_names("flute, violin, contrabass, cymbals, xylophone, bass trombone, harp")


@pytest.mark.parametrize("sheet", SOME, ids=lambda s: s.name)
def test_music21_reads_the_page_back(sheet, tmp_path):
    path = tmp_path / "a.musicxml"
    path.write_text(musicxml_of(sheet), encoding="utf-8")
    page = music21.converter.parse(path)
    read = [
        (
            n.getOffsetInHierarchy(page),
            0 if isinstance(n, music21.note.Unpitched) else n.pitch.midi,
        )
        for n in page.recurse().notes
    ]
    assert read == [(n.onset, n.pitch) for n in sheet.notes]
    marks = [d.value for d in page.recurse().getElementsByClass(music21.dynamics.Dynamic)]
    assert marks[:3] == ["p", "mf", "ff"]
    (tempo,) = page.recurse().getElementsByClass(music21.tempo.MetronomeMark)
    assert tempo.number * seconds(1.0) == 60.0


def test_accidentals_are_printed_once_in_a_bar(tmp_path):
    """As engraving has it (MusicXML 4.0: `alter` sounds, `accidental` is what is printed)."""
    (sheet,) = kit_for_names("clarinet")
    path = tmp_path / "a.musicxml"
    path.write_text(musicxml_of(sheet), encoding="utf-8")
    shown: list[tuple[int, int]] = []
    sharps = set()
    for note in music21.converter.parse(path).recurse().notes:
        if note.pitch.accidental is None:
            continue
        sharps.add((note.measureNumber, note.pitch.midi))
        if note.pitch.accidental.displayStatus:
            shown.append((note.measureNumber, note.pitch.midi))
    assert sharps
    assert sorted(shown) == sorted(sharps)


@pytest.mark.parametrize("sheet", SOME, ids=lambda s: s.name)
def test_music21_reads_the_midi_file_back(sheet):
    file = music21.midi.MidiFile()
    file.readstr(midi_of(sheet))
    starts = [e for e in file.tracks[0].events if e.isNoteOn() and e.velocity]
    assert [e.velocity for e in starts][:1] == [49]
    wanted = [n.pitch or sheet.drum for n in sheet.notes]
    assert [e.pitch for e in starts] == wanted
    assert file.ticksPerQuarterNote == 480
    channel = 10 if sheet.drum is not None else 1
    assert {e.channel for e in starts} == {channel}


# General MIDI level 1 (1991), table 2, programs 1 to 128, and table 3, percussion keys.
GM = {"flute": 74, "oboe": 69, "english-horn": 70, "clarinet": 72, "bassoon": 71, "horn": 61,
      "trumpet": 57, "trombone": 58, "tuba": 59, "timpani": 48, "harp": 47, "violin-solo": 41,
      "violin": 49, "violin+pizz": 46, "xylophone": 14, "celesta": 9}  # fmt: skip
GM_KEYS = {"snare-drum": 38, "bass-drum": 36, "cymbals": 49, "triangle": 81, "tambourine": 54,
           "castanets": 85, "cowbell": 56, "claves": 75}  # fmt: skip


def test_programs_and_keys_are_those_of_general_midi():
    named = kit_for_names("solo violin, " + ", ".join(k.replace("-", " ") for k in GM
                          if k not in ("violin-solo", "violin+pizz")))  # fmt: skip
    programs = {s.key: s.program for s in named}
    assert {k: programs[k] for k in GM} == GM
    drums = kit_for_names(", ".join(k.replace("-", " ") for k in GM_KEYS))
    assert {s.key: s.drum for s in drums} == GM_KEYS


# MusicXML 4.0, sounds.xml: identifiers of the standard's own list.
@pytest.mark.parametrize(
    ("name", "sound"),
    [
        ("flute", "wind.flutes.flute"),
        ("english horn", "wind.reed.english-horn"),
        ("horn", "brass.french-horn"),
        ("viola", "strings.viola"),
        ("timpani", "drum.timpani"),
        ("tam-tam", "metal.tamtam"),
        ("harp", "pluck.harp"),
    ],
)
def test_sound_identifiers_are_those_of_musicxml(name, sound):
    page = musicxml_of(kit_for_names(name)[0])
    assert f"<instrument-sound>{sound}</instrument-sound>" in page


def test_a_controller_carries_the_dynamics_if_asked_for():
    (sheet,) = kit_for_names("flute")
    file = music21.midi.MidiFile()
    file.readstr(midi_of(sheet, 1))
    kind = music21.midi.ChannelVoiceMessages.CONTROLLER_CHANGE
    changes = [e for e in file.tracks[0].events if e.type == kind]
    assert [e.parameter2 for e in changes][:3] == [49, 80, 112]


def test_a_score_asks_for_what_it_uses(make_score):
    score = make_score(
        ("Violin I", (60, 72), ("pizz",)), ("Flute", (70, 76), ()), ("Cymbals", (60,), ())
    )
    sheets = {s.key: s for s in kit_for_score(score)}
    assert set(sheets) == {"violin+pizz", "flute", "cymbals"}
    assert {min(n.pitch for n in sheets["flute"].notes)} == {70}
    assert {max(n.pitch for n in sheets["flute"].notes)} == {76}


def test_a_score_of_strangers_is_refused(make_score):
    with pytest.raises(InputError, match="no part of the score is of a known instrument"):
        kit_for_score(make_score(("Blurb", (60,), ())))


def test_the_list_says_what_is_where(tmp_path):
    sheets = kit_for_names("piano")
    write_kit(sheets, tmp_path)
    (render,) = read_list(tmp_path)
    first = render.notes[0]
    # A bar of three quarters at 80: 2.25 s; the first bar is empty.
    assert (first.start_s, first.end_s, first.bar) == (2.25, 3.75, 2)
    assert first.name == "bar 2, A0 p"
    text = (tmp_path / "kit.txt").read_text(encoding="utf-8")
    assert "bar   2     2.25 s to    3.75 s  A0     p   struck" in text


@pytest.mark.parametrize("damage", ["{", '{"format": 9, "files": []}', '{"format": 1}'])
def test_a_list_that_is_none(tmp_path, damage):
    (tmp_path / "kit.json").write_text(damage)
    with pytest.raises(InputError, match="is not a list of a kit"):
        read_list(tmp_path)


def test_lists_with_notes_that_cannot_be_are_refused(tmp_path):
    write_kit(kit_for_names("flute"), tmp_path)
    record = json.loads((tmp_path / "kit.json").read_text())
    record["files"][0]["notes"][0][0] = 1e9
    (tmp_path / "kit.json").write_text(json.dumps(record))
    with pytest.raises(InputError, match="notes that cannot be"):
        read_list(tmp_path)


def test_the_command(tmp_path):
    run = CliRunner().invoke(app, ["kit", "--instruments", "oboe, Becken", "-o", str(tmp_path)])
    assert run.exit_code == 0
    assert {p.suffix for p in tmp_path.iterdir()} == {".musicxml", ".mid", ".json", ".txt"}
    assert read_score(tmp_path / "kit-oboe.musicxml").parts[0].instrument.key == "oboe"
    assert entry("oboe").instrument.low == min(n.pitch for n in read_list(tmp_path)[0].notes)
