"""Strings: stops, harmonics, divided sections, notes below the double bass's low string."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from functools import lru_cache

from auditor.craft.fingering import Neck, best_fingering, from_nut_mm, neck_of
from auditor.craft.limits import CraftLimits
from auditor.craft.naming import note_name, pitch_name
from auditor.craft.page import Chord, Page, about, chord_of
from auditor.craft.remark import Remark
from auditor.findings.wording import listed, mark
from auditor.score.notes import Note, Part

FINGERING = (
    "C. Forsyth, Orchestration (1914), 316-317, and the open strings in music21 10.5; "
    "reach from memory"
)
SHORT_CHORDS = "N. Rimsky-Korsakov, Principles of Orchestration (1922), ch. II"
HARMONICS = (
    "F. H. Martens, Violin Mastery (1919), O. Sametini on harmonics: the major triad of each "
    "open string, and a fourth touched above a stopped note"
)
LOW_STRING = "E. Prout, The Orchestra I (1899), 19: E1 is the lowest string of the double bass"
DIVISI = (
    "N. Rimsky-Korsakov, Principles of Orchestration (1922), 6-7: write for the medium body"
)

# Semitones above the open string at which partials 2 to 8 sound, and where they are touched.
_SOUNDS = {2: 12, 3: 19, 4: 24, 5: 28, 6: 31, 7: 34, 8: 36}
_NODES = {
    2: (12,), 3: (7, 19), 4: (5, 24), 5: (4, 9, 16, 28), 6: (3, 31), 7: (3, 6, 34), 8: (2, 36),
}  # fmt: skip
# Semitones touched above a stopped note, and how far above it the harmonic sounds.
_TOUCHED = {5: 24, 7: 19, 4: 28}
# "non div." and its kin hold until a word divides or unites the section.
_WORDS = (
    (re.compile(r"\b(non|senza|nicht)[ .]*(div|get)|\bungeteilt"), "together"),
    (re.compile(r"\bdiv(\.|isi|is[ée]|\b)|\bget(\.|eilt)|\bgeth\."), "divided"),
    (re.compile(r"\bunis|\btutti|\bzusammen"), ""),
)


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on the strings."""
    for part in page.parts_of("violin", "viola", "cello", "double-bass"):
        neck = neck_of(part.instrument.key, limits)
        if neck is None:
            continue
        yield from stops(page, part, neck, limits)
        yield from harmonics(page, part, neck, limits)
        yield from divisions(page, part, limits)
        if part.instrument.key == "double-bass":
            yield from below_low_string(page, part, limits)


class Sharing:
    """Who plays a chord of a section: everybody, or its players divided among the notes."""

    def __init__(self, page: Page, part: Part) -> None:
        self.players = part.players
        self.places: list[float] = []
        self.words: list[str] = []
        for direction in page.directions_of(part.number):
            if direction.kind != "words" or direction.part != part.number:
                continue
            text = direction.text.lower()
            found = next((word for pattern, word in _WORDS if pattern.search(text)), None)
            if found is not None:
                self.places.append(direction.onset)
                self.words.append(found)

    def at(self, note: Note) -> str:
        """``one`` hand plays what it is given, ``divided``, or ``unmarked`` by the page."""
        right = bisect_right(self.places, note.onset + 0.01)
        word = self.words[right - 1] if right else ""
        alone = "solo" in note.techniques and note.players < 2
        if self.players < 2 or alone or word == "together":
            return "one"
        if word == "divided" or "div" in note.techniques:
            return "divided"
        return "unmarked"


@lru_cache(maxsize=4096)
def _stretch(pitches: tuple[int, ...], neck: Neck, bowed: bool) -> float | None:
    found = best_fingering(pitches, neck, bowed=bowed)
    return None if found is None else found.stretch_mm


def stops(page: Page, part: Part, neck: Neck, limits: CraftLimits) -> Iterator[Remark]:
    """Chords that one left hand cannot finger, or only with a stretch; chords too soft."""
    sharing = Sharing(page, part)
    for chord in page.sounding(part.number, by_voice=part.players >= 2):
        if len(chord.notes) < 2 or any("harmonic" in n.techniques for n in chord.notes):
            continue
        who = sharing.at(chord.notes[0])
        if who == "one" and len({n.voice for n in chord.notes}) > 1:
            who = "unmarked"  # stems apart may be two soloists who share a part
            if len(chord.pitches) == 1:
                continue
        if who != "divided" and not _offers_octave(chord, part, limits):
            yield from _stop(chord, who, neck, limits)


def _offers_octave(chord: Chord, part: Part, limits: CraftLimits) -> bool:
    """Whether a double bass part gives a low note and, for those who lack it, its octave."""
    low, *others = chord.pitches
    return (
        part.instrument.key == "double-bass" and low < limits.low_bass and others == [low + 12]
    )


