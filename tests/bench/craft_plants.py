"""Faults planted by the tables of the trade: range, winds, chairs, changes, strings.

Written from the list of checks and from published tables, before the checks were read; each
function spoils a `craft_pages.Sheet` and returns the staff (None: any) and bars concerned.
"""

from __future__ import annotations

from craft_pages import Sheet

Place = tuple[str | None, int, int]
QUICK = 0.25

# Lowest and highest sounding notes: Abjad 3.19's table, by music21's where it has lower ones.
LOWEST = {"Flute 1": 59, "Oboe 1": 58, "Clarinet in B♭ 1": 50, "Bassoon 1": 34,
          "Violin I": 55, "Viola": 48, "Violoncello": 36, "Trumpet in C 1": 54,
          "Harp": 23}  # fmt: skip
HIGHEST = {"Flute 1": 98, "Oboe 1": 93, "Clarinet in B♭ 1": 94, "Bassoon 1": 75,
           "Horn in F 1": 77, "Trumpet in C 1": 86, "Trombone 1": 75, "Tuba": 65}  # fmt: skip


def below_the_range(s: Sheet) -> Place:
    name, bar = s.pick(LOWEST), s.bar()
    s.put(name, bar, [(2, LOWEST[name] - s.among(1, 4))])
    return name, bar, bar


def above_the_range(s: Sheet) -> Place:
    name, bar = s.pick(HIGHEST), s.bar()
    s.put(name, bar, [(2, HIGHEST[name] + s.among(3, 7))])
    return name, bar, bar


def _marked(s: Sheet, places: dict[str, tuple[int, int]], dynamic: str) -> Place:
    name, bar = s.pick(places), s.bar()
    pitch = s.among(*places[name])
    s.put(name, bar, [(3, pitch, {"dynamic": dynamic})])
    s.put(name, bar + 1, [(3, s.home(name, bar + 1), {"dynamic": "mf"})])
    return name, bar, bar


def low_flute_loud(s: Sheet) -> Place:
    return _marked(s, {"Flute 1": (60, 64), "Flute 2": (60, 64)}, "ff")


def low_reed_soft(s: Sheet) -> Place:
    reeds = {
        "Oboe 1": (58, 61),
        "Oboe 2": (58, 61),
        "Bassoon 1": (34, 37),
        "Bassoon 2": (34, 37),
    }
    return _marked(s, reeds, "pp")


def high_brass_soft(s: Sheet) -> Place:
    high = {"Horn in F 1": (74, 77), "Trumpet in C 1": (81, 84), "Horn in F 3": (74, 77)}
    return _marked(s, high, "pp")


def high_tessitura(s: Sheet) -> Place:
    tops = {
        "Flute 1": 91,
        "Oboe 1": 84,
        "Horn in F 1": 70,
        "Trumpet in C 1": 79,
        "Violin I": 94,
    }
    name = s.pick(tops)
    for bar in range(4, 24):
        s.put(name, bar, [(3, tops[name] + (bar % 3) - 1)])
    return name, 4, 23


def high_without_rest(s: Sheet) -> Place:
    tops = {"Horn in F 1": 74, "Trumpet in C 1": 81, "Trombone 1": 70}
    name = s.pick(tops)
    for bar in range(4, 28):
        step = (0, 2, -1, 1)[bar % 4]
        signs = {"dynamic": "f"} if bar == 4 else {}
        s.put(name, bar, [(2, tops[name] + step, signs), (2, tops[name])])
    return name, 4, 27


def high_in_all(s: Sheet) -> Place:
    """Four high bars, two of rest, again and again: no stretch is long, the sum is."""
    tops = {"Horn in F 1": 71, "Trumpet in C 1": 79}
    name = s.pick(tops)
    for bar in range(s.count):
        if bar % 6 < 4:
            high = next(p for p in range(tops[name], 99) if p % 12 in s.chord(bar))
            s.put(name, bar, [(2, high), (2, high)])
        else:
            s.rest(name, bar, bar)
    return name, 0, s.count - 1


