"""Scores in other formats: MIDI, Humdrum, ABC and MEI."""

import io
import os
import warnings
from collections import Counter
from pathlib import Path

import mido
import pytest

from auditor.case import SCORE_SUFFIXES
from auditor.errors import ScoreError
from auditor.report.engraving import Marks, engrave
from auditor.score import formats
from auditor.score.engraved import stamped_excerpt
from auditor.score.reading import open_score, read_score


def table(score, part=1):
    return [(n.onset, n.duration, n.pitch) for n in score.notes if n.part == part]


def midi(path, *tracks, ticks=480, kind=1):
    """Write a MIDI file with mido, a writer of its own."""
    file = mido.MidiFile(ticks_per_beat=ticks, type=kind)
    for messages in tracks:
        track = mido.MidiTrack()
        track.extend(messages)
        file.tracks.append(track)
    buffer = io.BytesIO()
    file.save(file=buffer)
    path.write_bytes(buffer.getvalue())
    return path


def key(pitch, quarters, *, channel=0, velocity=80, gate=1.0, ticks=480, wait=0):
    """Hold a key for a share of its time."""
    length = round(quarters * ticks)
    held = round(length * gate)
    return [
        mido.Message("note_on", note=pitch, velocity=velocity, channel=channel, time=wait),
        mido.Message("note_off", note=pitch, channel=channel, time=held),
        mido.MetaMessage("text", text="", time=length - held),
    ]


def head(name="", program=None, channel=0):
    found = [mido.MetaMessage("track_name", name=name)] if name else []
    if program is not None:
        found.append(mido.Message("program_change", program=program, channel=channel))
    return found


@pytest.fixture
def tune(tmp_path):
    """Two parts in three-four time, with a change of tempo in the third bar."""
    conductor = [
        mido.MetaMessage("track_name", name="Study"),
        mido.MetaMessage("time_signature", numerator=3, denominator=4),
        mido.MetaMessage("key_signature", key="Eb"),
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(90)),
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(60), time=6 * 480),
    ]
    oboe = [*head("Oboe", 68), *key(70, 1), *key(72, 5), *key(75, 3)]
    cello = [
        *head("Violoncello", 42, 1),
        *[m for _ in range(9) for m in key(48, 1, channel=1, gate=0.9)],
    ]
    return midi(tmp_path / "tune.mid", conductor, oboe, cello)


def test_midi_notes_bars_and_names(tune):
    score = read_score(tune)
    assert score.title == "Study"
    assert [(p.name, p.instrument.key) for p in score.parts] == [
        ("Oboe", "oboe"),
        ("Violoncello", "cello"),
    ]
    assert table(score) == [(0, 1, 70), (1, 5, 72), (6, 3, 75)]
    # Keys let go a tenth early are full crotchets.
    assert table(score, 2)[:8] == [(k, 1, 48) for k in range(8)]
    assert [b.duration for b in score.bars] == [3, 3, 3]


def test_midi_tempo_map(tune):
    assert [b.tempo for b in read_score(tune).bars] == pytest.approx([90, 90, 60], abs=1e-3)


def test_midi_spelling_follows_the_key(tune):
    assert [n.spelling for n in read_score(tune).notes if n.part == 1] == ["B-4", "C5", "E-5"]


def test_midi_says_what_it_does_not_say(tune):
    remarks = " ".join(read_score(tune).remarks)
    assert "articulations" in remarks
    assert "same velocity" in remarks


def test_midi_velocities_are_dynamics(tmp_path):
    # 49 for p and 96 for f: what notation programs write (common practice, no source).
    keys = [*key(60, 4, velocity=49), *key(62, 4, velocity=96), *key(64, 4, velocity=97)]
    score = read_score(midi(tmp_path / "v.mid", [*head("Flute", 73), *keys]))
    assert [(n.dynamic, n.dynamic_written) for n in score.notes] == [
        (1, True), (4, True), (4, True),
    ]  # fmt: skip


def test_midi_program_where_no_name_is(tmp_path):
    # General MIDI Level 1: program 57 (56 counted from 0) is the trumpet.
    score = read_score(midi(tmp_path / "p.mid", [*head(program=56), *key(60, 4)]))
    assert score.parts[0].instrument.key == "trumpet"


def test_midi_channels_of_one_track_are_parts(tmp_path):
    track = [*head(program=73), *head(program=71, channel=1)]
    track += [*key(72, 4), *key(60, 4, channel=1)]
    score = read_score(midi(tmp_path / "zero.mid", track, kind=0))
    assert [p.instrument.key for p in score.parts] == ["flute", "clarinet"]


