"""Faults of marks, words and signs, planted on the pages of `sketch`."""

from sketch import NAMES, STRINGS


def bare_entry(s):
    name, bar = s.pick(NAMES), s.bar(20)
    s.clear(name, bar, 10)
    return "entry-without-dynamic", name, bar + 10, bar + 10


def long_rest(s):
    name = s.pick(NAMES)
    s.clear(name, 4, 28)
    s.sign("dynamic", name, 4 * 32, "mf")
    return "cue-wanted", name, 32, 32


def lost_hairpin(s):
    name, bar = s.pick(NAMES), s.bar()
    text = s.pick(["crescendo", "diminuendo"])
    s.sign("hairpin", name, 4 * bar, text, 4 * bar + 3.0)
    s.instead(name, bar, [(b, s.pitch(name, bar), 1) for b in range(4)])
    return "hairpin-to-nowhere", name, bar, bar


def marks_apart(s):
    a, b = [("Flute 1", "Oboe 2"), ("Trumpet 1", "Trombone 2"), ("Violin I", "Viola")][
        int(s.rng.integers(3))
    ]
    bar = s.bar()
    low = s.pitch(b, bar)
    for name, level in ((a, 4.0), (b, 1.0)):
        pitch = low if name == b else low + 12
        s.instead(name, bar, [(k, pitch, 1, {"dynamic": level}) for k in range(3)])
    return "doubling-marks-differ", None, bar, bar


def signed(kind, *pairs):
    def plant(s):
        name, bar = s.pick(NAMES), s.bar()
        techniques = pairs[int(s.rng.integers(len(pairs)))]
        s.change(name, bar, techniques=techniques)
        return kind, name, bar, bar

    plant.__name__ = f"{kind.replace('-', '_')}_planted"
    return plant


def arco_forgotten(s):
    name, bar = s.pick(STRINGS), s.bar()
    pitch = s.pitch(name, bar)
    pizz = {"techniques": ("pizz",)}
    bowed = {"techniques": ("pizz", s.pick(["slurred", "tremolo"]))}
    s.instead(name, bar - 1, [(0, pitch, 1)])
    s.instead(name, bar, [(0, pitch, 1, pizz), (2, pitch, 1, pizz)])
    s.instead(name, bar + 1, [(b, pitch, 1, bowed) for b in range(3)])
    s.instead(name, bar + 2, [(2, pitch, 1)])
    return "missing-arco", name, bar + 1, bar + 1


def mute_forgotten(s):
    name, bar = s.pick([*STRINGS, "Trumpet 1", "Trombone 2", "Horn 4"]), s.bar(20)
    s.clear(name, bar - 1, 1)
    s.change(name, bar, 14, techniques=("mute",))
    s.change(name, bar + 12, 2, dynamic=5.0)
    s.clear(name, bar + 14, 1)
    return "mute-left-on", name, bar + 12, bar + 13


def switched_off_nothing(s):
    name, bar = s.pick(STRINGS), s.bar()
    s.sign("words", name, 4 * bar, s.pick(["arco", "senza sord."]))
    return "needless-switch", name, bar, bar


def homemade_words(s):
    name, bar = s.pick(STRINGS), s.bar()
    text = s.pick(["plucked", "bowed", "stacatto", "crecendo", "with mutes", "mutes off",
                   "near the bridge", "tremelo", "back to normal", "legatto"])  # fmt: skip
    s.sign("words", name, 4 * bar, text)
    return "unusual-words", name, bar, bar


def many_sharps(s):
    name = s.pick(["Clarinet 1", "Clarinet 2"])
    # Written E major for the clarinet in B flat: sounding D, which in A reads one flat.
    scale = [
        ("E4", 62),
        ("F#4", 64),
        ("G#4", 66),
        ("A4", 67),
        ("B4", 69),
        ("C#5", 71),
        ("D#5", 73),
    ]
    for bar in range(s.bars):
        s.clear(name, bar)
        for beat in range(3):
            spelled, pitch = scale[(bar + beat) % 7]
            s.add(name, 4 * bar + beat, pitch, 1, spelling=spelled)
    return "easier-transposition", name, 0, s.bars - 1
