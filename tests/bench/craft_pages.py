"""MusicXML pages for full orchestra, written as text, for faults to be planted in.

They pass through the reader like any user's file: transposing parts are written at their
own pitch, players by staff, words and signs as a notation program would export them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.sax.saxutils import escape

import numpy as np

DIVISIONS = 24
BEATS = 4
_SHARP = (("C", 0), ("C", 1), ("D", 0), ("D", 1), ("E", 0), ("F", 0), ("F", 1), ("G", 0),
          ("G", 1), ("A", 0), ("A", 1), ("B", 0))  # fmt: skip
_FLAT = (("C", 0), ("D", -1), ("D", 0), ("E", -1), ("E", 0), ("F", 0), ("G", -1), ("G", 0),
         ("A", -1), ("A", 0), ("B", -1), ("B", 0))  # fmt: skip
Event = tuple[float, int | tuple[int, ...] | None, dict[str, object]]


@dataclass
class Staff:
    """One part: its printed name, clef, semitones from written to sounding, place."""

    name: str
    clef: str
    sounds: int
    near: int
    bars: dict[int, list[Event]] = field(default_factory=dict)


# Name, clef, semitones from written to sounding, sounding pitch the plain music stays near.
ORCHESTRA = (
    ("Flute 1", "G2", 0, 79), ("Flute 2", "G2", 0, 76), ("Oboe 1", "G2", 0, 74),
    ("Oboe 2", "G2", 0, 69), ("Clarinet in B♭ 1", "G2", -2, 67),
    ("Clarinet in B♭ 2", "G2", -2, 62), ("Bassoon 1", "F4", 0, 53), ("Bassoon 2", "F4", 0, 46),
    ("Horn in F 1", "G2", -7, 64), ("Horn in F 2", "G2", -7, 57), ("Horn in F 3", "G2", -7, 60),
    ("Horn in F 4", "G2", -7, 55), ("Trumpet in C 1", "G2", 0, 72),
    ("Trumpet in C 2", "G2", 0, 67), ("Trombone 1", "F4", 0, 60), ("Trombone 2", "F4", 0, 55),
    ("Bass Trombone", "F4", 0, 48), ("Tuba", "F4", 0, 38), ("Timpani", "F4", 0, 45),
    ("Harp", "G2", 0, 67), ("Violin I", "G2", 0, 76), ("Violin II", "G2", 0, 69),
    ("Viola", "C3", 0, 62), ("Violoncello", "F4", 0, 50), ("Contrabass", "F4", -12, 38),
)  # fmt: skip
_CHORDS = ((0, 4, 7), (5, 9, 0), (9, 0, 4), (2, 5, 9))
_BASS = ("Bassoon 2", "Tuba", "Violoncello", "Contrabass")


class Sheet:
    """A clean page of held chords, free to be spoiled; pitches are sounding MIDI numbers."""

    def __init__(self, rng: np.random.Generator, bars: int = 12, tempo: int = 0) -> None:
        self.rng, self.count = rng, bars
        self.tempo = tempo or int(rng.integers(76, 112))
        self.key = int(rng.integers(-3, 4))
        self.staves = {row[0]: Staff(*row) for row in ORCHESTRA}
        for name in self.staves:
            for bar in range(bars):
                self.plain(name, bar)

    def chord(self, bar: int) -> tuple[int, ...]:
        return tuple((tone + self.key) % 12 for tone in _CHORDS[bar // 2 % 4])

    def home(self, name: str, bar: int) -> int:
        """The plain note of a staff in a bar."""
        near, tones = self.staves[name].near, self.chord(bar)
        if name in _BASS:
            tones = tones[:1]
        return min(
            (p for p in range(near - 6, near + 7) if p % 12 in tones),
            key=lambda p: abs(p - near),
        )

    def plain(self, name: str, bar: int) -> None:
        opening = {"dynamic": "mf"} if bar == 0 else {}
        if name == "Timpani":
            self.put(name, bar, [(1, 45 + self.key, opening), (3, None, {})])
        else:
            self.put(name, bar, [(3, self.home(name, bar), opening), (1, None, {})])

    def put(self, name: str, bar: int, events: list[Event] | list[tuple]) -> None:  # type: ignore[type-arg]
        """Fill a bar: (quarters, pitch or pitches or None for a rest[, signs]) each."""
        full = [(e[0], e[1], dict(e[2]) if len(e) > 2 else {}) for e in events]
        left = BEATS - sum(e[0] for e in full)
        if left > 1e-9:
            full.append((left, None, {}))
        if bar == 0 and not any("dynamic" in e[2] for e in full):
            full[0][2]["dynamic"] = "mf"
        self.staves[name].bars[bar] = full

    def rest(self, name: str, first: int, last: int) -> None:
        for bar in range(first, last + 1):
            self.staves[name].bars[bar] = [(float(BEATS), None, {})]

    def add(self, name: str, clef: str, sounds: int, near: int) -> None:
        """A further staff, resting throughout."""
        self.staves[name] = Staff(name, clef, sounds, near)
        self.rest(name, 0, self.count - 1)

    def rename(self, old: str, new: str) -> None:
        held = {new if n == old else n: s for n, s in self.staves.items()}
        held[new].name = new
        self.staves = held

    def pick(self, given):  # type: ignore[no-untyped-def]
        given = list(given)
        return given[int(self.rng.integers(len(given)))]

    def among(self, low: int, high: int) -> int:
        return int(self.rng.integers(low, high + 1))

    def bar(self, before: int = 2, after: int = 4) -> int:
        return self.among(before, self.count - 1 - after)

    def xml(self) -> str:
        """The page as MusicXML 4.0."""
        names = enumerate(self.staves.values(), start=1)
        listed = "".join(
            f'<score-part id="P{i}"><part-name>{escape(s.name)}</part-name></score-part>'
            for i, s in names
        )
        parts = "".join(
            f'<part id="P{i}">{self._part(i, s)}</part>'
            for i, s in enumerate(self.staves.values(), start=1)
        )
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">'
            f"<part-list>{listed}</part-list>{parts}</score-partwise>"
        )

    def _part(self, number: int, staff: Staff) -> str:
        out = []
        for bar in range(self.count):
            head = self._attributes(staff, first=number == 1) if bar == 0 else ""
            body = "".join(self._event(staff, e) for e in staff.bars[bar])
            out.append(f'<measure number="{bar + 1}">{head}{body}</measure>')
        return "".join(out)

    def _attributes(self, staff: Staff, *, first: bool) -> str:
        moved = -staff.sounds
        octaves, rest = divmod(moved, 12)
        diatonic = {0: 0, 2: 1, 3: 2, 7: 4, 9: 5}.get(rest, rest * 7 // 12)
        transpose = (
            f"<transpose><diatonic>{-diatonic}</diatonic><chromatic>{-rest}</chromatic>"
            + (f"<octave-change>{-octaves}</octave-change>" if octaves else "")
            + "</transpose>"
            if moved
            else ""
        )
        tempo = (
            f"<direction><direction-type><metronome><beat-unit>quarter</beat-unit>"
            f"<per-minute>{self.tempo}</per-minute></metronome></direction-type>"
            f'<sound tempo="{self.tempo}"/></direction>'
            if first
            else ""
        )
        return (
            f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>0</fifths></key>"
            f"<time><beats>4</beats><beat-type>4</beat-type></time><clef><sign>{staff.clef[0]}"
            f"</sign><line>{staff.clef[1]}</line></clef>{transpose}</attributes>{tempo}"
        )

    def _event(self, staff: Staff, event: Event) -> str:
        quarters, pitches, signs = event
        length = f"<duration>{round(quarters * DIVISIONS)}</duration>"
        out = "".join(_directions(signs))
        if pitches is None:
            return f"{out}<note><rest/>{length}<voice>1</voice></note>{_closing(signs)}"
        row = pitches if isinstance(pitches, tuple) else (pitches,)
        for k, pitch in enumerate(row):
            tie = signs.get("tie", "")
            ties = "".join(f'<tie type="{t}"/>' for t in ("stop", "start") if t in str(tie))
            chord = "<chord/>" if k else ""
            spelled = self._pitch(pitch - staff.sounds, bool(signs.get("sharps")))
            out += (
                f"<note>{chord}{spelled}{length}{ties}<voice>1</voice>"
                f"{_notations(signs, first=k == 0)}</note>"
            )
        return out + _closing(signs)

    def _pitch(self, written: int, sharps: bool) -> str:
        table = _SHARP if sharps or self.key > 0 else _FLAT
        step, alter = table[written % 12]
        sign = f"<alter>{alter}</alter>" if alter else ""
        return f"<pitch><step>{step}</step>{sign}<octave>{written // 12 - 1}</octave></pitch>"


def _directions(signs: dict[str, object]) -> list[str]:
    """What stands before a note: dynamics, words, the beginning of a hairpin."""
    out = []
    if "dynamic" in signs:
        out.append(_direction(f"<dynamics><{signs['dynamic']}/></dynamics>"))
    if "words" in signs:
        out.append(_direction(f"<words>{escape(str(signs['words']))}</words>"))
    if "hairpin" in signs:
        out.append(_direction(f'<wedge type="{signs["hairpin"]}"/>'))
    return out


def _closing(signs: dict[str, object]) -> str:
    return _direction('<wedge type="stop"/>') if "hairpin-ends" in signs else ""


def _direction(inside: str) -> str:
    return f"<direction><direction-type>{inside}</direction-type></direction>"


def _notations(signs: dict[str, object], *, first: bool) -> str:
    tie = str(signs.get("tie", ""))
    out = "".join(f'<tied type="{t}"/>' for t in ("stop", "start") if t in tie)
    if first:
        for slur in str(signs.get("slur", "")).split():
            out += f'<slur type="{slur}" number="1"/>'
        marks = str(signs.get("signs", "")).split()
        technical = "".join(f"<{m}/>" for m in marks if m in ("stopped", "harmonic"))
        articulations = "".join(
            f'<{m} type="up"/>' if m == "strong-accent" else f"<{m}/>"
            for m in marks
            if m not in ("stopped", "harmonic", "fermata")
        )
        out += f"<technical>{technical}</technical>" if technical else ""
        out += f"<articulations>{articulations}</articulations>" if articulations else ""
        out += "<fermata/>" if "fermata" in marks else ""
    return f"<notations>{out}</notations>" if out else ""
