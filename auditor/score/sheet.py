"""The page taken from the XML: each part's head, bars, signs and noteheads, in one walk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from auditor.errors import ScoreError
from auditor.score import signs
from auditor.score.noteheads import Notehead, RawNote, heads_of, join, take_apart, written
from auditor.score.seats import Seats
from auditor.score.signs import Mark as Mark
from auditor.score.signs import RawBar as RawBar
from auditor.score.signs import number, plain
from auditor.score.slurs import Slur, SlurEnd, pair

# A cadenza without bars runs to some hundred quarters; more is a broken file.
_LONGEST_BAR = 1000.0
# Longer names and bar numbers are noise, and would fill every message.
_LONGEST_NAME, _LONGEST_NUMBER = 120, 16
_TINY = 0.01
# Words and letters are nudged on paper by up to this many quarters.
_NUDGE = 0.5
_AGAIN = "export the score again as MusicXML from the notation program"


@dataclass(frozen=True, slots=True)
class KitPiece:
    """One instrument of a part that several share.

    Parameters
    ----------
    name, sound
        As the file gives them, either may be empty.
    program, key
        General MIDI program and key of the drum, 1-based as in MusicXML; None if not said.
    """

    name: str
    sound: str = ""
    program: int | None = None
    key: int | None = None


@dataclass(slots=True)
class Sheet:
    """One part of the page: its place in the part list, its head, bars, signs and notes."""

    number: int
    id: str
    name: str
    abbreviation: str = ""
    instrument_name: str = ""
    sound: str = ""
    program: int | None = None
    instruments: int = 1
    sung: bool = False
    staves: int = 1
    bars: list[RawBar] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    heads: list[Notehead] = field(default_factory=list)
    slurs: list[Slur] = field(default_factory=list)
    kit: dict[str, KitPiece] = field(default_factory=dict)
    hidden: int = 0
    cues: int = 0
    seats: Seats = field(default_factory=Seats)


def scan(root: Element) -> tuple[Sheet, ...]:
    """Read every part of a part-wise root, in the order of its part list.

    Parts without music and music without an entry in the part list are left out.

    Raises
    ------
    ScoreError
        If a bar or a note cannot be; the message says which.
    """
    bodies = {part.get("id", ""): part for part in root.findall("part")}
    return tuple(
        _scan_part(number, head, bodies[head.get("id", "")])
        for number, head in enumerate(root.findall("part-list/score-part"), start=1)
        if head.get("id", "") in bodies
    )


def _scan_part(number: int, head: Element, body: Element) -> Sheet:
    kit = _kit(head)
    first = next(iter(kit.values()), KitPiece(""))
    sheet = Sheet(
        number=number,
        id=head.get("id", ""),
        name=plain(head.findtext("part-name"))[:_LONGEST_NAME],
        abbreviation=plain(head.findtext("part-abbreviation"))[:_LONGEST_NAME],
        instrument_name=first.name,
        sound=first.sound,
        program=first.program,
        instruments=len(head.findall("score-instrument")),
        sung=body.find("measure/note/lyric") is not None,
        kit=kit,
    )
    _PartScan(sheet).walk(body)
    return sheet


def _kit(head: Element) -> dict[str, KitPiece]:
    midi = {each.get("id", ""): each for each in head.findall("midi-instrument")}
    only = next(iter(midi.values()), None)
    found: dict[str, KitPiece] = {}
    for each in head.findall("score-instrument") or [Element("score-instrument")]:
        playback = midi.get(each.get("id", ""), only)
        found[each.get("id", "")] = KitPiece(
            name=plain(each.findtext("instrument-name"))[:_LONGEST_NAME],
            sound=plain(each.findtext("instrument-sound")),
            program=_counted(playback, "midi-program"),
            key=_counted(playback, "midi-unpitched"),
        )
    return found


def _counted(playback: Element | None, tag: str) -> int | None:
    text = "" if playback is None else plain(playback.findtext(tag))
    return int(text) if text.isascii() and text.isdigit() and len(text) < 4 else None


class _PartScan:
    """A pen that goes through one part: divisions, signature, and its place in the bar."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.divisions, self.nominal = 1.0, 4.0
        self.at = self.end = 0.0
        self.bar, self.count, self.events = 0, 0, 0
        self.chord: list[RawNote] = []
        self.chord_at = 0.0
        self.ends: list[SlurEnd] = []
        self.unplayed: set[int] = set()
        # Quarters of the bars before, and by voice where its last note or rest began.
        self.elapsed = 0.0
        self.begun: dict[tuple[int, str], float] = {}
        self.tied: dict[str, float] = {}

    def walk(self, body: Element) -> None:
        for self.bar, measure in enumerate(body.findall("measure")):
            self._measure(measure)
        self.sheet.slurs.extend(pair(self.ends))
        self.sheet.heads.sort(key=lambda head: (head.bar, head.at))

    def _measure(self, measure: Element) -> None:
        self.at = self.end = 0.0
        self.count = 0
        bar = RawBar(plain(measure.get("number"))[:_LONGEST_NUMBER] or str(self.bar + 1))
        bar.implicit = measure.get("implicit") == "yes"
        self.sheet.bars.append(bar)
        children = list(measure)
        for index, child in enumerate(children):
            if child.tag == "note":
                self._note(child)
                continue
            if child.tag in ("backup", "forward"):
                self._flush()
            # A sign between the notes of a chord stands where the chord does.
            inside = bool(self.chord) and _goes_on(children[index + 1 :])
            self._other(bar, child, self.chord_at if inside else self.at)
        self._flush()
        if self.end > _LONGEST_BAR or not 0 < self.nominal <= _LONGEST_BAR:
            raise ScoreError(
                f"{self._where()} would last {max(self.end, self.nominal):g} quarters, which "
                f"no bar does; {_AGAIN}"
            )
        bar.length, bar.nominal = self.end, self.nominal
        self.elapsed += self.end

    def _where(self) -> str:
        bar = self.sheet.bars[self.bar].number
        return f"bar {bar} of {self.sheet.name or self.sheet.id}"

    def _move(self, quarters: float) -> None:
        self.at = max(0.0, self.at + quarters)
        self.end = max(self.end, self.at)

    def _note(self, element: Element) -> None:
        raw = take_apart(element, self.divisions)
        raw.sounds = raw.sounds and raw.staff not in self.unplayed
        if not raw.chord or not self.chord:
            self._flush()
            self.chord_at = self.at
            self._move(raw.quarters)
        else:
            join(raw, self.chord[0])
        self.chord.append(raw)
        for sign in raw.dynamics:
            staff = str(raw.staff) if self.sheet.staves > 1 else ""
            self.sheet.marks.extend(
                signs.dynamics(self.bar, self.chord_at, sign, raw.voice, staff)
            )

    def _flush(self) -> None:
        """Write down the chord that is complete now."""
        chord, self.chord = self.chord, []
        sounding = [raw for raw in chord if raw.sounds]
        if chord and not sounding:
            self.sheet.seats.see_rest(self.bar, self.chord_at, self.sheet.staves, chord[0])
            if "fermata" in chord[0].words:
                self.sheet.marks.append(Mark(self.bar, self.chord_at, "fermata", "rest"))
        self.sheet.cues += sum(raw.element.find("cue") is not None for raw in chord)
        self.sheet.hidden += sum(raw.hidden for raw in sounding)
        if chord:
            self._tie(chord)
        if not sounding:
            return
        try:
            heads = list(
                heads_of(
                    sounding,
                    part=self.sheet.number,
                    bar=self.bar,
                    at=self.chord_at,
                    first=self.count,
                    event=self.events,
                    staves=self.sheet.staves,
                )
            )
        except ScoreError as exc:
            raise ScoreError(f"{self._where()} has {exc}; {_AGAIN}") from exc
        self.count += len(heads)
        self.sheet.heads.extend(heads)
        for raw in sounding:
            for way, which in raw.slurs:
                self.ends.append(SlurEnd(self.events, heads[0].voice, way, which))
        self.events += 1

    def _tie(self, chord: Sequence[RawNote]) -> None:
        """Break ties that would lead over a note or rest of their own voice."""
        voice = (chord[0].staff, chord[0].voice)
        here = self.elapsed + self.chord_at
        for raw in chord:
            pitch = written(raw.pitch)
            begun = self.tied.pop(pitch, None) if "stop" in raw.ties else None
            if begun is not None and self.begun.get(voice, -1.0) > begun - _TINY:
                raw.ties.discard("stop")
            if "start" in raw.ties:
                self.tied[pitch] = here + raw.quarters
        if not chord[0].grace:
            self.begun[voice] = here

    def _other(self, bar: RawBar, child: Element, at: float) -> None:
        marks = self.sheet.marks
        self.sheet.seats.see(self.bar, at, child)
        tag = child.tag
        if tag == "backup":
            self._move(-max(0.0, number(child.findtext("duration"))) / self.divisions)
        elif tag == "forward":
            self._move(max(0.0, number(child.findtext("duration"))) / self.divisions)
        elif tag == "attributes":
            divisions = number(child.findtext("divisions"), self.divisions)
            self.divisions = divisions if divisions > 0 else self.divisions
            self.nominal = signs.time_quarters(child) or self.nominal
            self.sheet.staves = max(self.sheet.staves, round(number(child.findtext("staves"))))
            marks.extend(signs.transposition(self.bar, at, child))
            self._staff_types(child)
        elif tag == "direction":
            at = max(0.0, min(_LONGEST_BAR, at + self._offset(child)))
            marks.extend(signs.directions(self.bar, at, child))
        elif tag == "sound":
            later = number(child.findtext("offset")) / self.divisions
            at = max(0.0, min(_LONGEST_BAR, at + later))
            marks.extend(signs.sound(self.bar, at, child))
        elif tag == "barline":
            signs.barline(bar, child)
            at = at if child.get("location", "right") == "right" else 0.0
            marks.extend(
                Mark(self.bar, at, "jump", sign.tag)
                for sign in child
                if sign.tag in ("segno", "coda")
            )
            if child.find("fermata") is not None:
                marks.append(Mark(self.bar, at, "fermata", "barline"))

    def _staff_types(self, attributes: Element) -> None:
        """Mark staves that show another version or a cue, which nobody plays."""
        for details in attributes.findall("staff-details"):
            kind = plain(details.findtext("staff-type"))
            staff = round(number(details.get("number"), 1.0))
            if kind in ("ossia", "cue", "alternate"):
                self.unplayed.add(staff)
            elif kind:
                self.unplayed.discard(staff)

    def _offset(self, direction: Element) -> float:
        """Quarters a direction stands off its place in the file, where that means a time.

        MusicXML 4.0 lets an offset move the picture only, unless it says sound="yes"; but
        the ends of hairpins inside long notes are written with it too.
        """
        offset = direction.find("offset")
        if offset is None:
            return 0.0
        quarters = number(offset.text) / self.divisions
        spans = direction.find("direction-type/wedge") is not None
        nudge = abs(quarters) <= _NUDGE and offset.get("sound") != "yes" and not spans
        return 0.0 if nudge else quarters


def _goes_on(after: Sequence[Element]) -> bool:
    """Tell whether the next note of the file belongs to the chord before it."""
    for element in after:
        if element.tag in ("note", "backup", "forward"):
            return element.tag == "note" and element.find("chord") is not None
    return False
