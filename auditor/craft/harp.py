"""Harp: what two hands of four fingers span, how low the right one goes, and the pedals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from auditor.craft import feet, pedals
from auditor.craft.feet import Change, Struck
from auditor.craft.hands import narrowest
from auditor.craft.limits import CraftLimits
from auditor.craft.naming import note_name, pitch_name
from auditor.craft.page import Chord, Page, about, chord_of
from auditor.craft.pedals import String, string_name
from auditor.craft.remark import Remark
from auditor.findings.wording import listed
from auditor.score.notes import Note, Part

FOUR_FINGERS = (
    "E. Volpé Bligh, Writing for the Pedal Harp; N. Rimsky-Korsakov, Principles of "
    "Orchestration (1922), 27"
)
PEDALS = "E. Volpé Bligh, Writing for the Pedal Harp"
RANGE = "Abjad 3.19: 47 strings, C flat 1 to G sharp 7"
# A grace note is struck this long before the note it leans on; common practice, no source.
_GRACE_S = 0.1
# After a place that nothing mends, no other is told for so many seconds.
_TOLD_S = 1.0
# Sounding pitches of the lowest two strings, which no pedal reaches.
_UNDISCED = {"C": (23, 24, 25), "D": (25, 26, 27)}


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on the harps."""
    for part in page.parts_of("harp"):
        yield from out_of_range(page, part)
        if part.players < 2:
            yield from hands(page, part, limits)
            yield from low_right_hand(page, part, limits)
        yield from pedalling(page, part, limits)
        yield from bottom_strings(page, part)


def out_of_range(page: Page, part: Part) -> Iterator[Remark]:
    """Notes the harp has no string for."""
    low, high = part.instrument.low, part.instrument.high
    for note in page.notes_of(part.number):
        if not note.unpitched and not low <= note.pitch <= high:
            yield about(
                chord_of((note,)), "out-of-range", "cannot be played",
                f"The harp has no string for {note_name(note)}.",
                f"Its strings go from {pitch_name(low)} to {pitch_name(high)}.",
                "Move the note by an octave.",
                RANGE,
            )  # fmt: skip


