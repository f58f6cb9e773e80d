"""Orchestral pages with one planted fault each, from a seed; and clean ones beside them.

A page has 16 bars (40 where a fault needs them) of plain chords without a dominant, two notes
and a rest a bar, mezzo-forte throughout. Each function of `FAULTS`, by the family that should
notice, spoils one place and says what should be found there.
"""

import made_page
import numpy as np
import planted_marks as marks
from sketch import BARS, LONG_BARS, NAMES, NEAR, ROOTS, STRINGS, Sketch


def below_the_range(s):
    floor = {"Flute 1": 59, "Oboe 2": 58, "Clarinet 1": 50, "Bassoon 2": 33, "Violin II": 55,
             "Viola": 48, "Violoncello": 36}  # fmt: skip
    name, bar = s.pick(floor), s.bar()
    s.instead(name, bar, [(0, floor[name] - int(s.rng.integers(1, 4)), 2)])
    return "out-of-range", name, bar, bar


def above_the_range(s):
    top = {"Flute 2": 98, "Oboe 1": 93, "Bassoon 1": 75, "Horn 1": 77, "Trombone 2": 75,
           "Tuba": 65}  # fmt: skip
    name, bar = s.pick(top), s.bar()
    s.instead(name, bar, [(0, top[name] + int(s.rng.integers(1, 6)), 2)])
    return "out-of-range", name, bar, bar


def _register(kind, dynamic, places):
    def plant(s):
        name, bar = s.pick(places), s.bar()
        s.instead(name, bar, [(0, places[name], 2, {"dynamic": dynamic}),
                              (2, places[name], 1, {"dynamic": dynamic})])  # fmt: skip
        return kind, name, bar, bar

    plant.__name__ = f"{kind.replace('-', '_')}_planted"
    return plant


def lies_high(s):
    tops = {"Flute 1": 90, "Oboe 1": 83, "Horn 3": 68, "Violin I": 92}
    name = s.pick(tops)
    bar = s.bar(20)
    for k in range(16):
        s.instead(name, bar + k, [(0, tops[name], 2), (2, tops[name], 1.5)])
    return "high-lying", name, bar, bar + 15


def no_breath(s):
    name, bar = (
        s.pick(["Flute 2", "Clarinet 1", "Bassoon 1", "Trumpet 2", "Trombone 1"]),
        s.bar(16),
    )
    for k in range(20):
        pitch = s.pitch(name, bar + k)
        slur = {"techniques": ("slurred",)}
        s.instead(name, bar + k, [(b, pitch, 1, slur if k or b else {}) for b in range(4)])
    return "no-breath", name, bar, bar + 19


def fast_tongue(s):
    name, bar = s.pick(["Oboe 1", "Clarinet 2", "Bassoon 1", "Trombone 3", "Flute 1"]), s.bar()
    pitch = s.pitch(name, bar)
    s.instead(name, bar, [(k / 12, pitch, 1 / 12) for k in range(36)])
    return "fast-tonguing", name, bar, bar


def high_load(s):
    tops = {"Horn 1": 74, "Trumpet 1": 81, "Trombone 1": 70}
    name = s.pick(tops)
    bar = s.bar(8)
    for k in range(28):
        s.instead(name, bar + k, [(0, tops[name], 2), (2, tops[name], 1.75)])
    return "high-load", name, bar, bar + 27


def high_load_in_all(s):
    s.tempo = 40.0
    tops = {"Horn 1": 70, "Trumpet 1": 78, "Trombone 1": 67}
    name = s.pick(tops)
    for bar in range(s.bars):
        s.instead(name, bar, [(0, tops[name], 2), (2, tops[name], 1.75)])
    return "high-load-in-all", name, 0, s.bars - 1


def loud_brass(s):
    tops = {"Horn 1": 72, "Trumpet 1": 80, "Trombone 1": 69}
    name, bar = s.pick(tops), s.bar()
    s.instead(name, bar, [(0, tops[name], 3, {"dynamic": 5.0})])
    return "brass-over-neighbours", name, bar, bar


def second_player_alone(s):
    name = s.pick(["Flute 2", "Oboe 2", "Clarinet 2", "Bassoon 2", "Trumpet 2", "Trombone 2"])
    bar = s.bar()
    for other in NAMES:
        if other not in (name, "Violin I", "Violoncello"):
            s.clear(other, bar, 4)
        if other.split()[0] == name.split()[0] and other.endswith(" 1"):
            s.clear(other, bar - 2 if bar < 4 else bar - 4, 4)
    s.clear("Horn 1", bar, 4)
    return "exposed-lower-chair", name, bar, bar + 3


def high_second(s):
    pairs = {"Flute 2": "Flute 1", "Oboe 2": "Oboe 1", "Clarinet 2": "Clarinet 1",
             "Horn 2": "Horn 1", "Trumpet 2": "Trumpet 1"}  # fmt: skip
    name, bar = s.pick(pairs), s.bar()
    above = s.pitch(pairs[name], bar) + int(s.rng.integers(3, 6))
    s.instead(name, bar, [(b, above, 1) for b in range(3)])
    return "high-on-lower-chair", name, bar, bar


