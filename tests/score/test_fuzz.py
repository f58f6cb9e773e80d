"""Whatever is done to a score file, only this package's own errors come out of reading it.

The long form is `tests/bench/reading_fuzz.py`; here it is short and the same each time.
"""

import io
import random
import warnings
from pathlib import Path
from xml.etree import ElementTree

import mido
import music21
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from auditor.errors import AuditError
from auditor.score import passed_over, sheet
from auditor.score.engraved import stamped_excerpt
from auditor.score.reading import open_score

SUITE = Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite"
SEEDS = [
    "23a-Tuplets.xml",
    "24a-GraceNotes.xml",
    "31a-Directions.xml",
    "31c-MetronomeMarks.xml",
    "32ab-Notations3.xml",
    "33a-Spanners.xml",
    "33c-Spanners-Slurs.xml",
    "41c-StaffGroups.xml",
    "42b-MultiVoice-MidMeasureClefChange.xml",
    "43e-Multistaff-ClefDynamics.xml",
    "45b-RepeatWithAlternatives.xml",
    "46d-PickupMeasure-ImplicitMeasures.xml",
    "72b-TransposingInstruments-Full.xml",
    "73a-Percussion.xml",
]
ODD = [
    "", " ", "0", "-1", "1", "2", "-999999999", "1e308", "-1e308", "nan", "inf", "1/0", "½",
    "٣", "99999999999999999999", "0.3333333", "yes", "no", "start", "stop", "continue",
    "backward", "forward", "C", "H", "G-1", "D.C. al Fine", "To Coda", "Dal Segno al Coda",
    "Fine", "cresc.", "con sord.", "div. a 3", "1-9999999", "1,2,3", "eighth", "whole",
    "\u202eabc", "x" * 3000,
]  # fmt: skip
ABC = "X:1\nT:Air\nM:6/8\nL:1/8\nQ:1/4=100\nK:Gm\n|:G>A B2 (3cde|{f}g2 z f-f2:|[1 A6:|[2 B6|]\n"


def mutated_xml(text, rng):
    """The text with some elements deleted, doubled, moved, renamed or filled with oddities."""
    root = ElementTree.fromstring(text)
    for _ in range(rng.randint(1, 8)):
        parents = {child: parent for parent in root.iter() for child in parent}
        if not parents:
            break
        one, other = rng.choice(list(parents)), rng.choice(list(parents))
        way = rng.randrange(8)
        if way == 0:
            parents[one].remove(one)
        elif way == 1:
            parents[one].insert(rng.randrange(len(parents[one]) + 1), one)
        elif way == 2 and other not in one.iter():
            parents[one].remove(one)
            other.append(one)
        elif way == 3:
            one.tag = other.tag
        elif way in (4, 5):
            one.text = rng.choice(ODD)
        elif way == 6 and one.attrib:
            one.set(rng.choice(list(one.attrib)), rng.choice(ODD))
        elif way == 7:
            one[:] = rng.sample(list(one), len(one))
    return ElementTree.tostring(root, encoding="utf-8")


def mutated_text(text, rng, letters):
    pieces = list(text)
    for _ in range(rng.randint(1, 6)):
        at = rng.randrange(len(pieces))
        way = rng.randrange(3)
        if way == 0:
            del pieces[at : at + rng.randint(1, 4)]
        elif way == 1:
            pieces.insert(at, rng.choice(letters) * rng.choice((1, 1, 3)))
        else:
            pieces[at] = rng.choice(letters)
        pieces = pieces or [" "]
    return "".join(pieces).encode("utf-8")


def midi(rng):
    """A MIDI file of random but legal messages, then some bytes changed."""
    file = mido.MidiFile(ticks_per_beat=rng.choice((1, 24, 480, 32767)))
    for _ in range(rng.randint(1, 3)):
        track = mido.MidiTrack()
        file.tracks.append(track)
        for _ in range(rng.randint(0, 12)):
            time = rng.choice((0, 1, 120, 480, 0xFFFFFF))
            track.append(
                rng.choice(
                    (
                        mido.Message(
                            "note_on", note=60, velocity=rng.randrange(128), time=time
                        ),
                        mido.Message(
                            "note_off", note=60, channel=rng.choice((0, 9)), time=time
                        ),
                        mido.Message("note_on", note=36, channel=9, time=time),
                        mido.Message("program_change", program=40, time=time),
                        mido.MetaMessage(
                            "time_signature", numerator=rng.randint(1, 9), time=time
                        ),
                        mido.MetaMessage("set_tempo", tempo=rng.choice((1, 500000)), time=time),
                        mido.MetaMessage("track_name", name="Oboe", time=time),
                    )
                )
            )
    buffer = io.BytesIO()
    file.save(file=buffer)
    data = bytearray(buffer.getvalue())
    for _ in range(rng.choice((0, 0, 1, 4))):
        data[rng.randrange(len(data))] = rng.randrange(256)
    return bytes(data[: rng.choice((len(data), len(data), rng.randrange(1, len(data) + 1)))])


