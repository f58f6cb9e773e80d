"""Prints the demo overture as MusicXML, transposing instruments as their players read."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import demo_music as music
from demo_reading import DYNAMIC, Event, read
from music21 import (
    articulations,
    bar,
    chord,
    clef,
    dynamics,
    expressions,
    instrument,
    interval,
    key,
    layout,
    metadata,
    meter,
    note,
    spanner,
    stream,
    tempo,
    tie,
)

INSTRUMENT = {
    "flute": instrument.Flute,
    "clarinet": instrument.Clarinet,
    "saxophone": instrument.AltoSaxophone,
    "bassoon": instrument.Bassoon,
    "horn-1": instrument.Horn,
    "horn-2": instrument.Horn,
    "trumpet": instrument.Trumpet,
    "trombone": instrument.Trombone,
    "tuba": instrument.Tuba,
    "timpani": instrument.Timpani,
    "xylophone": instrument.Xylophone,
    "harp": instrument.Harp,
    "violin-1": instrument.Violin,
    "violin-2": instrument.Violin,
    "viola": instrument.Viola,
    "violoncello": instrument.Violoncello,
    "double-bass": instrument.Contrabass,
}
CLEF = {"treble": clef.TrebleClef, "alto": clef.AltoClef, "bass": clef.BassClef}
FAMILIES = (slice(0, 4), slice(4, 9), slice(9, 11), slice(13, 18))  # staves under one bracket
NO_KEY = ("timpani",)  # common practice: timpani are printed without a key signature


def _element(event: Event, up: interval.Interval) -> note.GeneralNote:
    if not event.names:
        return note.Rest(quarterLength=event.length)
    names = [name.replace("b", "-") for name in event.names]
    made = note.Note(names[0]) if len(names) == 1 else chord.Chord(names)
    made.quarterLength = event.length
    made = made.transpose(up)
    if "'" in event.marks:
        made.articulations.append(articulations.Staccato())
    if ">" in event.marks:
        made.articulations.append(articulations.Accent())
    if "*" in event.marks:
        roll = expressions.Tremolo()
        roll.numberOfMarks = 3
        made.expressions.append(roll)
    if "~" in event.marks:
        made.tie = tie.Tie("start")
    return made


def _words(text: str) -> expressions.TextExpression:
    made = expressions.TextExpression(text)
    made.style.fontStyle = "italic"
    made.placement = "above"
    return made


class _Stave:
    """Builds one stave bar by bar; slurs, hairpins and ties may cross barlines."""

    def __init__(self, part: music.DemoPart, index: int) -> None:
        self.part = part
        self.up = interval.Interval(part.interval)
        harp = len(part.staves) > 1
        self.stream = stream.PartStaff() if harp else stream.Part()
        self.stream.id = f"{part.key}-{index}" if harp else part.key
        self.clef = CLEF[part.clef[index]]()
        self.slur: list[note.GeneralNote] | None = None
        self.wedge: list[note.GeneralNote] | None = None
        self.tied = False
        self.bars = read(part.staves[index])

    def build(self, first_of_score: bool) -> stream.Part:
        self.stream.insert(0, self._instrument())
        for number, events in enumerate(self.bars, start=1):
            measure = stream.Measure(number=number)
            if number == 1:
                self._head(measure)
            if first_of_score:
                _signposts(measure, number)
            for event in events:
                self._event(measure, event)
            if number == music.BARS:
                measure.rightBarline = bar.Barline("final")
            self.stream.append(measure)
        self.stream.atSoundingPitch = False
        return self.stream

    def _instrument(self) -> instrument.Instrument:
        made = INSTRUMENT[self.part.key]()
        made.partName, made.partAbbreviation = self.part.name, self.part.short
        down = self.up.reverse()
        made.transposition = None if self.up.semitones == 0 else down
        return made

    def _head(self, measure: stream.Measure) -> None:
        measure.insert(0, self.clef)
        signature = key.Key("F")
        if self.part.key in NO_KEY:
            signature = key.KeySignature(0)
        measure.insert(0, signature.transpose(self.up))
        measure.insert(0, meter.TimeSignature(f"{music.BEATS}/4"))

    def _event(self, measure: stream.Measure, event: Event) -> None:
        made = _element(event, self.up)
        for word in event.words:
            if word in DYNAMIC:
                measure.insert(event.beat, dynamics.Dynamic(word))
            elif word != "<":
                measure.insert(event.beat, _words(word))
        if self.tied and event.names:
            made.tie = tie.Tie("continue" if made.tie else "stop")
        self.tied = "~" in event.marks
        measure.insert(event.beat, made)
        self._spanners(made, event)

    def _spanners(self, made: note.GeneralNote, event: Event) -> None:
        if "(" in event.marks and ")" not in event.marks:
            self.slur = [made]
        elif self.slur is not None and event.names:
            self.slur.append(made)
            if ")" in event.marks:
                self.stream.insert(0, spanner.Slur([self.slur[0], self.slur[-1]]))
                self.slur = None
        if self.wedge is not None and any(word in DYNAMIC for word in event.words):
            self.stream.insert(0, dynamics.Crescendo(self.wedge))
            self.wedge = None
        if "<" in event.words:
            self.wedge = []
        if self.wedge is not None:
            self.wedge.append(made)


def _signposts(measure: stream.Measure, number: int) -> None:
    if number in music.TEMPI:
        words, rate = music.TEMPI[number]
        measure.insert(0, tempo.MetronomeMark(text=words, number=rate))
    if number == music.RITARDANDO[0]:
        measure.insert(0, _words("rit."))
    if number in music.REHEARSAL:
        measure.insert(0, expressions.RehearsalMark(music.REHEARSAL[number]))


def _tidy(path: Path) -> None:
    """Join each tempo's words to its metronome mark, above the stave; number the systems."""
    tree = ElementTree.parse(path)
    root = tree.getroot()
    for measure in root.iter("measure"):
        above = [d for d in measure.findall("direction") if d.find(".//metronome") is not None]
        for mark in above:
            words = measure.find("direction/direction-type/words[@font-weight='bold']/../..")
            words[0][0].text += "\N{NO-BREAK SPACE}" * 2
            mark.set("placement", "above")
            mark.insert(0, words.find("direction-type"))
            measure.remove(words)
    for part in root.findall("part"):
        measure = part.find("measure")
        layout_ = measure.find("print")
        if layout_ is None:
            layout_ = ElementTree.Element("print")
            measure.insert(0, layout_)
        ElementTree.SubElement(layout_, "measure-numbering").text = "system"
    tree.write(path, encoding="utf-8", xml_declaration=True)


def write_score(path: Path) -> None:
    """Write the overture to `path` as MusicXML."""
    score = stream.Score()
    score.metadata = metadata.Metadata()
    score.metadata.title = music.TITLE
    score.metadata.movementName = music.TITLE
    score.metadata.composer = music.COMPOSER
    staves: list[stream.Part] = []
    for part in music.PARTS:
        made = [
            _Stave(part, index).build(first_of_score=not staves and index == 0)
            for index in range(len(part.staves))
        ]
        staves.extend(made)
        if len(made) > 1:
            score.insert(0, layout.StaffGroup(made, name=part.name, symbol="brace"))
    for stave in staves:
        score.insert(0, stave)
    for family in FAMILIES:
        score.insert(0, layout.StaffGroup(staves[family], symbol="bracket", barTogether=True))
    score.write("musicxml", fp=path)
    _tidy(path)