def wrong_horn(s):
    low, bar = bool(s.rng.integers(2)), s.bar()
    name, partner = ("Horn 1", "Horn 2") if low else ("Horn 4", "Horn 3")
    s.clear(partner, bar)
    s.instead(name, bar, [(0, 43 if low else 73, 3)])
    return "horn-pairs", name, bar, bar


def soft_unison(s):
    kind, bar = s.pick(["Flute", "Oboe", "Clarinet", "Bassoon", "Trumpet"]), s.bar()
    for name in NAMES:
        if name not in (f"{kind} 1", f"{kind} 2", "Viola"):
            s.clear(name, bar, 2)
    for k in (0, 1):
        pitch = s.pitch(f"{kind} 1", bar + k)
        for number in "12":
            s.instead(f"{kind} {number}", bar + k, [(0, pitch, 3.9, {"dynamic": 0.8})])
    return "soft-a2", None, bar, bar + 1


def _switch(kind, names, word):
    def plant(s):
        name, bar = s.pick(names), s.bar()
        pitch = s.pitch(name, bar)
        words = {"techniques": (word,)}
        s.instead(name, bar, [(0, pitch, 2), (2, pitch, 0.25), (2.25, pitch, 1.75, words)])
        s.instead(name, bar + 1, [(2, pitch, 2)])
        return kind, name, bar, bar

    plant.__name__ = f"{kind.replace('-', '_')}_planted"
    return plant


def arco_too_soon(s):
    name, bar = s.pick(STRINGS), s.bar()
    pitch, pizz = s.pitch(name, bar), {"techniques": ("pizz",)}
    s.instead(name, bar, [(1, pitch, 0.5, pizz), (2, pitch, 0.25, pizz), (2.25, pitch, 1.5)])
    return "time-to-arco", name, bar, bar


def other_clarinet(s):
    name, bar = s.pick(["Clarinet 1", "Clarinet 2"]), s.bar()
    s.notes[s.part[name]] = [
        {**n, "written_pitch": n["pitch"] + (3 if n["onset"] >= 4 * bar else 2)}
        for n in s.notes[s.part[name]]
    ]
    return "time-to-change-instrument", name, bar - 1, bar


def take_another(s):
    name, bar = "Flute 2", s.bar()
    s.sign("words", name, 4 * bar, s.pick(["muta in Piccolo", "to Piccolo", "nimmt Piccolo"]))
    return "time-to-change-instrument", name, bar - 1, bar


def other_sticks(s):
    s.extra("snare-drum", "Snare Drum")
    bar = s.bar()
    for k in range(s.bars):
        s.instead("Snare Drum", k, [(b, 60, 0.5) for b in range(4)])
    s.sign("words", "Snare Drum", 0, "with snare sticks")
    s.sign(
        "words", "Snare Drum", 4 * bar, s.pick(["soft mallets", "brushes", "weiche Schlägel"])
    )
    return "time-to-change-sticks", "Snare Drum", bar - 1, bar


def close_bass(s):
    bar = s.bar()
    root = s.pitch("Contrabass", bar)
    gap = int(s.rng.integers(2, 5))
    for name in ("Violoncello", "Bassoon 2", "Trombone 3"):
        s.instead(name, bar, [(0, max(root + gap, 40), 3)])
    for name in ("Contrabass", "Tuba"):
        s.instead(name, bar, [(0, max(root + gap, 40) - gap, 3)])
    return "low-spacing", None, bar, bar


def empty_middle(s):
    bar = s.bar()
    for name in NAMES:
        near = NEAR[NAMES.index(name)]
        tones, low = s.tones(bar), near < 56
        wanted = 45 if low else 84
        if name in ROOTS[1:]:
            continue
        if 45 < near < 68 and name not in ("Violoncello", "Bassoon 1"):
            s.clear(name, bar)
            continue
        pitch = min(range(24, 96), key=lambda p: (p % 12 not in tones, abs(p - wanted)))
        s.instead(name, bar, [(0, pitch, 3)])
    for name in NAMES:
        s.change(name, bar, dynamic=4.0)
    return "hole", None, bar, bar


def floating_tutti(s):
    bar = s.bar()
    for k in range(2):
        for name in NAMES:
            if NEAR[NAMES.index(name)] < 60:
                s.clear(name, bar + k)
            else:
                s.change(name, bar + k, dynamic=4.2, duration=2.0)
                s.instead(name, bar + k, [(0, s.pitch(name, bar + k), 4, {"dynamic": 4.2})])
    return "no-bass", None, bar, bar + 1


def everyone_has_the_tune(s):
    bar = s.bar()
    steps = [0, 2, 4, 5]
    for name in NAMES:
        near = NEAR[NAMES.index(name)]
        base = min(
            range(near - 6, near + 7), key=lambda p: (p % 12 != s.key % 12, abs(p - near))
        )
        for k in range(2):
            s.instead(name, bar + k, [(b, base + step, 1) for b, step in enumerate(steps)])
    return "doubled-by-all", None, bar, bar + 1


