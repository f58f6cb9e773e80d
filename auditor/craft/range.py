"""Range and register: notes nobody has, dynamics a register cannot give, high passages.

Notes are checked at sounding pitch. Percussion, keyboards and harp are looked at elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from auditor.craft.abilities import Ability, Zone, ability
from auditor.craft.limits import CraftLimits
from auditor.craft.naming import pitch_name, seconds_name
from auditor.craft.page import Page, about, chord_of
from auditor.craft.players import Stream, phrases, streams
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.findings.wording import mark
from auditor.score.notes import Note

RANGES = "Abjad 3.19 and music21 10.5 instrument ranges; beyond them common practice, no source"
REGISTERS = (
    "N. Rimsky-Korsakov, Principles of Orchestration (1922), ch. I, table B, from memory; "
    "limits common practice, no source"
)
FAMILIES = ("woodwind", "saxophone", "brass", "strings", "voice")
# Written E3, below which no clarinet of the usual set goes, in whatever key it stands; some
# have E flat (common practice, no source).
_CLARINETS_FLOOR = 52
_CLARINETS = ("clarinet", "e-flat-clarinet")
# Instruments whose bass clef old scores wrote an octave lower than it sounds today.
_OLD_BASS_CLEF = ("horn", "bass-clarinet", "wagner-tuba")
_OCTAVE = 12


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on range and register."""
    for stream in streams(page, *FAMILIES):
        yield from out_of_range(stream)
        yield from weak_registers(stream, limits)
        yield from high_passages(page, stream, limits)


def out_of_range(stream: Stream) -> Iterator[Remark]:
    """Notes beyond the usual range, and those beyond any."""
    can = ability(stream.instrument)
    for note in stream.notes:
        if note.unpitched or "harmonic" in note.techniques:
            continue
        low = _floor(stream, note, can)
        if note.pitch < low:
            yield _too_low(stream, note, can, low)
        elif note.pitch > stream.instrument.high:
            yield _too_high(stream, note, can)


def _floor(stream: Stream, note: Note, can: Ability) -> int:
    if stream.instrument.key in _CLARINETS:
        return _CLARINETS_FLOOR + note.pitch - note.written_pitch
    return stream.instrument.low if can.usual_low is None else can.usual_low


def _too_low(stream: Stream, note: Note, can: Ability, low: int) -> Remark:
    """A note below the usual range: an octave slip, an extension, or nothing to be had."""
    key, name = stream.instrument.key, stream.instrument.name.lower()
    says = f"{stream.name} has {pitch_name(note.pitch)}; the {name} goes down to "
    says += f"{pitch_name(low)}."
    if key in _OLD_BASS_CLEF and low <= note.pitch + _OCTAVE <= stream.instrument.high:
        return about(
            chord_of((note,)), "out-of-range", "worth a thought",
            f"{says} In the old notation of the bass clef it would sound an octave higher.",
            "Low notes in the bass clef are read an octave apart by old and new custom, and "
            "the question costs a stop in rehearsal.",
            "Write it as it sounds by today's custom, or say at the first such note which "
            "octave is meant.", RANGES,
        )  # fmt: skip
    asks = can.extension or "a special instrument"
    if key in _CLARINETS:
        can_have, asks = note.pitch == low - 1, "a full-Boehm clarinet with a low E flat"
    else:
        can_have = note.pitch >= can.lowest
    if can_have:
        return about(
            chord_of((note,)), "out-of-range", "risky",
            f"{says} It takes {asks}.",
            "Not every player has what the note asks for.",
            "Ask before the parts go out, or offer the octave above in small notes.", RANGES,
        )  # fmt: skip
    return about(
        chord_of((note,)), "out-of-range", "cannot be played", says,
        "The note is not on the instrument.",
        f"Raise it an octave, or give it to {_deeper(stream)}{_tuned_down(stream)}.", RANGES,
    )  # fmt: skip


def _too_high(stream: Stream, note: Note, can: Ability) -> Remark:
    name = stream.instrument.name.lower()
    says = f"{stream.name} has {pitch_name(note.pitch)}; the {name} usually goes up to "
    says += f"{pitch_name(stream.instrument.high)}."
    if note.pitch <= can.highest:
        return about(
            chord_of((note,)), "out-of-range", "risky", says,
            "Above the usual range the note depends on the player and the day.",
            "Ask the player, offer the octave below in small notes, or give the top to a "
            "higher instrument.", RANGES,
        )  # fmt: skip
    return about(
        chord_of((note,)), "out-of-range", "cannot be played", says,
        f"Nothing above {pitch_name(can.highest)} is to be counted on in an orchestra.",
        "Lower it an octave, or give it to a higher instrument.", RANGES,
    )  # fmt: skip


def _tuned_down(stream: Stream) -> str:
    strings = stream.instrument.family == "strings"
    return "; or ask in good time for the string to be tuned down" if strings else ""


