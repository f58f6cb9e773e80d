"""Every notehead of the page once, read from its ``<note>`` and named by an identifier.

The identifier is written onto the ``<note>`` itself, so that an engraving made from
the same page carries it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from auditor.errors import ScoreError
from auditor.score.signs import TYPE_QUARTERS, number, plain

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
# Names of MusicXML 4.0 -> word of ours, by the element they stand in.
_ARTICULATIONS = {
    "staccatissimo": "staccatissimo", "spiccato": "spiccato", "staccato": "staccato",
    "detached-legato": "portato", "strong-accent": "marcato", "accent": "accent",
    "soft-accent": "accent", "tenuto": "tenuto", "breath-mark": "breath",
    "caesura": "caesura", "scoop": "scoop", "plop": "plop", "doit": "doit",
    "falloff": "falloff",
}  # fmt: skip
_TECHNICAL = {
    "up-bow": "up-bow", "down-bow": "down-bow", "snap-pizzicato": "snap-pizz",
    "fingernails": "pizz", "harmonic": "harmonic", "stopped": "stopped", "open": "open",
    "open-string": "open", "double-tongue": "double-tongue", "triple-tongue": "triple-tongue",
    "thumb-position": "thumb", "half-muted": "half-stopped", "golpe": "golpe",
}  # fmt: skip
_ORNAMENTS = {
    "trill-mark": "trill", "shake": "trill", "wavy-line": "trill", "turn": "turn",
    "delayed-turn": "turn", "inverted-turn": "turn", "delayed-inverted-turn": "turn",
    "vertical-turn": "turn", "inverted-vertical-turn": "turn", "mordent": "mordent",
    "inverted-mordent": "mordent", "schleifer": "schleifer",
}  # fmt: skip
_OTHERS = {
    "fermata": "fermata", "arpeggiate": "arpeggio", "glissando": "glissando",
    "slide": "glissando",
}  # fmt: skip
# What an accent adds in dynamic steps (common practice, no source).
ACCENT_STEPS = 0.5
STRONG_ACCENT_STEPS = 1.0
_STRESS = {"accent": ACCENT_STEPS, "marcato": STRONG_ACCENT_STEPS}
# Three strokes in all, beams of the note included, are played unmeasured; fewer are read as
# repeated notes (common practice, no source).
_UNMEASURED_STROKES = 3
_BEAMS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}
# Outside this the number is no MIDI pitch.
_PITCHES = range(128)


@dataclass(frozen=True, slots=True)
class Notehead:
    """One notehead as printed.

    Parameters
    ----------
    element
        The identifier stamped on it: part, place of the bar on the page, count in the bar.
    part
        Number of the part.
    bar
        0-based bar on the page.
    at, duration
        Quarters from the barline, and length.
    pitch
        MIDI number as printed; 0 without pitch.
    voice
        Voice, with the staff before it (``2.5``) where the part has several.
    tied_on, tied_back
        A tie begins here, or ends here.
    stress
        Dynamic steps its accents add.
    beside
        How many noteheads its chord has.
    spelling
        The printed note by name, ``F#4``; empty without pitch.
    staff
        1-based staff within the part.
    stem
        ``up``, ``down``, or empty where the file does not say.
    instrument
        The file's identifier of the instrument that plays it, for kits; empty if none.
    shape
        Form of the head where it is not the usual one: ``diamond``, ``x``, ``slash``.
    string
        What a harmonic's head shows: ``base``, ``touching``, ``sounding`` or empty.
    lift
        Semitones the note sounds above what is printed, for harmonics.
    event
        Count of the chord or single note within the part, in the file's order.
    small
        Printed in cue size.
    """

    element: str
    part: int
    bar: int
    at: float
    duration: float
    pitch: int
    voice: str
    grace: bool
    unpitched: bool
    tied_on: bool
    tied_back: bool
    techniques: tuple[str, ...]
    stress: float
    beside: int = 1
    spelling: str = ""
    staff: int = 1
    stem: str = ""
    instrument: str = ""
    shape: str = ""
    string: str = ""
    lift: int = 0
    event: int = 0
    small: bool = False


@dataclass(slots=True)
class RawNote:
    """One ``<note>`` taken apart.

    Parameters
    ----------
    element
        The ``<note>``.
    quarters
        Its length; 0 for a grace note.
    sounds
        False for rests and cue notes, which nobody plays.
    slurs
        Type and number of the slurs that begin, go on or end here.
    dynamics
        ``<dynamics>`` that hang on it.
    """

    element: Element
    quarters: float = 0.0
    chord: bool = False
    sounds: bool = True
    grace: bool = False
    small: bool = False
    hidden: bool = False
    pitch: Element | None = None
    voice: str = ""
    staff: int = 1
    stem: str = ""
    type: str = ""
    dots: int = 0
    shape: str = ""
    instrument: str = ""
    string: str = ""
    ties: set[str] = field(default_factory=set)
    words: set[str] = field(default_factory=set)
    slurs: list[tuple[str, str]] = field(default_factory=list)
    dynamics: list[Element] = field(default_factory=list)


def take_apart(note: Element, divisions: float) -> RawNote:
    """Read what a ``<note>`` says, its length in quarters."""
    raw = RawNote(note)
    notations: list[Element] = []
    duration: str | None = None
    for child in note:
        tag = child.tag
        if tag == "pitch":
            raw.pitch = child
        elif tag == "duration":
            duration = child.text
        elif tag == "voice":
            raw.voice = plain(child.text)
        elif tag == "type":
            raw.type = plain(child.text)
            raw.small = child.get("size") in ("cue", "grace-cue")
        elif tag == "dot":
            raw.dots += 1
        elif tag == "notations":
            notations.append(child)
        elif tag == "chord":
            raw.chord = True
        elif tag in ("rest", "cue"):
            raw.sounds = False
        elif tag == "grace":
            raw.grace = True
        elif tag == "tie":
            raw.ties.add(child.get("type", ""))
        elif tag == "stem":
            raw.stem = plain(child.text)
        elif tag == "staff":
            raw.staff = max(1, min(99, round(number(child.text, 1.0))))
        elif tag == "notehead":
            raw.shape = plain(child.text)
        elif tag == "instrument":
            raw.instrument = child.get("id", "")
    raw.hidden = note.get("print-object") == "no"
    if not raw.grace:
        raw.quarters = _quarters(raw, duration, divisions)
    for each in notations:
        _read_notations(raw, each)
    return raw


def _quarters(raw: RawNote, duration: str | None, divisions: float) -> float:
    """Length from the duration, or from the printed value where a file leaves that out."""
    if duration is not None:
        return max(0.0, number(duration)) / divisions
    value = TYPE_QUARTERS.get(raw.type, 0.0) * (2.0 - 0.5 ** min(4, raw.dots))
    actual = number(raw.element.findtext("time-modification/actual-notes"), 1.0)
    normal = number(raw.element.findtext("time-modification/normal-notes"), 1.0)
    return value * normal / actual if actual > 0 and normal > 0 else value


def join(raw: RawNote, first: RawNote) -> None:
    """Give a chord's later note what it leaves to the first to say.

    Old exporters forget the dots in the duration of later notes; where the printed value is
    that of the first, so is the length.
    """
    raw.voice = raw.voice or first.voice
    raw.stem = raw.stem or first.stem
    raw.grace = first.grace
    if raw.type and (raw.type, raw.dots) == (first.type, first.dots):
        raw.quarters = first.quarters


def _read_notations(raw: RawNote, notations: Element) -> None:
    for sign in notations:
        tag = sign.tag
        if tag == "slur":
            raw.slurs.append((sign.get("type", ""), sign.get("number", "1")))
        elif tag == "articulations":
            raw.words.update(_ARTICULATIONS[s.tag] for s in sign if s.tag in _ARTICULATIONS)
        elif tag == "tied":
            if raw.element.find("tie") is None:
                raw.ties.add(sign.get("type", ""))
        elif tag == "dynamics":
            raw.dynamics.append(sign)
        elif tag == "ornaments":
            raw.words.update(_ornaments(sign, raw.type))
        elif tag == "technical":
            _read_technical(raw, sign)
        elif tag in _OTHERS:
            raw.words.add(_OTHERS[tag])


def _ornaments(ornaments: Element, kind: str) -> Iterator[str]:
    for sign in ornaments:
        if sign.tag == "tremolo":
            strokes = number(sign.text, 3.0) + _BEAMS.get(kind, 0)
            free = sign.get("type") == "unmeasured" or strokes >= _UNMEASURED_STROKES
            yield "tremolo" if free else "tremolo-measured"
        elif sign.tag in _ORNAMENTS:
            yield _ORNAMENTS[sign.tag]


def _read_technical(raw: RawNote, technical: Element) -> None:
    for sign in technical:
        if sign.tag in _TECHNICAL:
            raw.words.add(_TECHNICAL[sign.tag])
        if sign.tag == "harmonic":
            for role in ("base", "touching", "sounding"):
                if sign.find(f"{role}-pitch") is not None:
                    raw.string = role


def written(pitch: Element | None) -> str:
    """Step, alteration and octave as the file has them, to tell ties apart."""
    if pitch is None:
        return ""
    return "/".join(plain(pitch.findtext(tag)) for tag in ("step", "alter", "octave"))


def heads_of(
    chord: list[RawNote], *, part: int, bar: int, at: float, first: int, event: int, staves: int
) -> Iterator[Notehead]:
    """Noteheads of a chord or single note; sets each ``<note>``'s identifier.

    Parameters
    ----------
    chord
        Its notes in the file's order.
    part, bar, at
        Where it stands.
    first
        Noteheads of this part in this bar before it.
    event
        Count of chords of this part before it.
    staves
        Staves of the part.
    """
    # Signs at the head of a chord hold for all of it; ties and harmonics do not.
    shared = chord[0].words - {"harmonic"}
    for count, raw in enumerate(chord, start=first + 1):
        identifier = f"p{part}m{bar + 1}n{count}"
        raw.element.set("id", identifier)
        words = raw.words | shared
        # Slashes give a rhythm, not a pitch.
        pitch, spelling = _pitched(None if raw.shape == "slash" else raw.pitch)
        yield Notehead(
            element=identifier,
            part=part,
            bar=bar,
            at=at,
            duration=raw.quarters,
            pitch=pitch,
            voice=f"{raw.staff}.{raw.voice or '1'}" if staves > 1 else raw.voice or "1",
            grace=raw.quarters <= 0,  # some files write ornaments as notes without length
            unpitched=not spelling,
            tied_on=bool(raw.ties & {"start", "continue"}),
            tied_back=bool(raw.ties & {"stop", "continue"}),
            techniques=tuple(words),
            stress=max((_STRESS.get(word, 0.0) for word in words), default=0.0),
            beside=len(chord),
            spelling=spelling,
            staff=raw.staff,
            stem=raw.stem if raw.stem in ("up", "down") else "",
            instrument=raw.instrument,
            shape=raw.shape if raw.shape != "normal" else "",
            string=raw.string,
            event=event,
            small=raw.small and not raw.grace,
        )


def _pitched(pitch: Element | None) -> tuple[int, str]:
    """MIDI number and name of a ``<pitch>``; 0 and nothing without one."""
    if pitch is None:
        return 0, ""
    step = plain(pitch.findtext("step"))
    octave = plain(pitch.findtext("octave"))
    if step not in _STEPS or not octave.lstrip("-").isdigit():
        raise ScoreError(f"a note of step '{step[:9]}' and octave '{octave[:9]}'")
    alter = number(pitch.findtext("alter"))
    # "octave 4 is the octave started by middle C" (MusicXML 4.0), which is MIDI 60.
    found = round(12.0 * (min(99, int(octave[:4])) + 1) + _STEPS[step] + alter)
    if found not in _PITCHES or abs(alter) > 3:
        raise ScoreError(f"a note of MIDI number {found}, outside 0 to 127")
    signs = ("#" if alter > 0 else "-") * int(abs(alter))
    return found, f"{step}{signs}{int(octave)}"
