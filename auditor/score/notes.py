"""What the page says: notes, the parts and lines they form, and the bars they stand in.

Times here are quarter notes from the first barline; nothing in this module
knows about seconds, samples or decibels.

Two axes: the *written* one runs through the page once; the *played* one runs
through it in the order the repeats ask for. Bars and notes of a `Score` stand on
the played axis and carry their written place beside it.

Dynamics are steps: pp 0, p 1, mp 2, mf 3, f 4, ff 5; ppp -1, fff 6; a hairpin
gives values between.
"""

from __future__ import annotations

from dataclasses import dataclass

from auditor.errors import ScoreError


@dataclass(frozen=True, slots=True)
class Instrument:
    """One entry of the instrument table, or the generic one for a name nobody knows.

    Parameters
    ----------
    key
        Stable lower-case identifier with hyphens, singular: ``english-horn``.
    name
        English name for reports.
    family
        ``woodwind``, ``saxophone``, ``brass``, ``percussion``, ``plucked``,
        ``keyboard``, ``strings``, ``voice`` or ``other``.
    kind
        ``sustained``, ``struck`` or ``plucked``.
    low, high
        Sounding MIDI range that players use.
    transposition
        Semitones from written to sounding.
    pitched
        False for drums and cymbals without pitch.
    known
        False when the table has no entry and the generic one was taken.
    """

    key: str
    name: str
    family: str
    kind: str
    low: int
    high: int
    transposition: int = 0
    pitched: bool = True
    known: bool = True


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the file's part list; staves of one part are one part.

    Parameters
    ----------
    number
        1-based position in the file's part list.
    id
        The file's own part identifier.
    name
        The name as printed.
    instrument
        What plays it.
    players
        Players assumed (a string section counts its players).
    """

    number: int
    id: str
    name: str
    instrument: Instrument
    players: float = 1.0


@dataclass(frozen=True, slots=True)
class Line:
    """One stream a listener could follow.

    Parameters
    ----------
    number
        1-based, in score order.
    part
        Number of the part it belongs to.
    name
        Name for reports: ``Oboe 1``.
    instrument
        What plays it.
    players
        Players on the line.
    """

    number: int
    part: int
    name: str
    instrument: Instrument
    players: float = 1.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar as it is played.

    Parameters
    ----------
    index
        0-based position on the played axis.
    number
        Number as printed (``"12"``, ``"X1"``).
    written_index
        0-based position on the page.
    pass_number
        1 the first time the bar is played, 2 the second.
    onset, duration
        Quarters on the played axis.
    tempo
        Quarters per minute the page asks for, or None where it says nothing.
    """

    index: int
    number: str
    written_index: int
    pass_number: int
    onset: float
    duration: float
    tempo: float | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """One sounding note of one line, ties merged.

    Parameters
    ----------
    id
        Unique in the score: the element's id, with ``.2`` added on the second pass.
    element
        Identifier of the notehead in the engraved page.
    part, line
        Numbers of part and line.
    bar
        Index of the bar on the played axis.
    beat
        1-based place in the bar in quarters.
    onset, duration
        Quarters on the played axis. A grace note has duration 0 and the onset of
        the note it leans on.
    pitch
        Sounding MIDI number; 60 is middle C. 0 when unpitched.
    written_pitch
        MIDI number as printed.
    dynamic
        Level in dynamic steps (see the module), hairpins and accents included.
    dynamic_written
        False when the page gives no dynamic here and mf was assumed.
    techniques
        Sorted words: ``pizz``, ``tremolo``, ``trill``, ``mute``, ``harmonic``,
        ``staccato``, ``accent``, ``solo``, ``fermata``, ``col-legno`` ...
    players
        Players on the note.
    grace, unpitched
        Flags.
    voice
        Voice within the part, for chords split by stems.
    chairs
        Who of the part plays it, 1-based, where the page says so (1., 2., a2, stems up and
        down); empty where it does not.
    spelling
        The printed note by name, sharps as ``#`` and flats as ``-``: ``F#4``, ``B-3``;
        empty when unpitched.
    """

    id: str
    element: str
    part: int
    line: int
    bar: int
    beat: float
    onset: float
    duration: float
    pitch: int
    written_pitch: int
    dynamic: float
    dynamic_written: bool
    techniques: tuple[str, ...] = ()
    players: float = 1.0
    grace: bool = False
    unpitched: bool = False
    voice: str = "1"
    chairs: tuple[int, ...] = ()
    spelling: str = ""

    def __post_init__(self) -> None:
        if self.duration < 0 or (self.duration == 0 and not self.grace):
            raise ScoreError(
                f"note {self.id} lasts {self.duration} quarters; expected more than 0"
            )


@dataclass(frozen=True, slots=True)
class Direction:
    """Something the page says between the notes.

    Parameters
    ----------
    kind
        ``dynamic``, ``hairpin`` (text ``crescendo`` or ``diminuendo``), ``words``,
        ``tempo``, ``rehearsal``, ``slur`` or ``fermata`` (text ``rest`` or ``barline``;
        those over notes are among the techniques).
    part
        Number of the part; 0 for all.
    bar
        Index of the bar on the played axis.
    onset, end
        Quarters on the played axis; ``end`` is ``onset`` for what has no length.
    text
        As printed.
    """

    kind: str
    part: int
    bar: int
    onset: float
    end: float
    text: str


@dataclass(frozen=True, slots=True)
class Score:
    """The page, read.

    Parameters
    ----------
    title
        For the head of the report; empty if the file has none.
    parts, lines
        In score order.
    bars, notes
        On the played axis; notes sorted by onset, then line, then pitch.
    written_bars
        How many bars the page has.
    remarks
        One sentence for each thing that was odd and how it was read.
    directions
        Dynamics, hairpins, words, tempo and rehearsal marks, by onset and part.
    """

    title: str
    parts: tuple[Part, ...]
    lines: tuple[Line, ...]
    bars: tuple[Bar, ...]
    notes: tuple[Note, ...]
    written_bars: int
    remarks: tuple[str, ...] = ()
    directions: tuple[Direction, ...] = ()

    @property
    def duration(self) -> float:
        """Length of the played axis in quarters."""
        return self.bars[-1].onset + self.bars[-1].duration if self.bars else 0.0
