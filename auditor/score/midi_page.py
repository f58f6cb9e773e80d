"""A page made of a MIDI file: bars, voices and ties where the file has only keys."""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from xml.etree.ElementTree import Element, SubElement

from auditor.errors import ScoreError
from auditor.score.signs import TYPE_QUARTERS
from auditor.score.smf import DRUM_CHANNEL, MidiFile, MidiNote, MidiPart, parse

_MOST_BARS = 5_000
# Velocities notation programs play pp, p, mp ... at: 33 and every 16 above (common practice).
_SOFTEST, _STEP = 33.0, 16.0
_LETTERS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
# Keys let go a little early or late belong to the next note: a share of their length, and
# quarters. What starts within the last is a chord.
_GATE, _LATE, _TOGETHER = 0.2, 0.125, 1 / 32
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLATS = ("C", "D-", "D", "E-", "E", "F", "G-", "G", "A-", "A", "B-", "B")


@dataclass(frozen=True, slots=True)
class _Bar:
    onset: int
    length: int
    beats: int
    unit: int
    new_time: bool


@dataclass(frozen=True, slots=True)
class _Event:
    """A chord of one voice, or the piece of it inside one bar; ticks."""

    onset: int
    end: int
    keys: tuple[int, ...]
    tied_back: bool = False
    tied_on: bool = False


def page(data: bytes) -> tuple[Element, list[str]]:
    """MusicXML of a MIDI file, and what had to be assumed.

    Raises
    ------
    ScoreError
        If the file cannot be used.
    """
    file = parse(data)
    if not file.parts:
        raise ScoreError("the MIDI file has no notes in it; nothing can be listened for")
    bars = _bars(file)
    root = Element("score-partwise", {"version": "4.0"})
    if file.title:
        SubElement(SubElement(root, "work"), "work-title").text = file.title
    listed = SubElement(root, "part-list")
    velocities = {note.velocity for part in file.parts for note in part.notes}
    for number, part in enumerate(file.parts, start=1):
        drums = part.channel == DRUM_CHANNEL
        listed.append(_head(number, part, drums=drums))
        body = SubElement(root, "part", {"id": f"P{number}"})
        _write(body, file, part, bars, first=number == 1, levels=len(velocities) > 1)
    return root, _remarks(file, len(velocities) > 1)


def _remarks(file: MidiFile, levels: bool) -> list[str]:
    said = [
        "A MIDI file has keys and times but no page: slurs, articulations, words, divisi and "
        "repeats are not in it, and spelling, voices and ties were made up."
    ]
    said.append(
        "Dynamics were taken from the key velocities, bar by bar."
        if levels
        else "All keys have the same velocity, so the file gives no dynamics; mf is assumed."
    )
    if not file.times:
        said.append(
            "The MIDI file gives no time signature; bars of four quarters were assumed."
        )
    if not file.tempos:
        said.append("The MIDI file gives no tempo.")
    return said


