"""Timpani: drums and their ranges, time to retune, two drums struck together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from auditor.craft.drums import (
    MOST_DRUMS,
    RANGES,
    Retuning,
    Stroke,
    drum_set,
    drums_needed,
    retunings,
)
from auditor.craft.limits import CraftLimits
from auditor.craft.naming import note_name, pitch_name, seconds_name
from auditor.craft.page import Chord, Page, about, chord_of
from auditor.craft.remark import Remark
from auditor.findings.wording import listed
from auditor.score.notes import Note, Part

SIZES = "J. J. Papastefan, Timpani Sizes and Ranges: a set of 32, 29, 26 and 23 inches"
DOUBLE = "common practice, no source; chords by several players as in H. Berlioz, Requiem"
# A stroke that is not rolled rings, but may be damped and the drum tuned, after this long.
_STROKE_S = 0.3
# Less than this is no time at all.
_AT_ONCE_S = 0.05
_ROLLED = ("tremolo", "trill")
_FIFTH_DRUMS = (20, 23, 26, 29)
_STICKS = 2


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on the timpani."""
    for part in page.parts_of("timpani"):
        yield from out_of_range(page, part, limits)
        yield from together(page, part)
        yield from many_drums(page, part, limits)
        yield from hurried(page, part, limits)


def out_of_range(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Notes that take a special drum, and notes no drum has."""
    for note in page.notes_of(part.number):
        if note.unpitched or limits.timpani_low <= note.pitch <= limits.timpani_high:
            continue
        name = note_name(note)
        if limits.timpani_lowest <= note.pitch <= limits.timpani_highest:
            size = "20" if note.pitch > limits.timpani_high else "32 inches, slackened"
            yield about(
                chord_of((note,)), "special-drum", "worth a thought",
                f"{name} lies at the edge of the set and takes a drum of {size}"
                f"{' inches' if size == '20' else ''}.",
                "Not every set has it, and tone suffers at the end of a drum's range.",
                "Ask whether the drum is there, or move the note by an octave.",
                SIZES,
            )  # fmt: skip
        else:
            yield about(
                chord_of((note,)), "out-of-range", "cannot be played",
                f"No drum gives {name}.",
                f"The largest reaches {pitch_name(int(limits.timpani_lowest))}, the smallest "
                f"{pitch_name(int(limits.timpani_highest))}.",
                "Move the note by an octave.",
                SIZES,
            )  # fmt: skip


def together(page: Page, part: Part) -> Iterator[Remark]:
    """Drums struck together: two blur, more take more sticks or players."""
    sticks = _STICKS * max(1, int(part.players))
    for chord in page.chords(part.number):
        pitches = [p for p in chord.pitches if p]
        if chord.notes[0].grace or len(pitches) < 2:
            continue
        named = listed([note_name(n) for n in chord.notes if n.pitch], most=6)
        if len(pitches) <= sticks:
            yield about(
                chord, "drums-together", "worth a thought",
                f"{named} are struck together.",
                "Of two drums struck together the higher tends to speak and the lower to blur.",
                "Write the one that matters, and let low strings articulate the other.",
            )  # fmt: skip
        else:
            beyond = len(pitches) > 2 * sticks
            yield about(
                chord, "too-many-drums", "cannot be played" if beyond else "risky",
                f"{named} are struck together.",
                "A timpanist has two sticks; two to a hand is a trick for soft chords.",
                "Write one or two notes, or ask for a second player.",
                DOUBLE,
            )  # fmt: skip


def strokes_of(page: Page, part: Part) -> tuple[Stroke, ...]:
    """The part as strokes with their seconds; notes without pitch are left out."""
    found = []
    for chord in page.chords(part.number):
        pitches = tuple(p for p in chord.pitches if p)
        if pitches and not chord.notes[0].grace:
            start = page.seconds_at(chord.onset)
            found.append(Stroke(start, _free_again(page, chord, start), pitches, chord.ids[0]))
    return tuple(found)


def _free_again(page: Page, chord: Chord, start_s: float) -> float:
    written = page.seconds_at(chord.end)
    rolled = any(word in n.techniques for n in chord.notes for word in _ROLLED)
    return written if rolled else min(written, start_s + _STROKE_S)


def many_drums(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """More drums than the usual set has, if none is to be tuned anew in a hurry."""
    strokes = _within_reach(page, part)
    if not strokes:
        return
    needed = drums_needed(strokes, limits.retune_s, limits.retune_fastest_s)
    if needed <= limits.drums:
        return
    notes = [n for n in page.notes_of(part.number) if not n.unpitched and not n.grace]
    pitches = sorted({n.pitch for n in notes})
    named = listed([pitch_name(p) for p in pitches], most=8)
    count = f"{needed}" if needed <= MOST_DRUMS else f"more than {MOST_DRUMS}"
    yield Remark(
        "many-drums", "worth a thought", part.number, notes[0].bar, notes[-1].bar,
        tuple(n.id for n in notes),
        f"The part has {len(pitches)} notes, {named}, and takes {count} drums "
        f"if none is to be tuned anew in less than {seconds_name(limits.retune_s)}; "
        f"the usual set has {limits.drums:g}.",
        "A fifth drum or a second player has to be asked for, and finds a place on the stage.",
        "Leave out notes that basses or low brass play as well, or say in the part how many "
        "drums are meant.",
        SIZES,
    )  # fmt: skip


def _within_reach(page: Page, part: Part) -> list[Stroke]:
    """Strokes on notes that some drum has, no more of them at once than drums there are."""
    low, high = min(r[0] for r in RANGES.values()), max(r[1] for r in RANGES.values())
    kept = []
    for stroke in strokes_of(page, part):
        pitches = tuple(p for p in stroke.pitches if low <= p <= high)
        if 0 < len(pitches) <= MOST_DRUMS:
            kept.append(replace(stroke, pitches=pitches))
    return kept


def hurried(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Drums to be tuned anew in less time than it takes."""
    strokes = strokes_of(page, part)
    notes = {n.id: n for n in page.notes_of(part.number)}
    times = (limits.retune_s, limits.retune_fastest_s)
    drums = drum_set(int(limits.drums))
    quick = [r for r in retunings(strokes, drums, *times) if r.seconds < limits.retune_s]
    slides = [r for r in quick if "glissando" not in notes[r.note].techniques]
    if not slides:
        return
    still = _with_a_fifth_drum(strokes, drums, limits)
    start_s = {stroke.note: stroke.start_s for stroke in strokes}
    for one in slides:
        never = any(abs(start_s[one.note] - at) <= limits.retune_s for at in still)
        yield _retuned(page, notes[one.note], one, limits, never)


def _with_a_fifth_drum(
    strokes: Sequence[Stroke], drums: Sequence[int], limits: CraftLimits
) -> list[float]:
    """Seconds at which a drum cannot be tuned in time even with the best fifth drum."""
    start_s = {stroke.note: stroke.start_s for stroke in strokes}
    tried = (
        retunings(strokes, (*drums, size), limits.retune_s, limits.retune_fastest_s)
        for size in _FIFTH_DRUMS
    )
    return min(
        (
            [start_s[r.note] for r in made if r.seconds < limits.retune_fastest_s]
            for made in tried
        ),
        key=len,
    )


def _retuned(page: Page, note: Note, one: Retuning, limits: CraftLimits, never: bool) -> Remark:
    time = "at once" if one.seconds < _AT_ONCE_S else f"in {seconds_name(one.seconds)}"
    says = (
        f"A drum must go from {pitch_name(one.old)} to {pitch_name(one.new)} {time}"
        f"{page.said_tempo(note.onset)}."
    )
    if one.seconds >= limits.retune_fastest_s:
        return about(
            chord_of((note,)), "retuning-quick", "worth a thought", says,
            "The player has to find the pitch by ear while the orchestra plays.",
            "Give some bars of rest before the new note, or keep the old tuning.",
        )  # fmt: skip
    return about(
        chord_of((note,)), "retuning-too-quick", "cannot be played" if never else "risky", says,
        "There is no time to move the pedal and hear where it is.",
        "Keep to notes the drums already have." if never
        else "One drum more would save it; without it keep to notes the drums already have.",
    )  # fmt: skip