def test_midi_drums_have_no_pitch_and_know_their_piece(tmp_path):
    # General MIDI percussion map: 36 bass drum, 38 snare drum, on channel 10.
    track = [*key(36, 1, channel=9), *key(38, 1, channel=9)]
    notes = read_score(midi(tmp_path / "d.mid", track)).notes
    assert [(n.unpitched, n.pitch, n.techniques) for n in notes] == [
        (True, 0, ("on-bass-drum",)),
        (True, 0, ("on-snare-drum",)),
    ]


def test_midi_chords_and_held_voices(tmp_path):
    track = [
        *head(program=0),
        mido.Message("note_on", note=48, velocity=80),
        *key(60, 1),
        *key(62, 1),
        mido.Message("note_off", note=48),
    ]
    assert sorted(table(read_score(midi(tmp_path / "c.mid", track)))) == [
        (0, 1, 60), (0, 2, 48), (1, 1, 62),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (b"RIFFxxxx", "does not begin with MThd"),
        (b"MThd\0\0\0\6\0\1\0\1\xe7\x28", "video frames"),
        (b"MThd\0\0\0\6\0\1\0\1\1\xe0MTrk\0\0\0\4\0\xff\x2f\0", "no notes"),
        (b"MThd\0\0\0\6\0\1\0\1\1\xe0MTrk\0\0\0\3\0\x90\x3c", "cut off"),
    ],
)
def test_midi_that_cannot_be_used(tmp_path, data, match):
    path = tmp_path / "bad.mid"
    path.write_bytes(data)
    with pytest.raises(ScoreError, match=match):
        read_score(path)


def test_a_midi_of_endless_bars_is_refused(tmp_path):
    track = [*head(program=0), *key(60, 1, wait=0xFFFFFF, ticks=1)]
    with pytest.raises(ScoreError, match="longer than 5000 bars"):
        read_score(midi(tmp_path / "long.mid", track, ticks=1))


def test_a_midi_note_without_length_has_a_bar(tmp_path):
    (note,) = read_score(midi(tmp_path / "dot.mid", key(60, 0))).notes
    assert (note.pitch, note.bar, note.onset) == (60, 0, 0.0)


# The spine syntax is that of the Humdrum Toolkit's kern guide.
KERN = (
    "**kern\t**kern\n*Icello\t*Ioboe\n*M3/4\t*M3/4\n=1\t=1\n2.C\t4.b-\n.\t8cc\n.\t4dd\n"
    "=2\t=2\n2.D\t[2.ee-\n=3\t=3\n2.E\t2.ee-]\n==\t==\n*-\t*-\n"
)


def test_humdrum(tmp_path):
    path = tmp_path / "s.krn"
    path.write_text(KERN)
    score = read_score(path)
    pitches = sorted((n.onset, n.duration, n.pitch) for n in score.notes)
    # Humdrum: C is the C below middle C, cc the one above it; a dot lengthens by half.
    assert pitches == [
        (0, 1.5, 70), (0, 3, 48), (1.5, 0.5, 72), (2, 1, 74), (3, 3, 50), (3, 6, 75),
        (6, 3, 52),
    ]  # fmt: skip
    assert any("Humdrum" in remark for remark in score.remarks)


def test_abc(tmp_path):
    # ABC standard 2.1: with L:1/8 a letter is a quaver; c is the C above middle C; F sharp in
    # D major; "B2" twice as long.
    path = tmp_path / "s.abc"
    path.write_text("X:1\nT:Air\nM:3/4\nL:1/8\nK:D\ndfB2A2|d6|]\n")
    score = read_score(path)
    assert table(score) == [(0, 0.5, 74), (0.5, 0.5, 78), (1, 1, 71), (2, 1, 69), (3, 3, 74)]
    assert score.title == "Air"


def test_only_the_first_of_several_pieces_is_read(tmp_path):
    path = tmp_path / "s.abc"
    piece = "X:{0}\nT:No. {0}\nM:2/4\nL:1/4\nK:C\nCD|EF|]\n\n"
    path.write_text(piece.format(1) + piece.format(2))
    score = read_score(path)
    assert len(score.notes) == 4
    assert any("holds 2 pieces" in remark for remark in score.remarks)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("s.abc", "X:1\nM:6/8\nL:1/8\nK:G\n|:G3332A:|\n"),
        ("s.abc", "X:1\nM:6/88888\nL:1/8\nK:G\n|:G2A:|\n"),
        ("s.krn", KERN.replace("4dd", "84444dd")),
    ],
)
def test_lengths_that_no_note_has_are_refused_at_once(tmp_path, name, text):
    path = tmp_path / name
    path.write_text(text)
    with pytest.raises(ScoreError, match=r"line \d+ that no note has"):
        read_score(path)


