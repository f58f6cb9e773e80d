"""Faults planted by the tables of the trade: harp, drums, keyboards, texture, notation, forces.

Written like `craft_plants`, before the checks were read.
"""

from __future__ import annotations

from craft_pages import Sheet
from craft_plants import STRINGS, Place

WINDS = ["Flute 1", "Oboe 1", "Clarinet in B♭ 1", "Bassoon 1", "Trumpet in C 1", "Trombone 1"]


def _harp(s: Sheet, events: list) -> Place:  # type: ignore[type-arg]
    bar = s.bar()
    s.put("Harp", bar, events)
    return "Harp", bar, bar


def nine_notes(s: Sheet) -> Place:
    low = s.among(48, 50)
    return _harp(s, [(2, tuple(low + step for step in (0, 4, 7, 9, 12, 16, 19, 21, 24)))])


def beyond_a_tenth(s: Sheet) -> Place:
    """Three notes, each more than a tenth from the next: one hand has two of them."""
    low = s.among(36, 40)
    return _harp(s, [(2, (low, low + 19, low + 38))])


def both_hands_low(s: Sheet) -> Place:
    low = s.among(26, 28)
    return _harp(s, [(2, (low, low + 5, low + 7, low + 12, low + 14))])


def three_semitones(s: Sheet) -> Place:
    """G, G sharp and A at once: the strings of G and A are taken by the outer two."""
    low = 12 * s.among(4, 5) + s.pick([7, 2])
    return _harp(s, [(2, (low, low + 1, low + 2), {"sharps": True})])


def chromatic_run(s: Sheet) -> Place:
    low = s.among(60, 66)
    return _harp(s, [(0.25, low + k, {"sharps": True}) for k in range(12)])


def six_drums(s: Sheet) -> Place:
    """More different notes in a bar than a set of four has drums."""
    bar = s.bar()
    s.put("Timpani", bar, [(0.5, p) for p in (41, 43, 45, 47, 48, 52, 53)])
    return "Timpani", bar, bar


def beyond_the_drums(s: Sheet) -> Place:
    """Below D2 or above B flat 3 by more than a semitone."""
    bar = s.bar()
    s.put("Timpani", bar, [(2, s.pick([34, 35, 36, 60, 61, 62]))])
    return "Timpani", bar, bar


def retuned_at_once(s: Sheet) -> Place:
    """Old pair of notes, then four others in the ranges of the same four drums, at once."""
    bar = s.bar()
    move = s.pick([-1, 1])
    old = [40, 44, 48, 52]
    s.put("Timpani", bar, [(0.5, p) for p in old] + [(0.25, p + move) for p in old])
    return "Timpani", bar, bar


def two_drums_together(s: Sheet) -> Place:
    bar = s.bar()
    low = s.among(41, 44)
    s.put("Timpani", bar, [(2, (low, low + s.among(5, 9)))])
    return "Timpani", bar, bar


def bars_missing(s: Sheet) -> Place:
    """Outside the sounding range: glockenspiel G5 to C8, xylophone F4 to C8, and so on."""
    name, sounds, pitches = s.pick([
        ("Glockenspiel", 24, (72, 75)), ("Xylophone", 12, (55, 58)),
        ("Vibraphone", 0, (48, 51)),
        ("Vibraphone", 0, (91, 94)), ("Marimba", 0, (99, 103)), ("Celesta", 12, (48, 53)),
    ])  # fmt: skip
    s.add(name, "G2", sounds, 60)
    bar = s.bar()
    s.put(name, bar, [(1, s.among(*pitches), {"dynamic": "mf"})])
    return name, bar, bar


def five_mallets(s: Sheet) -> Place:
    s.add("Marimba", "G2", 0, 60)
    bar, low = s.bar(), s.among(52, 60)
    s.put(
        "Marimba",
        bar,
        [(2, tuple(low + step for step in (0, 4, 7, 12, 16)), {"dynamic": "mf"})],
    )
    return "Marimba", bar, bar