def _stop(chord: Chord, who: str, neck: Neck, limits: CraftLimits) -> Iterator[Remark]:
    words = set(chord.notes[0].techniques)
    plucked = "pizz" in words or "snap-pizz" in words
    stretch = _stretch(tuple(n.pitch for n in chord.notes), neck, not plucked)
    named = listed([note_name(n) for n in chord.notes], most=6)
    if stretch is None or stretch > neck.widest_mm:
        yield _impossible(chord, named, who, stretch)
    elif stretch > neck.usual_mm and who == "one":
        yield about(
            chord, "wide-stop", "risky",
            f"{named} together stretch the hand over {stretch:.0f} mm of the string, "
            f"where {neck.usual_mm:.0f} is usual.",
            "A stretch like this is slow to find and seldom in tune; hands differ.",
            "Give it time, leave a note out, put an open string under it, or divide.",
            FINGERING,
        )  # fmt: skip
    loudest = max(n.dynamic for n in chord.notes)
    if len(chord.notes) >= 3 and not plucked and loudest <= limits.soft_chord_level:
        yield about(
            chord, "soft-broken-chord", "worth a thought",
            f"A bowed chord of {len(chord.notes)} notes stands at {mark(loudest)}.",
            "The bow reaches two strings at a time; softly, a chord is heard to be broken.",
            "Divide the section, write two notes, or pluck it.",
            SHORT_CHORDS,
        )  # fmt: skip


def _impossible(chord: Chord, named: str, who: str, stretch: float | None) -> Remark:
    reason = (
        "two of the notes would need the same string"
        if stretch is None
        else f"the fingers would stand {stretch:.0f} mm apart"
    )
    if who == "one":
        return about(
            chord, "stop-not-fingered", "cannot be played",
            f"{named} cannot be stopped together: {reason}.",
            "One hand has no fingering for it.",
            "Divide it between two players, drop a note, or move one by an octave.",
            FINGERING,
        )  # fmt: skip
    return about(
        chord, "stop-needs-divisi", "risky",
        f"{named} cannot be stopped by one player ({reason}), and the page does not say div.",
        "Every desk will ask who plays which note.",
        "Write div., or say how many players share the part.",
        FINGERING,
    )  # fmt: skip


def harmonics(page: Page, part: Part, neck: Neck, limits: CraftLimits) -> Iterator[Remark]:
    """Harmonics that no string gives, or that lie higher than anybody counts on."""
    partial = int(limits.harmonic_partial)
    partial += 2 if part.instrument.key in ("cello", "double-bass") else 0
    partial = min(partial, max(_SOUNDS))
    for note in page.notes_of(part.number):
        if "harmonic" not in note.techniques:
            continue
        printed = note.written_pitch + part.instrument.transposition
        if not _speaks(note.pitch, printed, neck, partial):
            yield about(
                chord_of((note,)), "harmonic-out-of-reach", "cannot be played",
                f"No string gives {pitch_name(note.pitch)} as a harmonic.",
                "It is neither a natural harmonic of an open string nor one the hand can reach "
                "above a stopped note.",
                "Write the sounding note and let the player choose, or move it.",
                HARMONICS,
            )  # fmt: skip
        elif note.pitch > limits.harmonic_top:
            yield about(
                chord_of((note,)), "harmonic-very-high", "risky",
                f"A harmonic sounds as high as {pitch_name(note.pitch)}.",
                "So close to the bridge harmonics speak by luck.",
                "Write it an octave lower, or give the pitch to piccolo, celesta or crotales.",
                HARMONICS,
            )  # fmt: skip


def _speaks(sounding: int, printed: int, neck: Neck, partial: int) -> bool:
    """Whether a harmonic can be had: on an open string, or touched above a stopped note."""
    # A note printed where it sounds may be meant as the place to touch.
    touched = printed if printed == sounding else -1
    natural = any(
        sounding - string == _SOUNDS[number] or touched - string in _NODES[number]
        for string in neck.strings
        for number in range(2, partial + 1)
    )
    return natural or any(
        _reached(sounding - lift, above, neck) for above, lift in _TOUCHED.items()
    )


def _reached(stopped: int, touched: int, neck: Neck) -> bool:
    """Whether a hand stops a note and touches so many semitones above it on one string."""
    for string in neck.strings:
        above = stopped - string
        if above > 0 and above + touched <= neck.highest:
            stretch = from_nut_mm(above + touched, neck.length_mm)
            if stretch - from_nut_mm(above, neck.length_mm) <= neck.widest_mm:
                return True
    return False


def divisions(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Sections divided into more notes than they have players for."""
    if part.players < 2:
        return
    sharing = Sharing(page, part)
    for chord in page.sounding(part.number):
        divided = sharing.at(chord.notes[0]) == "divided"
        voices = {n.voice for n in chord.notes}
        shares = len(chord.notes) if divided else len(voices)
        if shares < 3 or part.players / shares >= limits.divisi_players:
            continue
        few = part.players < shares
        yield about(
            chord, "divisi-too-many", "risky" if few else "worth a thought",
            f"The section is divided into {shares}, with {part.players:g} players assumed.",
            "There are not enough players for the notes." if few
            else "Notes with one player each are soloists: thin, and hard to keep in tune.",
            "Divide into fewer, or share the notes with another section.",
            DIVISI,
        )  # fmt: skip


def below_low_string(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Double bass notes that need an extension or a fifth string."""
    low = int(limits.low_bass)
    for note in page.notes_of(part.number):
        if not note.unpitched and note.pitch < low and "harmonic" not in note.techniques:
            yield about(
                chord_of((note,)), "below-low-string", "worth a thought",
                f"The basses go below {pitch_name(low)}.",
                "Basses with four strings and no extension do not have the notes; often only "
                "part of a section does.",
                "Put the octave above in parentheses, or say which players take it.",
                LOW_STRING,
            )  # fmt: skip
