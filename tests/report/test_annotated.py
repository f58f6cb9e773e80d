"""The annotated score: words at their bars, every other byte as it was."""

import dataclasses
import io
import re
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import music21
import pytest

from auditor.craft.remark import Remark
from auditor.errors import ScoreError
from auditor.report.annotated import annotated, with_words, words_by_place
from auditor.score.opening import score_name

DIRECTION = re.compile(rb'<direction placement="above"><direction-type><words [^>]*>[^<]*'
                       rb"</words></direction-type></direction>")  # fmt: skip

# After the "Hello world" example of the MusicXML 4.0 tutorial (W3C Music Notation
# Community Group), with a second part, a second bar, and oddities a program might write.
PARTWISE = """<?xml version="1.0" encoding="{encoding}" standalone="no"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"
  "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0"  >
  <part-list>
    <score-part id="P1"><part-name>Hautbois é</part-name></score-part>
    <score-part id='P2'><part-name>Cor</part-name></score-part>
  </part-list>
  <part id="P1">
    <measure number="1">
      <attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
      <note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note>
    </measure>
    <!-- a remark with <note> in it -->
    <measure number="2"><print new-system="yes"/>
      <note ><pitch><step>D</step><octave>5</octave></pitch><duration>4</duration></note
      ></measure>
  </part>
  <part id='P2'>
    <measure number="1"><attributes><divisions>1</divisions></attributes></measure>
    <measure number="2"><note><rest/><duration>4</duration></note></measure>
  </part>
</score-partwise>
"""
TIMEWISE = """<?xml version="1.0"?>
<score-timewise version="4.0"><part-list>
<score-part id="P1"><part-name>A</part-name></score-part>
<score-part id="P2"><part-name>B</part-name></score-part></part-list>
<measure number="1"><part id="P1"><note><rest/><duration>1</duration></note></part>
<part id="P2"><note><rest/><duration>1</duration></note></part></measure>
<measure number="2"><part id="P1"><note><rest/><duration>1</duration></note></part>
<part id="P2"><attributes/><note><rest/><duration>1</duration></note></part></measure>
</score-timewise>"""
WORDS = {
    (1, 0): ("one",),
    (1, 1): ("two", "three"),
    (2, 0): ("<four> & “five”",),
    (2, 1): ("six",),
}


def by_bar(root):
    """Words by part identifier and bar number."""
    return {
        (part.get("id"), bar.get("number")): [w.text for w in bar.iter("words")]
        for part in root.iter("part")
        for bar in part.iter("measure")
    }


@pytest.mark.parametrize("encoding", ["UTF-8", "ISO-8859-1", "UTF-16"])
def test_words_stand_at_their_bars_in_any_encoding(encoding):
    data = PARTWISE.format(encoding=encoding).encode(encoding)
    out = with_words(data, WORDS)
    assert by_bar(ElementTree.fromstring(out)) == {
        ("P1", "1"): ["one"],
        ("P1", "2"): ["two", "three"],
        ("P2", "1"): ["<four> & “five”"],
        ("P2", "2"): ["six"],
    }


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_without_the_words_the_file_is_what_it_was(end):
    data = PARTWISE.format(encoding="UTF-8").replace("\n", end).encode()
    out = with_words(data, WORDS)
    assert DIRECTION.sub(b"", out) == data
    assert len(DIRECTION.findall(out)) == 5


def test_words_come_after_the_head_of_the_bar():
    out = with_words(PARTWISE.format(encoding="UTF-8").encode(), WORDS)
    bar = ElementTree.fromstring(out).find("part/measure")
    assert [child.tag for child in bar] == ["attributes", "direction", "note"]


def test_a_time_wise_score_is_written_into_as_well():
    out = with_words(TIMEWISE.encode(), {(2, 1): ("here",)})
    root = ElementTree.fromstring(out)
    piece = root.findall("measure")[1].findall("part")[1]
    assert [child.tag for child in piece] == ["attributes", "direction", "note"]
    assert len(list(root.iter("words"))) == 1


def test_a_bar_that_is_not_there_is_said():
    with pytest.raises(ScoreError, match="part 2 has no bar 9"):
        with_words(PARTWISE.format(encoding="UTF-8").encode(), {(2, 8): ("lost",)})


@pytest.mark.parametrize("data", [b"MThd\x00\x00\x00\x06", b"<score-partwise>"])
def test_what_is_no_score_is_refused(data):
    with pytest.raises(ScoreError, match="not readable XML"):
        with_words(data, {(1, 0): ("lost",)})


@pytest.fixture
def score_file(made, audit, tmp_path):
    """Write the invented audit's own score."""
    path = tmp_path / "study.musicxml"
    parts = tuple(p.number for p in audit.score.parts)
    path.write_text(made.made_excerpt(audit, 0, len(audit.score.bars) - 1, parts))
    return path