def _deeper(stream: Stream) -> str:
    deeper = {
        "flute": "the alto flute or a clarinet", "piccolo": "the flute",
        "oboe": "the English horn", "english-horn": "the bassoon", "violin": "the violas",
        "clarinet": "the bass clarinet", "bassoon": "the contrabassoon",
        "viola": "the cellos", "cello": "the double basses", "trumpet": "a trombone",
        "trombone": "the bass trombone or the tuba",
    }  # fmt: skip
    return deeper.get(stream.instrument.key, "a deeper instrument")


# Name of the remark, the zone, which notes lie in it, weight, what the register does, remedy.
_Rule = tuple[
    str, Callable[[Ability], Zone | None], Callable[[Note, Zone], bool], str, str, str
]
_RULES: tuple[_Rule, ...] = (
    (
        "low-register-loud", lambda a: a.faint,
        lambda n, z: n.pitch <= z.pitch and n.dynamic >= z.level, "worth a thought",
        "this low it has no more to give, and anything else at that mark covers it",
        "Write it an octave higher, or thin out what sounds beside it.",
    ),
    (
        "low-register-soft", lambda a: a.heavy,
        lambda n, z: n.pitch <= z.pitch and n.dynamic <= z.level, "risky",
        "the lowest notes speak thickly and will not go that soft",
        "Write p and expect mp, raise the line, or give it to a clarinet or a string.",
    ),
    (
        "high-register-soft", lambda a: a.pinched,
        lambda n, z: n.pitch >= z.pitch and n.dynamic <= z.level, "risky",
        "so high a note needs pressure and air, and cracks when it is held back",
        "Write p to mf, take the line down, or give it to an instrument that lies easier.",
    ),
    (
        "high-register-loud", lambda a: a.thin,
        lambda n, z: n.pitch >= z.pitch and n.dynamic >= z.level, "worth a thought",
        "up there the tone thins out and does not grow with the mark",
        "Double it with an instrument whose strong register this is, or lower the line.",
    ),
)  # fmt: skip


def weak_registers(stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """Passages at a dynamic their register cannot give."""
    can = ability(stream.instrument)
    for kind, zone_of, lies, weight, why, remedy in _RULES:
        zone = zone_of(can)
        if zone is None:
            continue
        caught = [n for n in stream.notes if n.dynamic_written and lies(n, zone)]
        for run in phrases(caught, limits.register_gap):
            if sum(n.duration for n in run) < limits.register_quarters:
                continue
            yield Remark(
                kind, weight, stream.part, run[0].bar, run[-1].bar, tuple(n.id for n in run),
                f"{stream.name} is asked for {mark(run[0].dynamic)} {_between(run)}.",
                f"{why[:1].upper()}{why[1:]}.", remedy, REGISTERS,
            )  # fmt: skip


def _between(run: Sequence[Note]) -> str:
    low, high = min(n.pitch for n in run), max(n.pitch for n in run)
    if low == high:
        return f"on {pitch_name(low)}"
    return f"from {pitch_name(low)} to {pitch_name(high)}"


def high_passages(page: Page, stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """Long passages whose mean pitch lies above what is easy."""
    ease = ability(stream.instrument).ease_high
    if ease is None:
        return
    notes = [n for n in stream.notes if not n.grace and not n.unpitched]
    for run in phrases(notes, limits.tessitura_rest):
        for found in _high_windows(page, run, ease, limits.tessitura_seconds):
            length = page.seconds_between(found[0].onset, found[-1].onset + found[-1].duration)
            mean = _mean_pitch(found)
            yield Remark(
                "high-lying", "worth a thought", stream.part, found[0].bar, found[-1].bar,
                tuple(n.id for n in found),
                f"{stream.name} lies around {pitch_name(round(mean))} for "
                f"{seconds_name(length)}{page.said_tempo(found[0].onset)}.",
                "A passage that stays in the top register tires, tightens the tone and puts "
                "the intonation at risk. The player knows best what is comfortable.",
                "Let it come down in between, share it with the second player, or write part "
                "of it an octave lower.",
                COMMON_PRACTICE,
            )  # fmt: skip


def _mean_pitch(notes: Sequence[Note]) -> float:
    total = sum(n.duration for n in notes)
    return sum(n.pitch * n.duration for n in notes) / total


def _high_windows(
    page: Page, run: Sequence[Note], ease: float, seconds: float
) -> Iterator[list[Note]]:
    """Stretches covered by windows of `seconds` of playing whose mean lies above `ease`."""
    lengths = [page.seconds_between(n.onset, n.onset + n.duration) for n in run]
    high = [False] * len(run)
    first, total, weighed = 0, 0.0, 0.0
    for last, note in enumerate(run):
        total += lengths[last]
        weighed += lengths[last] * note.pitch
        while total - lengths[first] >= seconds:
            total -= lengths[first]
            weighed -= lengths[first] * run[first].pitch
            first += 1
        if total >= seconds and weighed > ease * total:
            high[first : last + 1] = [True] * (last + 1 - first)
    found: list[Note] = []
    for note, lies in zip(run, high, strict=True):
        if lies:
            found.append(note)
        elif found:
            yield found
            found = []
    if found:
        yield found