def one_hand_two_bells(s: Sheet) -> Place:
    """Mallets too far apart for one hand: four notes, none within an octave of the next."""
    s.add("Marimba", "G2", 0, 60)
    bar, low = s.bar(), s.among(43, 46)
    s.put("Marimba", bar, [(2, (low, low + 17, low + 34, low + 51), {"dynamic": "mf"})])
    return "Marimba", bar, bar


def piano_reach(s: Sheet) -> Place:
    """Three notes more than two octaves apart, or eleven at once."""
    s.add("Piano", "G2", 0, 60)
    bar, low = s.bar(), s.among(36, 40)
    wide, many = (low, low + 20, low + 40), tuple(low + 3 * k for k in range(11))
    row = wide if s.among(0, 1) else many
    s.put("Piano", bar, [(2, row, {"dynamic": "mf"})])
    return "Piano", bar, bar


def low_thirds(s: Sheet) -> Place:
    bar = s.bar()
    low = s.among(36, 40)
    for name, step in (("Contrabass", 0), ("Tuba", 0), ("Violoncello", 4), ("Bassoon 2", 4)):
        s.put(name, bar, [(3, low + step)])
    return None, bar, bar


def leading_note_twice(s: Sheet) -> Place:
    """V7 to I: oboe 2 and trombone 1 both on the third, approached and left differently."""
    bar, do = s.bar(), s.key % 12
    steps = {"root": 7, "fifth": 2, "seventh": 5}
    for k, name in enumerate(s.staves):
        if name in ("Timpani", "Harp"):
            s.rest(name, bar, bar)
            continue
        near = s.staves[name].near

        def at(step: int, near: int = near) -> int:
            return min(
                range(near - 6, near + 7),
                key=lambda p: ((p - do - step) % 12 != 0, abs(p - near)),
            )

        five = "root" if name in ("Tuba", "Violoncello", "Contrabass", "Bassoon 2") else (
            "root", "fifth", "seventh")[k % 3]  # fmt: skip
        one = 0 if five == "root" else 7
        s.put(name, bar, [(1, at(0)), (1, at(steps[five])), (2, at(one))])
    for name, before, after in (("Oboe 2", 1, 1), ("Trombone 1", -4, -4)):
        near = s.staves[name].near
        third = min(
            range(near - 6, near + 7), key=lambda p: ((p - do - 11) % 12 != 0, abs(p - near))
        )
        s.put(name, bar, [(1, third + before), (1, third), (2, third + after)])
    return None, bar, bar


def hole_in_forte(s: Sheet) -> Place:
    bar = s.bar()
    for name, staff in s.staves.items():
        high = staff.near >= 60
        if name in ("Viola", "Horn in F 1", "Clarinet in B♭ 2", "Timpani", "Harp"):
            s.rest(name, bar, bar)
            continue
        tones = s.chord(bar)
        wanted = 82 if high else 43
        if name.startswith(("Horn", "Trumpet", "Trombone", "Oboe")):
            s.rest(name, bar, bar)
            continue
        pitch = min(
            (p for p in range(28, 96) if p % 12 in tones), key=lambda p: abs(p - wanted)
        )
        s.put(name, bar, [(3, pitch, {"dynamic": "f"})])
    return None, bar, bar


def tutti_without_bass(s: Sheet) -> Place:
    first = s.bar()
    for bar in (first, first + 1):
        for name, staff in s.staves.items():
            if staff.near < 60:
                s.rest(name, bar, bar)
            else:
                pitch = s.home(name, bar)
                s.put(name, bar, [(4, pitch if pitch >= 60 else pitch + 12, {"dynamic": "f"})])
    return None, first, first + 1


def tune_in_all(s: Sheet) -> Place:
    first = s.bar()
    for bar in (first, first + 1):
        for name, staff in s.staves.items():
            if name == "Timpani":
                continue
            base = min(
                range(staff.near - 6, staff.near + 7), key=lambda p: ((p - s.key) % 12 != 0, p)
            )
            s.put(
                name,
                bar,
                [(1, base), (0.5, base + 2), (0.5, base + 4), (1, base + 5), (1, base + 4)],
            )
    return None, first, first + 1


def entry_unmarked(s: Sheet) -> Place:
    name = s.pick([*WINDS, *STRINGS])
    s.rest(name, 4, 21)
    return name, 22, 22