def test_large_numbers_elsewhere_are_fine(tmp_path):
    path = tmp_path / "s.abc"
    path.write_text("X:1850\nT:No. 12345\n% 99999\nM:2/4\nL:1/4\nK:C\nCD|\n")
    assert len(read_score(path).notes) == 2


def test_what_keeps_the_library_busy_is_ended(tmp_path, monkeypatch):
    monkeypatch.setattr(formats, "_LEAST_SECONDS", 1)
    path = tmp_path / "s.abc"
    # Found by mutation: 66 lengths of 666 in one bar are counted out one by one.
    path.write_text("X:1\nM:C|\nL:1/8\nK:D\n" + "D2A666G999d2|" * 30 + "|]\n")
    with pytest.raises(ScoreError, match="busy beyond the 2 s") as caught:
        read_score(path)
    assert caught.value.exit_code == 3
    assert "\n" not in str(caught.value)


MEI = """<?xml version="1.0" encoding="UTF-8"?>
<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>
<scoreDef meter.count="2" meter.unit="4"><staffGrp>
<staffDef n="1" lines="5" clef.shape="G" clef.line="2" label="Oboe"/></staffGrp></scoreDef>
<section><measure n="1"><staff n="1"><layer n="1">
<note pname="c" oct="5" dur="4"/><note pname="d" oct="5" dur="4" accid="f"/>
</layer></staff></measure></section></score></mdiv></body></music></mei>
"""


def test_mei(tmp_path):
    path = tmp_path / "s.mei"
    path.write_text(MEI)
    score = read_score(path)
    assert table(score) == [(0, 1, 72), (1, 1, 73)]
    assert score.parts[0].name == "Oboe"


# Elements and attributes of MEI 5: tstamp counts beats of the metre from 1, tstamp2 gives the
# bars from here and the beat there, startid and endid name notes.
MEI_MARKS = """
<dynam staff="1" tstamp="1">p</dynam>
<hairpin staff="1" tstamp="1" tstamp2="1m+1" form="cres"/><dir staff="1" tstamp="2">pizz.</dir>
<tempo tstamp="1" staff="1" mm="48" mm.unit="2">Allegro</tempo><reh staff="1" tstamp="1">A</reh>
<fermata startid="#d"/><trill startid="#c"/></measure>
<measure n="2"><staff n="1"><layer n="1"><note pname="e" oct="5" dur="2"/></layer></staff>
<dynam staff="1" tstamp="1">f</dynam>
"""


def test_mei_marks_that_the_library_passes_over(tmp_path):
    text = MEI.replace("</measure>", MEI_MARKS + "</measure>")
    text = text.replace('<note pname="c"', '<note xml:id="c" pname="c"')
    path = tmp_path / "s.mei"
    path.write_text(text.replace('<note pname="d"', '<note xml:id="d" pname="d"'))
    score = read_score(path)
    found = [(n.onset, n.dynamic, n.techniques) for n in score.notes]
    assert found == [
        (0, 1, ("trill",)), (1, pytest.approx(2.5, abs=0.01), ("fermata", "pizz")),
        (2, 4, ("pizz",)),
    ]  # fmt: skip
    assert [b.tempo for b in score.bars] == [96, 96]
    assert [d.text for d in score.directions if d.kind in ("rehearsal", "tempo")] == [
        "A", "Allegro",
    ]  # fmt: skip


def test_mei_octave_lines_are_owned_up_to(tmp_path):
    path = tmp_path / "s.mei"
    line = '<octave staff="1" tstamp="1" tstamp2="0m+2" dis="8" dis.place="above"/></measure>'
    path.write_text(MEI.replace("</measure>", line))
    assert any("1 octave lines" in remark for remark in read_score(path).remarks)