# Twice the longer of the seconds that the heuristic for one breath gives, at mf.
BREATHS = {"Flute 1": 30, "Clarinet in B♭ 1": 60, "Bassoon 1": 40, "Horn in F 1": 40,
           "Trumpet in C 1": 40, "Trombone 1": 24, "Tuba": 16}  # fmt: skip


def long_slur(s: Sheet) -> Place:
    name = s.pick(BREATHS)
    bars = int(BREATHS[name] * s.tempo / 60 / 4) + 1
    pitch, first = s.home(name, 4), 4
    for bar in range(first, first + bars):
        opens = {"slur": "start"} if bar == first else {}
        closes = {"slur": "stop"} if bar == first + bars - 1 else {}
        s.put(name, bar, [(2, pitch, opens), (2, pitch + 2, closes)])
    return name, first, first + bars - 1


def quick_tongue(s: Sheet) -> Place:
    """Sixteenths at 168 to 184 for single tongues, triplet sixteenths for double ones."""
    s.tempo = s.among(168, 184)
    single = ["Oboe 1", "Clarinet in B♭ 1", "Bassoon 1", "Horn in F 1"]
    double = ["Flute 1", "Trumpet in C 1"]
    name, bar = s.pick([*single, *double]), s.bar()
    parts = 4 if name in single else 6
    pitch = s.home(name, bar)
    s.put(name, bar, [(1 / parts, pitch + (k % 2)) for k in range(3 * parts)])
    return name, bar, bar


def brass_over_neighbours(s: Sheet) -> Place:
    tops = {"Trumpet in C 1": 81, "Trombone 1": 70, "Horn in F 1": 74}
    name, bar = s.pick(tops), s.bar()
    s.put(name, bar, [(3, tops[name], {"dynamic": "ff"})])
    s.put(name, bar + 1, [(3, s.home(name, bar + 1), {"dynamic": "mf"})])
    return name, bar, bar


def _alone(s: Sheet, keep: tuple[str, ...], first: int, last: int) -> None:
    for name in s.staves:
        if name not in keep:
            s.rest(name, first, last)


def lower_chair_exposed(s: Sheet) -> Place:
    name = s.pick(["Flute 2", "Oboe 2", "Clarinet in B♭ 2", "Bassoon 2", "Trumpet in C 2",
                   "Trombone 2"])  # fmt: skip
    first = s.bar()
    _alone(s, (name, "Violin II", "Viola", "Violoncello"), first, first + 2)
    root = s.home(name, first) + 5
    for bar in range(first, first + 3):
        s.put(
            name,
            bar,
            [(1, root), (0.5, root + 2), (0.5, root + 4), (1, root + 5), (1, root + 2)],
        )
    return name, first, first + 2


def high_on_second(s: Sheet) -> Place:
    kind = s.pick(["Flute", "Oboe", "Clarinet in B♭", "Trumpet in C"])
    bar = s.bar()
    above = s.home(f"{kind} 1", bar) + s.among(4, 7)
    s.put(f"{kind} 2", bar, [(1, above), (1, above + 1), (1, above)])
    return f"{kind} 2", bar, bar


def wrong_horn(s: Sheet) -> Place:
    """A high note for the second or fourth, a low one for the first or third."""
    bar = s.bar()
    if s.among(0, 1):
        name = s.pick(["Horn in F 2", "Horn in F 4"])
        s.put(name, bar, [(3, s.among(74, 76))])
    else:
        name = s.pick(["Horn in F 1", "Horn in F 3"])
        s.put(name, bar, [(3, s.among(41, 44))])
    return name, bar, bar


