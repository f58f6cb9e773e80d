"""What the XML shows of who plays beside the notes: clefs, rests, switches and new names."""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from auditor.score.noteheads import RawNote


@dataclass(frozen=True, slots=True)
class Clef:
    """A clef at a place of the page.

    Parameters
    ----------
    bar, at
        0-based bar on the page, and quarters from the barline.
    staff
        Number of the staff in its part, from 1.
    sign
        ``G``, ``F``, ``C`` ...
    octave
        Octaves a small 8 above (1) or below (-1) moves it.
    """

    bar: int
    at: float
    staff: int
    sign: str
    octave: int


@dataclass(frozen=True, slots=True)
class Rest:
    """A printed rest of one voice; place and length in quarters."""

    bar: int
    at: float
    duration: float
    voice: str


@dataclass(slots=True)
class Seats:
    """What one part's staves show of its players, in the order of the page.

    Parameters
    ----------
    clefs, rests
        All of the part.
    switches
        Bar, place and identifier wherever playback changes to another instrument.
    labels
        Bar and name wherever the printed name of the part changes.
    """

    clefs: list[Clef] = field(default_factory=list)
    rests: list[Rest] = field(default_factory=list)
    switches: list[tuple[int, float, str]] = field(default_factory=list)
    labels: list[tuple[int, str]] = field(default_factory=list)

    def see_rest(self, bar: int, at: float, staves: int, raw: RawNote) -> None:
        """Take a rest, if it is one and printed."""
        if raw.element.find("rest") is not None and not raw.hidden:
            voice = f"{raw.staff}.{raw.voice}" if staves > 1 else raw.voice
            self.rests.append(Rest(bar, at, raw.quarters, voice))

    def see(self, bar: int, at: float, element: Element) -> None:
        """Take what attributes, directions, sounds and prints say of players."""
        if element.tag == "attributes":
            self.clefs.extend(_clef(bar, at, clef) for clef in element.findall("clef"))
        elif element.tag in ("direction", "sound"):
            # MusicXML 4.0, <instrument-change>, inside <sound>.
            changes = (
                element.iter("instrument-change")
                if element.tag == "sound"
                else element.iterfind("sound/instrument-change")
            )
            self.switches.extend((bar, at, change.get("id", "")) for change in changes)
        elif element.tag == "print":
            pieces = element.findall("part-name-display/display-text")
            name = " ".join(" ".join(piece.text or "" for piece in pieces).split())
            if name:
                self.labels.append((bar, name))


def _clef(bar: int, at: float, clef: Element) -> Clef:
    octave = (clef.findtext("clef-octave-change") or "0").strip()
    number = (clef.get("number") or "1").strip()
    return Clef(
        bar=bar,
        at=at,
        staff=int(number) if number.isascii() and number.isdigit() else 1,
        sign=(clef.findtext("sign") or "").strip(),
        octave=int(octave) if octave in ("-2", "-1", "0", "1", "2") else 0,
    )