def read(path):
    """Read and engrave; tell whether it could be read."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        message = ""
        try:
            page = open_score(path)
        except AuditError as error:
            message = str(error)
        if message:
            assert "\n" not in message
            assert len(message) < 900
            return False
        numbers = list(page.bodies)[:3]
        stamped_excerpt(page, numbers, 0, min(2, page.score.written_bars - 1))
        for note in page.score.notes:
            assert 0 <= note.pitch <= 127
            assert page.score.bars[note.bar].onset <= note.onset + 1e-6
        return True


@pytest.fixture(scope="module")
def where(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz")


@pytest.fixture(scope="module")
def seeds():
    return [(SUITE / name).read_text(encoding="utf-8") for name in SEEDS]


FEW = settings(
    max_examples=80,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@FEW
@given(st.integers(0, 2**32))
def test_broken_musicxml(where, seeds, seed):
    rng = random.Random(seed)
    path = where / "score.musicxml"
    path.write_bytes(mutated_xml(rng.choice(seeds), rng))
    read(path)


@FEW
@given(st.integers(0, 2**32))
def test_broken_midi(where, seed):
    path = where / "score.mid"
    path.write_bytes(midi(random.Random(seed)))
    read(path)


@settings(FEW, max_examples=15)
@given(st.integers(0, 2**32))
def test_broken_abc(where, seed):
    rng = random.Random(seed)
    path = where / "score.abc"
    path.write_bytes(mutated_text(ABC, rng, "|:[]()/<>^_=23,'zABcg\n KLMQ{}-&\"!x"))
    read(path)


KERN = (
    "**kern\t**dynam\t**kern\n*M3/4\t*M3/4\t*M3/4\n!LO:TX:t=pizz.\t!\t!\n=1\t=1\t=1\n2.C\tp<\t4.b-\n"
    ".\t.\t8qcc\n.\t[\t4%3dd\n*^\t*\t*\n2D\t4E\tff\t2.ee-\n*v\t*v\t*\t*\n==\t==\t==\n*-\t*-\t*-\n"
)
MEI = """<mei xmlns="http://www.music-encoding.org/ns/mei">
<scoreDef meter.unit="4"/><staffDef n="1"/>
<measure><dynam staff="1 2" tstamp="2.5">ff</dynam><hairpin staff="1" tstamp="1" tstamp2="0m+3"
form="cres"/><tempo staff="1" mm="96" mm.unit="4" mm.dots="1">Allegro</tempo><dir startid="#n1"
staff="1">pizz.</dir><trill startid="#n1"/><fermata startid="#n1"/>
<reh staff="1">A</reh></measure>
</mei>"""
PAGE = """<score-partwise><part-list><score-part id="P1"><part-name/></score-part></part-list>
<part id="P1"><measure><attributes><divisions>4</divisions></attributes><note id="n1">
<duration>16</duration></note></measure></part></score-partwise>"""


@settings(FEW, max_examples=200)
@given(st.integers(0, 2**32))
def test_broken_sources_of_passed_over_marks(seed):
    rng = random.Random(seed)
    for kind, text in (
        ("humdrum", mutated_text(KERN, rng, "*^v-x=!<>[]\t\n.%q0248rKp").decode()),
        ("mei", mutated_xml(MEI, rng).decode()),
        ("abc", mutated_text(ABC, rng, 'V:[]"nm= \n').decode()),
    ):
        root = ElementTree.fromstring(PAGE)
        passed_over.add(root, text, kind)
        assert len(sheet.scan(root)) == 1


def test_most_mutants_can_still_be_read(where, seeds):
    # So that the tests above look into the reader and not only at its doormat.
    path = where / "some.musicxml"
    good = 0
    for seed in range(40):
        rng = random.Random(seed)
        path.write_bytes(mutated_xml(rng.choice(seeds), rng))
        good += read(path)
    assert good >= 13