def hands(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Chords of too many notes, or wider than two hands reach."""
    fingers, rolled_most = int(limits.harp_fingers), 2
    for chord in page.chords(part.number):
        if chord.notes[0].grace or len(chord.pitches) < 2:
            continue
        rolled = any("arpeggio" in n.techniques for n in chord.notes)
        best = narrowest(chord.pitches, fingers * (rolled_most if rolled else 1))
        if best is None:
            yield _too_many(chord, fingers)
        elif best.span > limits.harp_span and not rolled:
            yield _too_wide(chord, best.span, limits)
        elif not rolled and _overfull(chord, limits):
            yield about(
                chord, "hands-uneven", "worth a thought",
                "One hand has more than it can take while the other could help.",
                "A hand of the harp plays four notes, without the little finger, over a tenth.",
                "Write the notes for the hands that play them, four to each at most.",
                FOUR_FINGERS,
            )  # fmt: skip


def _too_many(chord: Chord, fingers: int) -> Remark:
    return about(
        chord, "too-many-notes", "cannot be played",
        f"{len(chord.pitches)} notes are struck at once.",
        f"Two hands of the harp have {2 * fingers} fingers between them; the little finger "
        f"does not play.",
        "Leave out what others have already, roll it in two waves, or give it to two harps.",
        FOUR_FINGERS,
    )  # fmt: skip


def _too_wide(chord: Chord, span: int, limits: CraftLimits) -> Remark:
    beyond = span > limits.harp_span_widest
    return about(
        chord, "hand-too-wide", "cannot be played" if beyond else "risky",
        f"{listed([note_name(n) for n in chord.notes], most=8)} take {span} semitones in "
        f"one hand, however they are shared.",
        "A hand of the harp spans a tenth; hands differ, and a stretched one plays softly.",
        "Roll the chord, bring the parts closer, or leave a note out.",
        FOUR_FINGERS,
    )  # fmt: skip


def _by_hand(chord: Chord) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """Pitches of the left and right hand as the two staves give them; None on one staff."""
    if not all("." in n.voice for n in chord.notes):
        return None
    lower = tuple(sorted({n.pitch for n in chord.notes if not n.voice.startswith("1.")}))
    upper = tuple(sorted({n.pitch for n in chord.notes if n.voice.startswith("1.")}))
    return lower, upper


def _overfull(chord: Chord, limits: CraftLimits) -> bool:
    return any(
        len(hand) > limits.harp_fingers or hand[-1] - hand[0] > limits.harp_span
        for hand in _by_hand(chord) or ()
        if hand
    )


def low_right_hand(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Both hands so low that the right one reaches around the instrument."""
    floor = int(limits.harp_right_floor)
    for chord in page.chords(part.number):
        written = _by_hand(chord)
        if written is None:
            tight = narrowest(chord.pitches, int(limits.harp_fingers))
            one_hand = len(chord.pitches) <= limits.harp_fingers
            one_hand = one_hand and chord.pitches[-1] - chord.pitches[0] <= limits.harp_span
            written = (tight.left, tight.right) if tight and not one_hand else ((), ())
        left, right = written
        if left and right and right[0] < floor:
            yield about(
                chord, "both-hands-low", "risky",
                f"Both hands are low: the right one has {pitch_name(right[0])}.",
                "The right arm lies around the sounding board and reaches the lowest strings "
                "badly; so low, close chords also blur.",
                "Give the low notes to the left hand alone, or raise the right hand.",
            )  # fmt: skip


def pedalling(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Places that no setting of the pedals gives, and changes faster than two feet.

    Other names found for one place are kept for those after it, so that what is said to be
    playable with them is playable with all of them together.
    """
    by_id = {n.id: n for n in page.notes_of(part.number) if not n.unpitched}
    struck = strings_of(page, tuple(by_id.values()))
    after_s = float("-inf")
    while fault := feet.first_fault(struck, after_s, limits.pedal_fastest_s):
        swap = _rescue(struck, by_id, fault.after.time_s, limits)
        yield _impossible(page, by_id, fault, _named(struck, swap))
        after_s = fault.after.time_s + (0.0 if swap else _TOLD_S)
        struck = [Struck(s.time_s, swap.get(s.note, s.string), s.note) for s in struck]
    for change in feet.missed(feet.changes_of(struck), limits.pedal_s):
        if change.after.time_s - change.before.time_s >= limits.pedal_fastest_s:
            yield _hurried(page, by_id, change)


def strings_of(page: Page, notes: Sequence[Note]) -> list[Struck]:
    """The string of every note: the printed one, else the one that moves the pedals least."""
    chords: list[list[Note]] = []
    for note in notes:
        if chords and abs(note.onset - chords[-1][0].onset) < 0.01:
            chords[-1].append(note)
        else:
            chords.append([note])
    options = [[_options(note) for note in chord] for chord in chords]
    # Chords that contradict themselves as printed are told elsewhere; here they stand alone.
    sound = [k for k, chord in enumerate(options) if pedals.fewest_changes([chord])]
    plan = pedals.fewest_changes([options[k] for k in sound])
    chosen = {k: [o[0] for o in chord] for k, chord in enumerate(options)}
    if plan:
        chosen |= {k: list(s) for k, s in zip(sound, plan.strings, strict=True)}
    return [
        Struck(page.seconds_at(note.onset) - (_GRACE_S if note.grace else 0.0), string, note.id)
        for k, chord in enumerate(chords)
        for note, string in zip(chord, chosen[k], strict=True)
    ]


def _options(note: Note) -> Sequence[String]:
    printed = pedals.spelled(note.spelling)
    return (printed,) if printed else pedals.strings_for(note.pitch)


def _rescue(
    struck: Sequence[Struck], by_id: dict[str, Note], at_s: float, limits: CraftLimits
) -> dict[str, String]:
    """Other strings, by note, that make a place playable; none where nothing does."""
    inside = [s for s in struck if abs(s.time_s - at_s) <= limits.pedal_window_s / 2]
    ids = {s.note for s in inside}
    before = {s.string[0]: s for s in struck if s.time_s < at_s and s.note not in ids}
    after = {s.string[0]: s for s in reversed(struck) if s.time_s > at_s and s.note not in ids}
    passage = sorted([*before.values(), *inside, *after.values()], key=lambda s: s.time_s)
    pitches = {s.note: by_id[s.note].pitch for s in inside}
    return feet.respelled(passage, pitches, at_s, limits.pedal_fastest_s) or {}


def _named(struck: Sequence[Struck], swap: dict[str, String]) -> str:
    """The new names in words; empty where there are none."""
    if not swap:
        return ""
    pairs = dict.fromkeys((s.string, swap[s.note]) for s in struck if s.note in swap)
    names = [f"{string_name(new)} for {string_name(old)}" for old, new in pairs]
    return f"Write {listed(names)} here: the sound is the same, and the pedals get there."


def _impossible(page: Page, by_id: dict[str, Note], fault: Change, rescue: str) -> Remark:
    """One letter in two settings at once, or too soon after one another."""
    first, second = by_id[fault.before.note], by_id[fault.after.note]
    old, new = string_name(fault.before.string), string_name(fault.after.string)
    weight = "risky" if rescue else "cannot be played"
    if fault.after.time_s - fault.before.time_s < feet.AT_ONCE_S:
        return about(
            chord_of((first, second)), "pedal-contradiction", weight,
            f"{old} and {new} are struck at once.",
            "One pedal sets all strings of a letter; they are flat, natural or sharp together.",
            rescue or "Leave one of the notes to another instrument, or write for two harps.",
            PEDALS,
        )  # fmt: skip
    return about(
        chord_of((second,)), "pedals-impossible", weight,
        f"The pedals cannot come from {old} to {new} in time{page.said_tempo(second.onset)}.",
        "A foot moves one pedal at a time, two a second in comfort; a string already sounding "
        "must not be moved.",
        rescue or "Spread the changes over more time, thin out the chromatic notes, or use two "
        "harps in turn.",
        PEDALS,
    )  # fmt: skip


def _hurried(page: Page, by_id: dict[str, Note], change: Change) -> Remark:
    note = by_id[change.after.note]
    return about(
        chord_of((note,)), "pedals-hurried", "risky",
        f"Pedals must move faster than two a second for each foot to reach "
        f"{string_name(change.after.string)}{page.said_tempo(note.onset)}.",
        "The feet can do it for a moment, with noise, and not for long.",
        "Give the harp a beat more, or spell the passage so that fewer pedals move.",
        PEDALS,
    )  # fmt: skip


def bottom_strings(page: Page, part: Part) -> Iterator[Remark]:
    """The lowest C and D asked for in more than one setting: no pedal reaches them."""
    first: dict[str, tuple[String, Note]] = {}
    notes = [n for n in page.notes_of(part.number) if not n.unpitched and n.pitch <= 27]
    for one, note in zip(strings_of(page, notes), notes, strict=True):
        letter = one.string[0]
        if note.pitch not in _UNDISCED.get(letter, ()):
            continue
        held, where = first.setdefault(letter, (one.string, note))
        if held != one.string:
            yield about(
                chord_of((where, note)), "bottom-string", "risky",
                f"The lowest {letter} string is wanted as {string_name(held)} and as "
                f"{string_name(one.string)}.",
                "The bottom C and D have no discs: they are tuned by key beforehand and stay.",
                "Keep one setting for the whole piece, or write the note an octave higher.",
                PEDALS,
            )  # fmt: skip