def soft_a2(s: Sheet) -> Place:
    """Two players on one staff, a2, nearly alone."""
    kind = s.pick(["Flute", "Oboe", "Bassoon", "Clarinet in B♭"])
    pair = f"{kind}s 1 & 2" if not kind.endswith("♭") else "Clarinets in B♭ 1 & 2"
    del s.staves[f"{kind} 2"]
    s.rename(f"{kind} 1", pair)
    first = s.bar()
    _alone(s, (pair, "Viola", "Violoncello"), first, first + 2)
    tones = [s.staves[pair].near + step for step in (0, 2, 4)]
    for bar in range(first, first + 3):
        signs = {"dynamic": "pp", "words": "a2"} if bar == first else {}
        s.put(pair, bar, [(2, tones[0], signs), (1, tones[1]), (1, tones[2])])
    return pair, first, first + 2


def _quick_words(s: Sheet, names: list[str], word: str, back: str) -> Place:
    """A change of playing without time: the last note ends where the next begins."""
    name, bar = s.pick(names), s.bar()
    pitch = s.home(name, bar)
    s.put(
        name, bar, [(2, pitch), (QUICK, pitch), (QUICK, pitch, {"words": word}), (1.5, pitch)]
    )
    s.put(name, bar + 1, [(2, pitch)])
    s.put(name, bar + 2, [(1, None), (2, pitch, {"words": back})])
    return name, bar, bar


STRINGS = ["Violin I", "Violin II", "Viola", "Violoncello"]


def no_time_for_mute(s: Sheet) -> Place:
    return _quick_words(
        s, [*STRINGS, "Trumpet in C 1", "Trombone 1"], "con sord.", "senza sord."
    )


def no_time_for_pizz(s: Sheet) -> Place:
    s.tempo = s.among(120, 150)
    return _quick_words(s, STRINGS, "pizz.", "arco")


def no_time_for_arco(s: Sheet) -> Place:
    s.tempo = s.among(120, 150)
    name, bar = s.pick(STRINGS), s.bar()
    pitch = s.home(name, bar)
    s.put(name, bar, [(1, None), (1, pitch, {"words": "pizz."}), (QUICK, pitch),
                      (1.5, pitch, {"words": "arco"})])  # fmt: skip
    return name, bar, bar


def no_time_for_bridge(s: Sheet) -> Place:
    s.tempo = s.among(120, 150)
    return _quick_words(s, STRINGS, s.pick(["sul pont.", "sul tasto"]), "ord.")


def no_time_for_instrument(s: Sheet) -> Place:
    name, other = s.pick([("Flute 2", "Piccolo"), ("Oboe 2", "English Horn"),
                          ("Clarinet in B♭ 2", "Bass Clarinet in B♭"),
                          ("Bassoon 2", "Contrabassoon")])  # fmt: skip
    bar = s.bar()
    pitch = s.home(name, bar)
    s.put(
        name,
        bar,
        [(3, pitch), (1, pitch, {"words": s.pick([f"to {other}", f"muta in {other}"])})],
    )
    s.put(name, bar + 1, [(3, s.home(name, bar + 1))])
    return name, bar, bar + 1


def no_time_for_mallets(s: Sheet) -> Place:
    s.add("Suspended Cymbal", "G2", 0, 60)
    s.put("Suspended Cymbal", 0, [(1, 72, {"words": "hard sticks", "dynamic": "mf"})])
    bar = s.bar()
    s.put(
        "Suspended Cymbal", bar, [(1, 72), (1, 72), (1, 72, {"words": "soft mallets"}), (1, 72)]
    )
    return "Suspended Cymbal", bar, bar


def across_the_section(s: Sheet) -> Place:
    """One percussionist with an instrument at each end of the section."""
    s.add("Percussion", "G2", 0, 60)
    bar = s.bar()
    one, other = s.pick([("Glockenspiel", "Tam-tam"), ("Xylophone", "Bass Drum"),
                         ("Triangle", "Timpani"), ("Tubular Bells", "Snare Drum")])  # fmt: skip
    s.put("Percussion", bar, [(1, 84, {"words": one, "dynamic": "mf"}), (1, 84), (1, 84),
                              (0.5, 84), (0.5, 60, {"words": other})])  # fmt: skip
    return "Percussion", bar, bar + 1