def _bars(file: MidiFile) -> list[_Bar]:
    # A note without length at the very beginning still needs a bar to stand in.
    last = max(1, *(note.end for part in file.parts for note in part.notes))
    marks = [mark for mark in file.times if mark[0] == 0][-1:] or [(0, 4, 4)]
    marks += [mark for mark in file.times if mark[0] > 0]
    bars: list[_Bar] = []
    onset = 0
    for index, (_, beats, unit) in enumerate(marks):
        until = marks[index + 1][0] if index + 1 < len(marks) else max(last, onset + 1)
        length = max(1, file.ticks * 4 * beats // unit)
        if (until - onset) / length + len(bars) > _MOST_BARS:
            raise ScoreError(f"the MIDI file is longer than {_MOST_BARS} bars; no score is")
        first = True
        while onset < until and onset < last:
            # A new signature in the middle of a bar cuts it short.
            cut = min(length, until - onset) if index + 1 < len(marks) else length
            bars.append(_Bar(onset, cut, beats, unit, first))
            onset, first = onset + cut, False
    return bars


def _head(number: int, part: MidiPart, *, drums: bool) -> Element:
    head = Element("score-part", {"id": f"P{number}"})
    SubElement(head, "part-name").text = part.name or ("Percussion" if drums else "")
    keys = sorted({note.key for note in part.notes}) if drums else [None]
    for key in keys:
        each = SubElement(head, "score-instrument", {"id": _piece(number, key)})
        SubElement(each, "instrument-name").text = "" if drums else part.name
    for key in keys:
        each = SubElement(head, "midi-instrument", {"id": _piece(number, key)})
        SubElement(each, "midi-channel").text = str(part.channel + 1)
        if part.program is not None and not drums:
            SubElement(each, "midi-program").text = str(part.program + 1)
        if key is not None:
            SubElement(each, "midi-unpitched").text = str(key + 1)
    return head


def _piece(number: int, key: int | None) -> str:
    return f"P{number}-I{1 if key is None else key + 1}"


def _write(
    body: Element,
    file: MidiFile,
    part: MidiPart,
    bars: Sequence[_Bar],
    *,
    first: bool,
    levels: bool,
) -> None:
    voices = [_cut(voice, bars) for voice in _voices(_chords(part.notes, file.ticks))]
    number = body.get("id", "P1")[1:]
    drums = part.channel == DRUM_CHANNEL
    loud = _levels(part.notes, bars) if levels else {}
    low = statistics.median(note.key for note in part.notes) < 58
    for index, bar in enumerate(bars):
        measure = SubElement(body, "measure", {"number": str(index + 1)})
        sharps = [k for tick, k in file.keys if tick <= bar.onset][-1:] or [0]
        key = sharps[0] if index == 0 or any(t == bar.onset for t, _ in file.keys) else None
        clef = ("percussion" if drums else "F" if low else "G") if index == 0 else ""
        _attributes(measure, file, bar, key, clef)
        if first:
            for tick, tempo in file.tempos:
                if bar.onset <= tick < bar.onset + bar.length:
                    _tempo(measure, tempo, tick - bar.onset)
        if index in loud:
            direction = SubElement(SubElement(measure, "direction"), "direction-type")
            SubElement(SubElement(direction, "dynamics"), loud[index])
        for voice, events in enumerate(voices, start=1):
            mine = events.get(index, [])
            if voice > 1 and mine:
                SubElement(SubElement(measure, "backup"), "duration").text = str(bar.length)
            if voice == 1 or mine:
                _fill(measure, file, bar, voice, mine, number if drums else "", sharps[0])


def _attributes(
    measure: Element, file: MidiFile, bar: _Bar, key: int | None, clef: str
) -> None:
    attributes = Element("attributes")
    if clef:
        SubElement(attributes, "divisions").text = str(file.ticks)
    if key is not None:
        SubElement(SubElement(attributes, "key"), "fifths").text = str(key)
    if bar.new_time:
        time = SubElement(attributes, "time")
        SubElement(time, "beats").text = str(bar.beats)
        SubElement(time, "beat-type").text = str(bar.unit)
    if clef:
        element = SubElement(attributes, "clef")
        SubElement(element, "sign").text = clef
        SubElement(element, "line").text = "4" if clef == "F" else "2"
    if len(attributes):
        measure.append(attributes)


def _tempo(measure: Element, tempo: float, at: int) -> None:
    sound = SubElement(measure, "sound", {"tempo": f"{tempo:.6g}"})
    SubElement(sound, "offset", {"sound": "yes"}).text = str(at)


def _levels(notes: Sequence[MidiNote], bars: Sequence[_Bar]) -> dict[int, str]:
    """Letters for the bars whose median velocity is of another step than before."""
    found: dict[int, str] = {}
    last = ""
    ordered = sorted(notes, key=lambda note: note.onset)
    at = 0
    for index, bar in enumerate(bars):
        velocities = []
        while at < len(ordered) and ordered[at].onset < bar.onset + bar.length:
            velocities.append(ordered[at].velocity)
            at += 1
        if velocities:
            step = round((statistics.median(velocities) - _SOFTEST) / _STEP) + 1
            letters = _LETTERS[max(0, min(len(_LETTERS) - 1, step))]
            if letters != last:
                found[index] = last = letters
    return found


def _chords(notes: Sequence[MidiNote], ticks: int) -> list[_Event]:
    """Keys that go down and up together as one event, their ends drawn to the next."""
    near = max(1, round(_TOGETHER * ticks))
    ordered = sorted(notes, key=lambda note: (note.onset, note.key))
    groups: list[list[MidiNote]] = []
    for note in ordered:
        if groups and note.onset - groups[-1][0].onset < near:
            groups[-1].append(note)
        else:
            groups.append([note])
    events: list[_Event] = []
    for group, after in [*pairwise(groups), *([(groups[-1], None)] if groups else [])]:
        onset = group[0].onset
        following = after[0].onset if after else None
        ends: dict[int, set[int]] = {}
        for note in group:
            end = max(note.end, onset + 1)
            reach = max(_GATE * (end - onset), _LATE * ticks)
            if following is not None and abs(following - end) <= reach:
                end = following
            ends.setdefault(end, set()).add(note.key)
        events.extend(_Event(onset, end, tuple(sorted(k))) for end, k in ends.items())
    return events


def _voices(events: Sequence[_Event]) -> list[list[_Event]]:
    voices: list[list[_Event]] = []
    for event in events:
        for voice in voices:
            if voice[-1].end <= event.onset:
                voice.append(event)
                break
        else:
            voices.append([event])
    return voices


def _cut(events: Sequence[_Event], bars: Sequence[_Bar]) -> dict[int, list[_Event]]:
    """Pieces of one voice by bar, tied over the barlines."""
    pieces: list[tuple[int, _Event]] = []
    bar = 0
    for event in events:
        while bars[bar].onset + bars[bar].length <= event.onset and bar + 1 < len(bars):
            bar += 1
        here, onset = bar, event.onset
        while here < len(bars) and onset < event.end:
            end = min(event.end, bars[here].onset + bars[here].length)
            piece = _Event(onset, end, event.keys, onset > event.onset, end < event.end)
            pieces.append((here, piece))
            here, onset = here + 1, end
    return {
        index: [piece for _, piece in group]
        for index, group in groupby(pieces, key=lambda pair: pair[0])
    }


def _fill(
    measure: Element,
    file: MidiFile,
    bar: _Bar,
    voice: int,
    events: Sequence[_Event],
    drums: str,
    sharps: int,
) -> None:
    at = bar.onset
    for event in events:
        _rest(measure, file, voice, event.onset - at)
        for place, key in enumerate(event.keys):
            note = SubElement(measure, "note")
            if place:
                SubElement(note, "chord")
            _pitch(note, key, sharps, drums=bool(drums))
            SubElement(note, "duration").text = str(event.end - event.onset)
            for kind, is_tied in (("stop", event.tied_back), ("start", event.tied_on)):
                if is_tied:
                    SubElement(note, "tie", {"type": kind})
            if drums:
                SubElement(note, "instrument", {"id": f"P{drums}-I{key + 1}"})
            _value(note, voice, (event.end - event.onset) / file.ticks)
        at = event.end
    _rest(measure, file, voice, bar.onset + bar.length - at)


def _rest(measure: Element, file: MidiFile, voice: int, ticks: int) -> None:
    if ticks <= 0:
        return
    if voice > 1:
        SubElement(SubElement(measure, "forward"), "duration").text = str(ticks)
        return
    note = SubElement(measure, "note")
    SubElement(note, "rest")
    SubElement(note, "duration").text = str(ticks)
    _value(note, voice, ticks / file.ticks)


def _pitch(note: Element, key: int, sharps: int, *, drums: bool) -> None:
    if drums:
        SubElement(note, "unpitched")
        return
    name = (_SHARPS if sharps >= 0 else _FLATS)[key % 12]
    pitch = SubElement(note, "pitch")
    SubElement(pitch, "step").text = name[0]
    if len(name) > 1:
        SubElement(pitch, "alter").text = "1" if name[1] == "#" else "-1"
    SubElement(pitch, "octave").text = str(key // 12 - 1)


def _value(note: Element, voice: int, quarters: float) -> None:
    """Voice, and the printed value nearest to a length."""
    SubElement(note, "voice").text = str(voice)
    choices = [(abs(q * d - quarters), n, d) for n, q in _values() for d in (1.0, 1.5)]
    _, name, dotted = min(choices)
    SubElement(note, "type").text = name
    if dotted > 1:
        SubElement(note, "dot")


def _values() -> Iterator[tuple[str, float]]:
    return ((name, q) for name, q in TYPE_QUARTERS.items() if 1 / 16 <= q <= 8)
