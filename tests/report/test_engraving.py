"""Excerpts: the right noteheads marked, and nothing in the drawing but drawing."""

import re
import threading
from xml.etree.ElementTree import fromstring

import pytest

from auditor.errors import ScoreError
from auditor.report.engraving import Marks, engrave
from auditor.report.passages import choose_bars, passage


@pytest.fixture
def elements(audit):
    def of(line, first, last):
        return [
            n.element for n in audit.score.notes if n.line == line and first <= n.bar <= last
        ]

    return of


def marked(svg, mark):
    root = fromstring(svg)
    return {g.get("id") for g in root.iter("g") if mark in g.get("class", "").split(" ")}


def test_line_and_coverers_are_marked_note_by_note(source, elements):
    line, covers = elements(2, 4, 7), elements(8, 4, 7)
    svg = engrave(source(4, 7, (2, 4, 7)), Marks(line, covers), prefix="x1-", sentence="s")
    assert marked(svg, "the-line") == {f"x1-{e}" for e in line}
    assert marked(svg, "covering") == {f"x1-{e}" for e in covers}


def test_two_lines_on_one_staff_are_told_apart(source, elements):
    mine, other = elements(4, 12, 12), elements(5, 12, 12)
    assert mine
    assert other
    svg = engrave(source(12, 12, (4,)), Marks(mine), prefix="", sentence="s")
    assert marked(svg, "the-line") == set(mine)


def test_later_heads_of_a_tied_note_are_marked_too():
    head = "<pitch><step>C</step><octave>4</octave></pitch><duration>4</duration>"
    xml = (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Horn'
        '</part-name></score-part></part-list><part id="P1"><measure number="1"><attributes>'
        "<divisions>1</divisions><clef><sign>G</sign><line>2</line></clef></attributes>"
        f'<note id="a">{head}<tie type="start"/><type>whole</type></note></measure>'
        f'<measure number="2"><note id="b">{head}<tie type="stop"/><type>whole</type></note>'
        f'</measure><measure number="3"><note id="c">{head}<type>whole</type></note>'
        "</measure></part></score-partwise>"
    )
    svg = engrave(xml, Marks(["a"]), prefix="", sentence="s")
    assert marked(svg, "the-line") == {"a", "b"}


def test_the_line_is_told_without_colour(source, elements, audit):
    labels = (("Oboe", "Oboe — the line"), ("Trombone", "Trombone — covers 62 %"))
    marks = Marks(elements(2, 4, 5), elements(8, 4, 5), labels)
    svg = engrave(source(4, 5, (2, 7)), marks, prefix="", sentence="s")
    words = "".join(fromstring(svg).itertext())
    assert "Oboe — the line" in words
    assert "Trombone — covers 62 %" in words
    bands = [r.get("class") for r in fromstring(svg).iter("rect")]
    assert sorted(bands) == ["frame", "marker"]


def test_many_excerpts_share_a_page_without_sharing_identifiers(source, elements):
    drawn = [
        engrave(source(4, 5, (2, 7)), Marks(elements(2, 4, 5)), prefix=p, sentence="s")
        for p in ("x1-", "x2-")
    ]
    one, two = (set(re.findall(r'\bid="([^"]+)"', svg)) for svg in drawn)
    assert one
    assert not one & two
    for svg, ids in zip(drawn, (one, two), strict=True):
        assert set(re.findall(r'href="#([^"]+)"', svg)) <= ids


def test_hostile_words_stay_words(made):
    name = '<script>alert(1)</script>" onload="x'
    audit = made.made_audit(names={2: name})
    svg = engrave(made.made_excerpt(audit, 4, 5, (2,)), Marks([]), prefix="", sentence=name)
    root = fromstring(svg)
    assert {n.tag for n in root.iter()} <= {
        "svg", "g", "defs", "path", "use", "text", "tspan", "rect", "ellipse", "polygon",
        "polyline", "circle", "line",
    }  # fmt: skip
    assert not any(key.startswith("on") for n in root.iter() for key in n.attrib)
    assert root.get("aria-label") == name


def test_an_excerpt_is_drawn_outside_the_main_thread(source, elements):
    drawn = []
    xml, marks = source(4, 5, (2,)), Marks(elements(2, 4, 5))
    worker = threading.Thread(
        target=lambda: drawn.append(engrave(xml, marks, prefix="", sentence="s"))
    )
    worker.start()
    worker.join()
    assert drawn == [engrave(xml, marks, prefix="", sentence="s")]


def test_a_metronome_mark_needs_no_music_font(made, audit):
    from music21 import converter, tempo
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    score = converter.parseData(made.made_excerpt(audit, 4, 5, (2,)), format="musicxml")
    score.parts[0].measure(5).insert(0, tempo.MetronomeMark(number=96))
    xml = GeneralObjectExporter(score).parse().decode()
    words = "".join(fromstring(engrave(xml, Marks([]), prefix="", sentence="s")).itertext())
    assert "96" in words
    assert "♩" in words
    # The Unicode Standard, section 23.5: private-use characters mean nothing by themselves.
    assert not [c for c in words if 0xE000 <= ord(c) < 0xF900]


def test_what_is_no_music_is_refused():
    with pytest.raises(ScoreError, match="could not be engraved"):
        engrave("<nothing/>", Marks([]), prefix="", sentence="s")


def test_a_long_finding_shows_the_six_bars_in_which_it_fares_worst(audit):
    import dataclasses

    import numpy as np

    ratio = np.full(len(audit.score.notes), 0.9)
    for i, note in enumerate(audit.score.notes):
        if note.line == 2 and 10 <= note.bar <= 11:
            ratio[i] = 0.01
    notes = dataclasses.replace(audit.heard.notes, distinct_ratio=ratio)
    changed = dataclasses.replace(audit, heard=dataclasses.replace(audit.heard, notes=notes))
    finding = dataclasses.replace(audit.findings[0], first_bar=0, last_bar=23)
    first, last = choose_bars(changed, finding)
    assert last - first == 5
    assert first <= 10
    assert last >= 11


def test_an_excerpt_ends_where_the_page_jumps(audit):
    import dataclasses

    bars = tuple(
        dataclasses.replace(b, written_index=b.index if b.index < 6 else b.index - 4)
        for b in audit.score.bars
    )
    changed = dataclasses.replace(audit, score=dataclasses.replace(audit.score, bars=bars))
    assert choose_bars(changed, audit.findings[0])[1] == 5


def test_a_report_stands_without_its_pictures(audit, caplog):
    def broken(first, last, parts):
        raise RuntimeError("the engraver is ill")

    assert passage(audit, audit.findings[0], broken, prefix="x").svg == ""
    assert "no excerpt for" in caplog.text