def heard(path):
    """Every note and rest of a score as the music library reads it."""
    page = music21.converter.parse(path, forceSource=True)
    return [
        (e.getContextByClass("Measure").number, float(e.offset), e.quarterLength,
         e.pitch.nameWithOctave if e.isNote else e.classes[0])
        for part in page.parts
        for e in part.recurse().notesAndRests
    ]  # fmt: skip


def test_read_back_all_notes_are_equal_and_the_words_are_there(audit, score_file, tmp_path):
    name, data = annotated(audit, score_file)
    out = tmp_path / name
    out.write_bytes(data)
    assert DIRECTION.sub(b"", data) == score_file.read_bytes()
    assert heard(out) == heard(score_file)
    page = music21.converter.parse(out, forceSource=True)
    oboe = page.parts[1].measure(5)
    said = [
        " ".join(e.content.split()) for e in oboe.recurse().getElementsByClass("TextExpression")
    ]
    assert said == [
        "[1, bars 5–8] The oboe has the tune in bars 5–8 and is lost under the trombone."
    ]


def test_a_compressed_score_keeps_every_other_member(audit, score_file, tmp_path):
    packed = tmp_path / "study.mxl"
    container = (
        '<container><rootfiles><rootfile full-path="study.musicxml"/></rootfiles></container>'
    )
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(zipfile.ZipInfo("mimetype"), "application/vnd.recordare.musicxml")
        archive.writestr("META-INF/container.xml", container)
        archive.writestr("study.musicxml", score_file.read_bytes())
        archive.writestr("pictures/cover.png", bytes(range(256)))
    name, data = annotated(audit, packed)
    assert name == "annotated.mxl"
    with zipfile.ZipFile(packed) as old, zipfile.ZipFile(io.BytesIO(data)) as new:
        assert new.testzip() is None
        for a, b in zip(old.infolist(), new.infolist(), strict=True):
            assert (a.filename, a.date_time, a.compress_type) == (
                b.filename, b.date_time, b.compress_type,
            )  # fmt: skip
            same = old.read(a) == new.read(b)
            assert same == (a.filename != "study.musicxml")
    (tmp_path / name).write_bytes(data)
    assert heard(tmp_path / name) == heard(score_file)


# From the corpus packaged with music21: string quartet and song as .mxl, a motet in UTF-16.
CORPUS = ("haydn/opus74no1/movement3.mxl", "schumann_robert/opus48no2.mxl",
          "trecento/PMFC_12_24-Benedicamus.xml")  # fmt: skip


@pytest.mark.parametrize("work", CORPUS)
def test_every_bar_of_real_files_can_be_written_into(work):
    path = Path(music21.__file__).parent / "corpus" / work
    data = path.read_bytes()
    if work.endswith(".mxl"):
        with zipfile.ZipFile(path) as archive:
            data = archive.read(score_name(path, archive))
    parts = ElementTree.fromstring(data).findall("part")
    words = {
        (k, i): (f"{k}:{i}",)
        for k, part in enumerate(parts, start=1)
        for i, _ in enumerate(part.findall("measure"))
    }
    out = with_words(data, words)
    for k, part in enumerate(ElementTree.fromstring(out).findall("part"), start=1):
        for i, bar in enumerate(part.findall("measure")):
            assert f"{k}:{i}" in [w.text for w in bar.iter("words")]
    coding = "utf-16" if data.startswith(b"\xff\xfe") else "utf-8"
    plain = DIRECTION.sub(b"", out.decode(coding).encode())
    assert plain == data.decode(coding).encode()


def test_remarks_on_craft_are_written_at_their_bars(audit):
    remark = Remark("high", "risky", 5, 9, 9, (), "The horn enters high.", "why", "remedy")
    words = words_by_place(dataclasses.replace(audit, craft=(remark,)))
    assert words[5, 9] == ("[risky, bar 10] The horn enters high.",)


def test_what_works_is_not_written(audit):
    said = " ".join(w for words in words_by_place(audit).values() for w in words)
    assert "stand free of everything" not in said


def test_a_hostile_sentence_stays_text(audit, score_file):
    wild = dataclasses.replace(
        audit.findings[0], kind="covered", sentence="</words><note/>\x07]]>"
    )
    _, data = annotated(dataclasses.replace(audit, findings=(wild,)), score_file)
    assert data.count(b"<note/") == score_file.read_bytes().count(b"<note/")
    assert DIRECTION.sub(b"", data) == score_file.read_bytes()
    said = [" ".join(w.text.split()) for w in ElementTree.fromstring(data).iter("words")]
    assert "[1, bars 5–8] </words><note/> ]]>" in said