def hairpin_without_goal(s: Sheet) -> Place:
    name, bar = s.pick([*WINDS, *STRINGS]), s.bar()
    pitch = s.home(name, bar)
    wedge = s.pick(["crescendo", "diminuendo"])
    s.put(
        name, bar, [(1, pitch, {"hairpin": wedge}), (1, pitch), (2, pitch, {"hairpin-ends": 1})]
    )
    return name, bar, bar


def cresc_without_goal(s: Sheet) -> Place:
    """The word, and never a mark again."""
    name, bar = s.pick([*WINDS, *STRINGS]), s.bar()
    pitch = s.home(name, bar)
    word = s.pick(["cresc.", "dim.", "decresc.", "crescendo"])
    s.put(name, bar, [(1, pitch, {"words": word}), (1, pitch), (2, pitch)])
    return name, bar, s.count - 1


def doubling_at_odds(s: Sheet) -> Place:
    one, other = s.pick([("Flute 1", "Oboe 1"), ("Violin I", "Violin II"), ("Clarinet in B♭ 1",
                        "Bassoon 1"), ("Trumpet in C 1", "Trombone 1")])  # fmt: skip
    bar, base = s.bar(), 65 + s.key
    for name, dynamic in ((one, "ff"), (other, "p")):
        low = base - 12 if name in ("Bassoon 1", "Trombone 1") else base
        s.put(name, bar, [(1, low, {"dynamic": dynamic}), (1, low + 2), (2, low + 4)])
        s.put(name, bar + 1, [(3, s.home(name, bar + 1), {"dynamic": "mf"})])
    return None, bar, bar


def _signed(s: Sheet, signs: str, slurred: bool = False) -> Place:
    name, bar = s.pick([*WINDS, *STRINGS]), s.bar()
    pitch = s.home(name, bar)
    row: list = [(1, pitch + k, {"signs": signs}) for k in range(3)]  # type: ignore[type-arg]
    if slurred:
        row[0][2]["slur"], row[2][2]["slur"] = "start", "stop"
    s.put(name, bar, row)
    return name, bar, bar


def two_accents(s: Sheet) -> Place:
    return _signed(s, s.pick(["accent strong-accent", "staccato staccatissimo",
                              "staccatissimo tenuto"]))  # fmt: skip


def wedges_in_a_slur(s: Sheet) -> Place:
    return _signed(s, s.pick(["staccatissimo", "strong-accent"]), slurred=True)


def no_arco(s: Sheet) -> Place:
    name, bar = s.pick(STRINGS), s.bar()
    pitch = s.home(name, bar)
    s.put(name, bar, [(1, None), (1, pitch, {"words": "pizz."}), (1, pitch)])
    s.put(
        name,
        bar + 1,
        [(1, pitch, {"slur": "start"}), (1, pitch + 2), (2, pitch, {"slur": "stop"})],
    )
    s.put(
        name,
        bar + 2,
        [(1, pitch, {"slur": "start"}), (1, pitch + 2), (2, pitch, {"slur": "stop"})],
    )
    return name, bar + 1, bar + 2


def mute_stays_on(s: Sheet) -> Place:
    name = s.pick([*STRINGS, "Trumpet in C 1", "Trombone 1"])
    s.rest(name, 3, 4)
    s.put(name, 5, [(3, s.home(name, 5), {"words": "con sord.", "dynamic": "p"})])
    bar = s.among(16, 24)
    s.put(name, bar, [(4, s.home(name, bar), {"dynamic": "ff"})])
    s.put(name, bar + 1, [(4, s.home(name, bar + 1))])
    return name, bar, bar + 1


def homemade_words(s: Sheet) -> Place:
    """Slips and plain words where parts have a term."""
    name, bar = s.pick(STRINGS), s.bar()
    text = s.pick(["plucked", "with mute", "take mute off", "use the bow", "on the bridge",
                   "stacatto", "picked", "play on the fingerboard", "divided", "all together",
                   "getting louder", "with wood of bow", "crescndo", "pizzacatto"])  # fmt: skip
    s.put(name, bar, [(3, s.home(name, bar), {"words": text})])
    return name, bar, bar