def leading_note_twice(s):
    """V7 to I, the third in oboe 2 and viola, which come and go apart."""
    bar = s.bar()
    tonic = s.key % 12
    dominant = [(tonic + step) % 12 for step in (7, 2, 5)]
    lead = (tonic + 11) % 12
    for name in NAMES:
        near = NEAR[NAMES.index(name)]
        root = [dominant[0]] if name in ROOTS else dominant
        home = [tonic] if name in ROOTS else [tonic, (tonic + 7) % 12]

        def nearest(tones, near=near):
            return min(
                range(near - 8, near + 9), key=lambda p: (p % 12 not in tones, abs(p - near))
            )

        s.instead(
            name,
            bar,
            [(0, s.pitch(name, bar), 1), (1, nearest(root), 2), (3, nearest(home), 1)],
        )
        if name in ("Oboe 2", "Viola"):
            third = nearest([lead])
            before, after = (
                (third + 1, third + 1) if name == "Oboe 2" else (third - 2, third - 4)
            )
            s.instead(name, bar, [(0, before, 1), (1, third, 2), (3, after, 1)])
    return "leading-note-doubled", None, bar, bar


def hired(s):
    key, name = [("bass-clarinet", "Bass Clarinet"), ("contrabassoon", "Contrabassoon"),
                 ("english-horn", "English Horn"), ("celesta", "Celesta"),
                 ("piccolo", "Piccolo")][int(s.rng.integers(5))]  # fmt: skip
    s.extra(key, name)
    pitch = {"bass-clarinet": 45, "contrabassoon": 36, "english-horn": 62, "celesta": 84,
             "piccolo": 88}[key]  # fmt: skip
    bar = s.bar(20)
    s.signs.append(made_page.sign("dynamic", s.part[name], 4.0 * bar, "mf"))
    for k in range(8):
        s.instead(name, bar + k, [(0, pitch, 2)])
    return "extra-player", name, bar, bar + 7


def many_drums(s):
    bar = s.bar(20)
    for key, name in (
        ("snare-drum", "Snare Drum"),
        ("bass-drum", "Bass Drum"),
        ("cymbals", "Cymbals"),
    ):
        s.extra(key, name)
        s.signs.append(made_page.sign("dynamic", s.part[name], 4.0 * bar, "mf"))
        s.instead(name, bar, [(0, 60, 2)])
    return "extra-percussion", None, bar, bar


def planted(fault, seed):
    """Plant a fault on the page of a seed: the score, and kind, part and bars to be found."""
    rng = np.random.default_rng(seed)
    sketch = Sketch(rng, LONG_BARS if fault in LONG else BARS)
    kind, name, first, last = fault(sketch)
    return sketch.score(), kind, sketch.part[name] if name else None, first, last


def clean(seed):
    return Sketch(np.random.default_rng(seed), LONG_BARS).score()


LONG = (
    lies_high,
    no_breath,
    high_load,
    high_load_in_all,
    marks.bare_entry,
    marks.long_rest,
    marks.mute_forgotten,
)
FAULTS = {
    "range": (
        below_the_range,
        above_the_range,
        _register("low-register-loud", 5.0, {"Flute 1": 62, "Flute 2": 64, "Horn 4": 38}),
        _register("low-register-soft", 0.0, {"Oboe 1": 59, "Oboe 2": 61, "Bassoon 2": 35}),
        _register(
            "high-register-soft",
            0.0,
            {"Flute 1": 94, "Oboe 1": 89, "Horn 1": 73, "Trumpet 1": 80, "Trombone 1": 71},
        ),
        _register("high-register-loud", 5.0, {"Bassoon 1": 73, "Bassoon 2": 72}),
        lies_high,
    ),
    "winds": (no_breath, fast_tongue),
    "brass": (high_load, high_load_in_all, loud_brass),
    "chairs": (second_player_alone, high_second, wrong_horn, soft_unison),
    "changes": (
        _switch("time-to-pizz", STRINGS, "pizz"),
        _switch("time-to-mute", [*STRINGS, "Trumpet 1", "Trombone 3", "Horn 2"], "mute"),
        _switch("time-to-move-bow", STRINGS, "sul-ponticello"),
        _switch("time-to-stop", ["Horn 1", "Horn 2", "Horn 3", "Horn 4"], "stopped"),
        arco_too_soon,
        other_clarinet,
        take_another,
        other_sticks,
    ),
    "texture": (close_bass, empty_middle, floating_tutti, everyone_has_the_tune),
    "leading notes": (leading_note_twice,),
    "notation": (
        marks.bare_entry,
        marks.long_rest,
        marks.lost_hairpin,
        marks.marks_apart,
        marks.signed(
            "stacked-signs",
            ("accent", "marcato"),
            ("staccato", "staccatissimo"),
            ("staccatissimo", "tenuto"),
            ("fermata", "staccato"),
        ),
        marks.signed("sign-against-slur", ("slurred", "staccatissimo"), ("marcato", "slurred")),
        marks.arco_forgotten,
        marks.mute_forgotten,
        marks.switched_off_nothing,
        marks.homemade_words,
        marks.many_sharps,
    ),
    "forces": (hired, many_drums),
}
