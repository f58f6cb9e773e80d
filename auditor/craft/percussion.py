"""Mallet instruments and percussion: ranges, mallets, hands, and how many players it takes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from auditor.craft.hands import shared_out
from auditor.craft.keyboards import out_of_range
from auditor.craft.limits import CraftLimits
from auditor.craft.naming import note_name
from auditor.craft.page import Chord, Page, about
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.findings.wording import listed
from auditor.score.notes import Part

MALLETS = "S. Solomon, How to Write for Percussion"
BARS = ("glockenspiel", "xylophone", "vibraphone", "marimba", "tubular-bells", "crotales")
# Semitones below and above the table that some instruments have: glockenspiels from F5 to
# E8, xylophones from C4, vibraphones from C3, bells to G5; common practice, no source.
_SPARE = {
    "glockenspiel": (2, 4), "xylophone": (5, 0), "vibraphone": (5, 0), "tubular-bells": (0, 2),
}  # fmt: skip
# Struck with one hammer or beater in each hand.
_ONE_A_HAND = ("tubular-bells", "crotales")
_TWO = 2
_DRUM_KIT_LIMBS = 4
# Rests shorter than this, in quarters, belong to one passage of a percussionist.
_PASSAGE_REST = 4.0


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on percussion other than timpani."""
    for part in page.parts_of(*BARS):
        yield from out_of_range(page, part, _SPARE.get(part.instrument.key, (0, 0)))
        yield from mallets(page, part, limits)
    for part in page.parts_of(family="percussion"):
        if not part.instrument.pitched:
            yield from strokes_at_once(page, part)
    yield from players(page, limits)


def mallets(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Chords of more notes than mallets, or of notes too far apart for two in a hand."""
    per_hand = 1 if part.instrument.key in _ONE_A_HAND else int(limits.mallets) // _TWO
    per_hand *= max(1, int(part.players))
    for chord in page.chords(part.number):
        count = len(chord.pitches)
        if chord.notes[0].grace or count <= _TWO * max(1, int(part.players)):
            continue
        named = listed([note_name(n) for n in chord.notes], most=8)
        ways = shared_out(chord.pitches, per_hand)
        if not ways:
            yield about(
                chord, "too-many-mallets", "cannot be played",
                f"{named} are struck at once, with mallets for {_TWO * per_hand}.",
                "A player holds two mallets, four with practice; bells and crotales take one "
                "a hand.",
                "Leave out notes, or share them between two players.",
                MALLETS,
            )  # fmt: skip
        elif min(way.span for way in ways) > limits.mallet_span:
            yield about(
                chord, "mallets-too-wide", "risky",
                f"{named} put the two mallets of a hand more than an octave apart.",
                "Two mallets in a hand open to about an octave, less where the bars are broad.",
                "Bring each pair within an octave, or use two players.",
                MALLETS,
            )  # fmt: skip
        else:
            yield about(
                chord, "four-mallets", "worth a thought",
                f"{named} take {count} mallets.",
                "The player must pick up a second pair, and plays with less attack.",
                "Say four mallets a few bars before, or write two notes.",
                MALLETS,
            )  # fmt: skip


def strokes_at_once(page: Page, part: Part) -> Iterator[Remark]:
    """More drums struck at once than one player has hands."""
    kit = part.instrument.key == "drum-kit"
    hands = (_DRUM_KIT_LIMBS if kit else _TWO) * max(1, int(part.players))
    for chord in page.chords(part.number):
        count = len(chord.notes)
        if chord.notes[0].grace or count <= hands:
            continue
        shared = part.instrument.key == "percussion"
        yield about(
            chord, "strokes-at-once", "worth a thought" if shared else "risky",
            f"{count} instruments are struck at once in one part.",
            f"One player strikes {hands} at a time.",
            "Say how many players read the part, or leave a stroke out.",
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Busy:
    """A percussionist's passage in seconds, with the place it begins."""

    start_s: float
    end_s: float
    chord: Chord
    name: str


def players(page: Page, limits: CraftLimits) -> Iterator[Remark]:
    """The place where more players are needed than strike, for want of time to walk over."""
    busy = [one for part in _percussion(page) for one in _passages(page, part)]
    walking = _most_at_once(busy, limits.percussion_change_s)
    striking = len(_most_at_once(busy, 0.0))
    if len(walking) <= max(limits.standard_percussionists, striking):
        return
    last = max(walking, key=lambda b: b.start_s)
    names = sorted({b.name for b in walking})
    yield Remark(
        "percussion-players", "worth a thought", 0, last.chord.bar, last.chord.bar,
        last.chord.ids,
        f"Percussion needs {len(walking)} players here, where {striking} strike at once: "
        f"{listed(names, most=8)}.",
        f"A player takes {limits.percussion_change_s:g} s and more from one instrument to the "
        f"next, and changes sticks on the way.",
        "Leave a bar or two before the next instrument enters, or hire a player more.",
        COMMON_PRACTICE,
    )  # fmt: skip


def _most_at_once(busy: Sequence[_Busy], change_s: float) -> list[_Busy]:
    """The largest number of passages that no player can take over from another."""
    most: list[_Busy] = []
    for one in busy:
        now = [b for b in busy if b.start_s <= one.start_s < b.end_s + change_s]
        most = now if len(now) > len(most) else most
    return most


def _percussion(page: Page) -> list[Part]:
    return [p for p in page.parts_of(family="percussion") if p.instrument.key != "timpani"]


def _passages(page: Page, part: Part) -> Iterator[_Busy]:
    for run in page.runs(part.number, longest_rest=_PASSAGE_REST):
        end = max(n.onset + n.duration for n in run)
        yield _Busy(
            page.seconds_at(run[0].onset),
            page.seconds_at(end),
            Chord((run[0],), run[0].onset, run[0].bar),
            part.name,
        )