def long_wait(s: Sheet) -> Place:
    name = s.pick([*WINDS, *STRINGS])
    s.rest(name, 4, 33)
    s.put(name, 34, [(3, s.home(name, 34), {"dynamic": "mf"})])
    return name, 34, 34


def wrong_clarinet(s: Sheet) -> Place:
    """Sounding E or A major: six or five sharps in B flat; in A one or none."""
    tonic, name = s.pick([64, 69]), s.pick(["Clarinet in B♭ 1", "Clarinet in B♭ 2"])
    scale = [tonic + step - (12 if tonic > 66 else 0) for step in (0, 2, 4, 5, 7, 9, 11)]
    for bar in range(s.count):
        s.put(name, bar, [(1, scale[(bar + k) % 7], {"sharps": True}) for k in range(3)])
    return name, 0, s.count - 1


def wrong_trumpet(s: Sheet) -> Place:
    """Sounding A or E major for a trumpet in B flat: five or six sharps; in C three or four."""
    tonic = s.pick([64, 69])
    scale = [tonic + step for step in (0, 2, 4, 5, 7, 9, 11)]
    s.staves["Trumpet in C 1"].sounds = -2
    s.rename("Trumpet in C 1", "Trumpet in B♭ 1")
    for bar in range(s.count):
        row = [(1, scale[(bar + k) % 7], {"sharps": True}) for k in range(3)]
        s.put("Trumpet in B♭ 1", bar, row)
    return "Trumpet in B♭ 1", 0, s.count - 1


def to_be_hired(s: Sheet) -> Place:
    name, clef, sounds, near = s.pick([
        ("Contrabassoon", "F4", -12, 36), ("Alto Flute", "G2", -5, 62),
        ("Bass Clarinet in B♭", "G2", -14, 48), ("Alto Saxophone", "G2", -9, 62),
        ("Celesta", "G2", 12, 84), ("Euphonium", "F4", 0, 52), ("Flugelhorn", "G2", -2, 62),
    ])  # fmt: skip
    s.add(name, clef, sounds, near)
    first = s.bar()
    for bar in range(first, first + 3):
        s.put(
            name,
            bar,
            [(3, near + 2 * (bar - first), {"dynamic": "mf"} if bar == first else {})],
        )
    return name, first, first + 2


def five_percussionists(s: Sheet) -> Place:
    bar = s.bar()
    for name in ("Snare Drum", "Bass Drum", "Cymbals", "Triangle", "Tam-tam"):
        s.add(name, "G2", 0, 60)
        s.put(name, bar, [(1, 72, {"dynamic": "f"}), (1, 72), (1, 72)])
    return None, bar, bar


FAULTS = {
    nine_notes: "too-many-notes", beyond_a_tenth: "hand-too-wide",
    both_hands_low: "both-hands-low", three_semitones: "pedal-contradiction",
    chromatic_run: "pedals-impossible", six_drums: "many-drums",
    beyond_the_drums: "out-of-range special-drum", retuned_at_once: "retuning-too-quick",
    two_drums_together: "drums-together", bars_missing: "out-of-range",
    five_mallets: "too-many-mallets", one_hand_two_bells: "mallets-too-wide",
    piano_reach: "too-many-notes hand-too-wide", low_thirds: "low-spacing",
    leading_note_twice: "leading-note-doubled", hole_in_forte: "hole",
    tutti_without_bass: "no-bass", tune_in_all: "doubled-by-all",
    entry_unmarked: "entry-without-dynamic", hairpin_without_goal: "hairpin-to-nowhere",
    cresc_without_goal: "cresc-to-nowhere", doubling_at_odds: "doubling-marks-differ",
    two_accents: "stacked-signs", wedges_in_a_slur: "sign-against-slur",
    no_arco: "missing-arco", mute_stays_on: "mute-left-on", homemade_words: "unusual-words",
    long_wait: "cue-wanted", wrong_clarinet: "easier-transposition",
    wrong_trumpet: "easier-transposition", to_be_hired: "extra-player",
    five_percussionists: "extra-percussion",
}  # fmt: skip
LONG = {entry_unmarked: 28, mute_stays_on: 28, long_wait: 40}
