"""Which instrument a part is, from its name, its sound identifier and its MIDI program.

The table is `instruments.tsv`; its last column says where each range comes from.
Sections count the players of Rimsky-Korsakov's medium string body (*Principles of
Orchestration*, ch. I: 12, 10, 8, 6, 4-6).
"""

from __future__ import annotations

import csv
import re
import unicodedata
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from auditor.score.notes import Instrument

# MusicXML part names that say nothing; the sound and program decide then.
_EMPTY_NAMES = frozenset(
    {
        "",
        "musicxml part",
        "part",
        "instrument",
        "staff",
        "track",
        "untitled",
        "unnamed",
        "voice",
    }
)
# Single names that are also a register, a key or a numeral: they count only when nothing
# else in the name does ("B basso Horn", "Alto Trombone", "Violino I").
_WEAK = frozenset((
    "a", "alt", "alti", "alto", "altus", "b", "bar", "bariton", "baritone", "baritoni",
    "baritono", "baryton", "barytons", "bass", "basse", "basses", "bassi", "basso", "bassus",
    "br", "c", "canto", "cantus", "cassa", "continuo", "contralti", "contralto", "dessus",
    "drum", "mar", "piccoli", "piccolo", "pistons", "pos", "s", "sopr", "sopran", "soprane",
    "soprani", "soprano", "sopranos", "strings", "superius", "t", "taille", "ten", "tenor",
    "tenore", "tenori", "tenors", "tr", "trommel", "tube", "v", "vi", "voce", "voice",
    "voices",
))  # fmt: skip
_SECOND_VIOLINS = 10.0


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the table.

    Parameters
    ----------
    instrument
        The instrument as it is usually written.
    players
        Players of one part in a medium orchestra.
    sounds
        MusicXML sound identifiers.
    program
        General MIDI program, 1 to 128; 0 for none.
    names
        Names in lower case without accents.
    source
        Where the range comes from.
    """

    instrument: Instrument
    players: float
    sounds: tuple[str, ...]
    program: int
    names: tuple[str, ...]
    source: str


_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def _midi(name: str) -> int:
    step, rest = name[0], name[1:]
    accidental = rest.count("#") - rest.count("b")
    return 12 * (int(rest.strip("#b")) + 1) + _STEPS[step] + accidental


@cache
def table() -> tuple[Entry, ...]:
    """Every instrument that is known, in score order."""
    text = (files("auditor.score") / "instruments.tsv").read_text(encoding="utf-8")
    return tuple(_entry(row) for row in csv.DictReader(text.splitlines(), delimiter="\t"))


def _entry(row: dict[str, str]) -> Entry:
    instrument = Instrument(
        key=row["key"],
        name=row["name"],
        family=row["family"],
        kind=row["kind"],
        low=_midi(row["low"]),
        high=_midi(row["high"]),
        transposition=int(row["transposition"]),
        pitched=row["pitched"] == "1",
    )
    return Entry(
        instrument=instrument,
        players=float(row["players"]),
        sounds=tuple(row["sounds"].split(",")),
        program=int(row["program"]),
        names=tuple(row["names"].split(";")),
        source=row["source"],
    )


@cache
def _by_key() -> dict[str, Entry]:
    return {entry.instrument.key: entry for entry in table()}


@cache
def _by_name() -> dict[tuple[str, ...], Entry]:
    return {tuple(name.split()): entry for entry in table() for name in entry.names}


@cache
def _by_sound() -> dict[str, Entry]:
    return {sound: entry for entry in table() for sound in entry.sounds}


@cache
def _by_program() -> dict[int, Entry]:
    # Several instruments share a program; the one whose name General MIDI uses is wanted.
    usual = "flute clarinet oboe bassoon horn trumpet trombone tuba recorder violin viola cello"
    found: dict[int, Entry] = {}
    for entry in table():
        key = entry.instrument.key
        if entry.program and (entry.program not in found or key in usual.split()):
            found[entry.program] = entry
    choir = _by_key()["choir"]
    strings = _by_key()["string-section"]
    # General MIDI: 45-46 and 49-52 strings, 53-55 voices, 60 a muted trumpet.
    found.update({45: strings, 46: strings, 49: strings, 50: strings, 51: strings, 52: strings})
    found.update({53: choir, 54: choir, 55: choir, 60: _by_key()["trumpet"]})
    found.update({2: found[1], 3: found[1], 4: found[1], 17: found[20], 18: found[20]})
    return found


def entry(key: str) -> Entry:
    """Row of the table for a key.

    Raises
    ------
    KeyError
        If the table has no such key.
    """
    return _by_key()[key]


def words_of(name: str) -> tuple[str, ...]:
    """Lower-case words of a printed name, without accents, signs and flats.

    >>> words_of("2. Flöte"), words_of("B♭-Klarinette")
    (('2', 'flote'), ('bb', 'klarinette'))
    """
    text = name.replace("♭", "b").replace("♯", "#").replace("ß", "ss").replace("œ", "oe")
    plain = "".join(
        c for c in unicodedata.normalize("NFKD", text.lower()) if not unicodedata.combining(c)
    )
    # "1er", "2nd" and "Vl.1" carry their number beside the word.
    plain = re.sub(r"(\d+)(?:st|nd|rd|th|er|re|eme|e|o|a)\b", r"\1", plain)
    plain = re.sub(r"(?<=[a-z])(?=\d)|(?<=\d)(?=[a-z])", " ", plain)
    return tuple(re.findall(r"[a-z#]+|\d+", plain))


def named(name: str) -> Entry | None:
    """Entry a printed name stands for, or None.

    The longest known name inside wins; single words that may be a register or a
    key count last, and of equals the first.
    """
    words = words_of(name)
    if " ".join(w for w in words if not w.isdigit()) in _EMPTY_NAMES - {"voice"}:
        return None
    weak: Entry | None = None
    for length in range(min(len(words), 5), 0, -1):
        for start in range(len(words) - length + 1):
            span = words[start : start + length]
            found = _by_name().get(span)
            if found is None:
                continue
            if length > 1 or span[0] not in _WEAK:
                return found
            weak = weak or found
    return weak


def exactly(words: tuple[str, ...]) -> Entry | None:
    """Entry whose name these words are, no word more and none less; None if there is none."""
    return _by_name().get(words)


def all_named(name: str) -> tuple[str, ...]:
    """List the keys of the instruments that a name joins with a sign or an "and".

    >>> all_named("Violoncelli e Contrabassi"), all_named("Flute/Piccolo"), all_named("Flute")
    (('cello', 'double-bass'), ('flute', 'piccolo'), ('flute',))
    """
    plain = re.sub(r"\(.*?\)|\[.*?\]", " ", name)
    pieces = re.split(r"[/&+,;]|\s(?:e|et|und|and|u\.)\s", plain)
    found = [entry for entry in map(named, pieces) if entry is not None]
    return tuple(dict.fromkeys(entry.instrument.key for entry in found))


def sounding(sound: str) -> Entry | None:
    """Entry of a MusicXML sound identifier, or of its nearest known ancestor."""
    steps = sound.split(".")
    for length in range(len(steps), 0, -1):
        found = _by_sound().get(".".join(steps[:length]))
        if found is not None:
            return found
    return None


def recognise(
    name: str,
    *,
    abbreviation: str = "",
    instrument_name: str = "",
    sound: str = "",
    program: int | None = None,
    as_string: bool = False,
) -> tuple[Instrument, float]:
    """Instrument of a part and the players assumed for it.

    A name outweighs a sound identifier, and that a MIDI program: programs are left
    at their default by many exporters. A name of one ambiguous word ("Bass",
    "Alto") gives way to the sound identifier.

    Parameters
    ----------
    name, abbreviation, instrument_name
        As the file gives them; the first that is known counts.
    sound
        MusicXML ``instrument-sound``.
    program
        General MIDI program, 1 to 128.
    as_string
        Read "Bass" and "Alto" as the string instruments: nobody sings in this part
        and the score has a string body.
    """
    # Program 1 is what exporters write when nobody chose one.
    by_program = _by_program().get(program) if program and program > 1 else None
    elsewhere = (sounding(sound) if sound else None) or by_program
    found: Entry | None = None
    for text in (name, instrument_name, abbreviation):
        found = named(text)
        if found is not None:
            if _ambiguous(text):
                found = elsewhere or (_as_string(found) if as_string else found)
            break
    found = found or elsewhere
    if found is None:
        return _generic(name or instrument_name), 1.0
    return found.instrument, _players(found, name)


def _as_string(found: Entry) -> Entry:
    twins = {"bass": "double-bass", "alto": "viola"}
    return _by_key()[twins.get(found.instrument.key, found.instrument.key)]


def _ambiguous(text: str) -> bool:
    spoken = [w for w in words_of(text) if not w.isdigit()]
    known = [w for w in spoken if (w,) in _by_name()]
    return len(spoken) <= 2 and all(w in _WEAK for w in known)


def _generic(name: str) -> Instrument:
    return Instrument(
        key="unknown",
        name=name or "Unnamed",
        family="other",
        kind="sustained",
        low=21,
        high=108,
        known=False,
    )


_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6}


def numbers_of(name: str) -> tuple[int, ...]:
    """Read the desk numbers in a part's name.

    >>> numbers_of("Cors 1-2 en fa"), numbers_of("Violino II"), numbers_of("Horns I.III.")
    ((1, 2), (2,), (1, 3))
    """
    plain = re.sub(r"\(.*?\)|\[.*?\]", " ", name)
    span = re.search(r"(\d+)\s*[-–]\s*(\d+)", plain)
    if span and 0 < int(span.group(1)) < int(span.group(2)) <= 16:
        return tuple(range(int(span.group(1)), int(span.group(2)) + 1))
    words = words_of(plain)
    found = [int(w) for w in words if w.isdigit()]
    found = found or [_ROMAN[w] for w in words[1:] if w in _ROMAN]
    return tuple(n for n in found if 0 < n <= 16)


# Plural names without numbers stand for a pair (common practice, no source).
_PAIRS = frozenset((
    "flutes", "flauti", "floten", "oboes", "oboi", "oboen", "clarinets", "clarinetti",
    "klarinetten", "clarinettes", "bassoons", "fagotti", "fagotte", "bassons", "horns",
    "corni", "horner", "cors", "trumpets", "trombe", "trompeten", "trompettes", "trombones",
    "tromboni", "posaunen", "cornets", "tubas", "piccolos",
))  # fmt: skip
_COUNT_WORDS = {
    "due": 2, "deux": 2, "zwei": 2, "two": 2, "tre": 3, "trois": 3, "drei": 3, "three": 3,
    "quattro": 4, "quatre": 4, "vier": 4, "four": 4, "sechs": 6, "six": 6, "sei": 6,
}  # fmt: skip


def _players(found: Entry, name: str) -> float:
    words = words_of(name)
    numbers = numbers_of(name)
    if found.instrument.family == "strings":
        if {"solo", "principal", "concertante"} & set(words):
            return 1.0
        if found.instrument.key == "violin" and numbers == (2,):
            return _SECOND_VIOLINS
        if found.instrument.key == "violin" and numbers == (1, 2):
            return found.players + _SECOND_VIOLINS
        return found.players
    if found.instrument.family in ("woodwind", "saxophone", "brass"):
        return _wind_players(words, numbers)
    return found.players


def _wind_players(words: tuple[str, ...], numbers: tuple[int, ...]) -> float:
    plural = bool(_PAIRS & set(words))
    if len(set(numbers)) > 1:
        return float(len(set(numbers)))
    if plural and numbers and words[0] == str(numbers[0]):
        return float(numbers[0])  # "4 Corni" counts them, "Corni 4" and "4. Horn" do not
    if words and words[0] in _COUNT_WORDS:
        return float(_COUNT_WORDS[words[0]])
    return 2.0 if plural and not numbers else 1.0


def as_written(instrument: Instrument, transposition: int) -> Instrument:
    """Take over the transposition this file uses, in semitones."""
    return replace(instrument, transposition=transposition)