def _stop(s: Sheet, names: list[str], pitches: tuple[int, ...]) -> Place:
    name, bar = s.pick(names), s.bar()
    lift = {"Viola": -7, "Violoncello": -19}.get(name, 0)
    s.put(name, bar, [(1, None), (2, tuple(p + lift for p in pitches), {"words": "non div."})])
    return name, bar, bar


def one_string_twice(s: Sheet) -> Place:
    """Both notes below the second string: only the lowest has them."""
    low = s.among(55, 59)
    return _stop(s, STRINGS, (low, s.among(low + 1, 61)))


def too_wide(s: Sheet) -> Place:
    """Well beyond a tenth on neighbouring strings, neither of them open."""
    low = s.among(57, 60)
    return _stop(s, ["Violin I", "Violin II", "Viola"], (low, low + s.among(20, 23)))


def reversed_stop(s: Sheet) -> Place:
    """On two strings the lower has the note far above the higher's: crossed fingers."""
    high = s.among(71, 73)
    return _stop(s, ["Violin I", "Violin II"], (high - 13, high - 12, high + 18))


def no_such_harmonic(s: Sheet) -> Place:
    """A natural harmonic's circle on a note that no open string has."""
    name, bar = s.pick(STRINGS), s.bar()
    lowest = {"Violin I": 55, "Violin II": 55, "Viola": 48, "Violoncello": 36}[name]
    # Six semitones up a cello has a seventh partial, which some count on.
    above = 1 if name == "Violoncello" else s.pick([1, 6])
    s.put(name, bar, [(2, lowest + above, {"signs": "harmonic"})])
    return name, bar, bar


def divided_too_often(s: Sheet) -> Place:
    name, many = s.pick([("Viola", 6), ("Violoncello", 6), ("Contrabass", 5)])
    bar = s.bar()
    base = {"Viola": 55, "Violoncello": 45, "Contrabass": 33}[name]
    row = tuple(base + 3 * k for k in range(many))
    s.put(name, bar, [(3, row, {"words": f"div. a {many}"})])
    return name, bar, bar


def below_low_e(s: Sheet) -> Place:
    bar = s.bar()
    s.put("Contrabass", bar, [(3, s.among(24, 27))])
    return "Contrabass", bar, bar


# What should be told there; any of them will do.
FAULTS = {
    below_the_range: "out-of-range", above_the_range: "out-of-range",
    low_flute_loud: "low-register-loud", low_reed_soft: "low-register-soft",
    high_brass_soft: "high-register-soft", high_tessitura: "high-lying",
    high_without_rest: "high-load", high_in_all: "high-load-in-all", long_slur: "no-breath",
    quick_tongue: "fast-tonguing", brass_over_neighbours: "brass-over-neighbours",
    lower_chair_exposed: "exposed-lower-chair", high_on_second: "high-on-lower-chair",
    wrong_horn: "horn-pairs", soft_a2: "soft-a2", no_time_for_mute: "time-to-mute",
    no_time_for_pizz: "time-to-pizz", no_time_for_arco: "time-to-arco",
    no_time_for_bridge: "time-to-move-bow", no_time_for_instrument: "time-to-change-instrument",
    no_time_for_mallets: "time-to-change-sticks",
    across_the_section: "time-to-cross-the-section", one_string_twice: "stop-not-fingered",
    too_wide: "stop-not-fingered", reversed_stop: "stop-not-fingered",
    no_such_harmonic: "harmonic-out-of-reach", divided_too_often: "divisi-too-many",
    below_low_e: "below-low-string",
}  # fmt: skip
LONG = {high_tessitura: 32, high_without_rest: 32, high_in_all: 120, long_slur: 40}
