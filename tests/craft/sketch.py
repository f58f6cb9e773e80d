"""A page of plain chords for full orchestra, from a seed, that a test may spoil."""

import made_page

KEYS = (
    "flute", "flute", "oboe", "oboe", "clarinet", "clarinet", "bassoon", "bassoon",
    "horn", "horn", "horn", "horn", "trumpet", "trumpet", "trombone", "trombone", "trombone",
    "tuba", "violin", "violin", "viola", "cello", "double-bass",
)  # fmt: skip
NAMES = (
    "Flute 1", "Flute 2", "Oboe 1", "Oboe 2", "Clarinet 1", "Clarinet 2", "Bassoon 1",
    "Bassoon 2", "Horn 1", "Horn 2", "Horn 3", "Horn 4", "Trumpet 1", "Trumpet 2",
    "Trombone 1", "Trombone 2", "Trombone 3", "Tuba", "Violin I", "Violin II", "Viola",
    "Violoncello", "Contrabass",
)  # fmt: skip
# Sounding pitch each part stays near; the last of a group has the root.
NEAR = (
    81, 76, 74, 71, 70, 65, 55, 48, 65, 60, 62, 57, 72, 67, 60, 57, 52, 38, 79, 69, 62, 50, 38,
)  # fmt: skip
ROOTS = ("Bassoon 2", "Tuba", "Violoncello", "Contrabass")
CHORDS = ((0, "major"), (2, "minor"), (5, "major"), (9, "minor"))
BARS, LONG_BARS = 16, 40
PART = {name: number for number, name in enumerate(NAMES, start=1)}
WINDS = NAMES[:18]
STRINGS = NAMES[18:]


class Sketch:
    """A page in the making: notes and signs by part number, free to be spoiled."""

    def __init__(self, rng, bars=BARS):
        self.rng, self.bars = rng, bars
        self.tempo = float(rng.integers(84, 108))
        self.keys, self.names, self.part = list(KEYS), list(NAMES), dict(PART)
        self.key = int(rng.integers(-3, 4))
        self.notes = {n: [] for n in PART.values()}
        self.signs = [made_page.sign("dynamic", n, 0.0, "mf") for n in PART.values()]
        for bar in range(bars):
            for name in NAMES:
                self.plain(name, bar)

    def tones(self, bar):
        root, mode = CHORDS[(bar // 2) % 4]
        return [
            (self.key + root + step) % 12
            for step in ((0, 4, 7) if mode == "major" else (0, 3, 7))
        ]

    def pitch(self, name, bar):
        near = NEAR[NAMES.index(name)]
        tones = self.tones(bar)[:1] if name in ROOTS else self.tones(bar)
        return min(
            (p for p in range(near - 7, near + 8) if p % 12 in tones),
            key=lambda p: abs(p - near),
        )

    def plain(self, name, bar):
        pitch = self.pitch(name, bar)
        self.add(name, 4 * bar, pitch, 2)
        self.add(name, 4 * bar + 2, pitch, 1)

    def add(self, name, onset, pitch, length=1.0, **more):
        self.notes[self.part[name]].append(
            made_page.note(onset, pitch, length, **{"spelling": "", **more})
        )

    def clear(self, name, bar, bars=1):
        kept = self.notes[self.part[name]]
        first, last = 4 * bar, 4 * (bar + bars)
        self.notes[self.part[name]] = [n for n in kept if not first <= n["onset"] < last]

    def instead(self, name, bar, notes):
        """Replace one bar: (beat, pitch, length[, fields])."""
        self.clear(name, bar)
        for beat, pitch, length, *more in notes:
            self.add(name, 4 * bar + beat, pitch, length, **(more[0] if more else {}))

    def change(self, name, bar, bars=1, **fields):
        """Set fields on the notes of some bars."""
        for one in self.notes[self.part[name]]:
            if 4 * bar <= one["onset"] < 4 * (bar + bars):
                one.update(fields)

    def sign(self, kind, name, onset, text="", end=None):
        self.signs.append(made_page.sign(kind, self.part[name], float(onset), text, end))

    def extra(self, key, name):
        self.keys.append(key)
        self.names.append(name)
        self.part[name] = len(self.keys)
        self.notes[self.part[name]] = []
        self.signs.append(made_page.sign("dynamic", self.part[name], 0.0, "mf"))

    def bar(self, last=30):
        return int(self.rng.integers(2, min(last, self.bars - 5)))

    def pick(self, names):
        return str(self.rng.choice(list(names)))

    def score(self):
        parts = [(key, self.notes[n]) for n, key in enumerate(self.keys, start=1)]
        names = dict(enumerate(self.names, start=1))
        return made_page.page(
            parts, bars=self.bars, tempo=self.tempo, directions=self.signs, names=names
        )