# Humdrum Toolkit, **dynam: "<" and ">" begin hairpins, "[" and "]" end them.
KERN_MARKS = (
    "**kern\t**dynam\t**kern\t**dynam\n*Icello\t*\t*Ioboe\t*\n*M3/4\t*M3/4\t*M3/4\t*M3/4\n"
    "!LO:TX:a:t=pizz.\t!\t!\t!\n=1\t=1\t=1\t=1\n2.C\tp\t4.b-\t<\n.\t.\t8cc\t.\n"
    ".\t.\t4dd\t[\n=2\t=2\t=2\t=2\n*\t*\t*^\t*\n2.D\tff\t2.ee-\t2.g\tmf\n"
    "*\t*\t*v\t*v\t*\n==\t==\t==\t==\n*-\t*-\t*-\t*-\n"
)


def test_humdrum_dynamics_and_words(tmp_path):
    path = tmp_path / "s.krn"
    path.write_text(KERN_MARKS)
    score = read_score(path)
    cello = next(p.number for p in score.parts if p.instrument.key == "cello")
    own = [n for n in score.notes if n.part == cello]
    assert [(n.onset, n.dynamic, n.techniques) for n in own] == [
        (0, 1, ("pizz",)), (3, 5, ("pizz",)),
    ]  # fmt: skip
    (hairpin,) = (d for d in score.directions if d.kind == "hairpin")
    assert (hairpin.part != cello, hairpin.onset, hairpin.end) == (True, 0, 2)
    assert {n.dynamic for n in score.notes if n.part != cello and n.onset == 3} == {3}


def test_abc_voices_have_their_names(tmp_path):
    # ABC standard 2.1, 7.1: V:1 name="..." and nm=
    path = tmp_path / "s.abc"
    voices = 'V:1 name="Oboe"\ncdef|]\nV:2 nm="Bassoon" clef=bass\nC,D,E,F,|]\n'
    path.write_text("X:1\nM:4/4\nL:1/4\nK:C\n" + voices)
    assert [p.instrument.key for p in read_score(path).parts] == ["oboe", "bassoon"]


@pytest.mark.parametrize(
    ("name", "text", "unsaid"),
    [
        ("s.mei", MEI, "tremolos, pedals, jumps and octave lines"),
        ("s.krn", KERN, "other words, jumps and transpositions"),
        ("s.abc", "X:1\nM:2/4\nL:1/4\nK:C\nCD|\n", "dynamics, fermatas, trills, words"),
    ],
)
def test_what_a_format_does_not_say_is_told(tmp_path, name, text, unsaid):
    path = tmp_path / name
    path.write_text(text)
    assert any(unsaid in remark for remark in read_score(path).remarks)


@pytest.mark.parametrize("suffix", [".krn", ".abc", ".mei", ".mid"])
@pytest.mark.parametrize("content", [b"", b"\0\1\2\3" * 40, b"hello, this is no music\n"])
def test_what_is_no_music_is_refused_in_a_sentence(tmp_path, suffix, content):
    path = tmp_path / f"s{suffix}"
    path.write_bytes(content)
    with pytest.raises(ScoreError) as caught:
        read_score(path)
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)


def test_humdrum_beside_partituras_reading(tmp_path):
    path = tmp_path / "s.krn"
    path.write_text(KERN)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import partitura

        parts = partitura.load_score(str(path)).parts
        theirs = Counter(int(p) for part in parts for p in part.note_array()["pitch"])
    assert Counter(n.pitch for n in read_score(path).notes) == theirs


@pytest.mark.parametrize("name", ["tune.mid", "s.krn", "s.abc"])
def test_every_format_is_engraved(tune, tmp_path, name):
    (tmp_path / "s.krn").write_text(KERN)
    (tmp_path / "s.abc").write_text("X:1\nM:3/4\nL:1/4\nK:D\ndfa|A3|]\n")
    page = open_score(tmp_path / name)
    text = stamped_excerpt(page, list(page.bodies), 0, 1)
    shown = {n.element for n in page.score.notes if n.bar < 2}
    svg = engrave(text, Marks(shown), prefix="a-", sentence="Two bars.")
    assert all(f'id="a-{element}"' in svg for element in shown)


def test_pipes_and_devices_are_refused_at_once(tmp_path):
    pipe = tmp_path / "pipe.musicxml"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero"), Path("/dev/null")):
        with pytest.raises(ScoreError, match="not an ordinary file"):
            read_score(path)


def test_case_folders_know_the_same_suffixes():
    for suffix in (".musicxml", ".mxl", ".xml", ".mid", ".midi", ".mei", ".krn", ".abc"):
        assert suffix in SCORE_SUFFIXES
