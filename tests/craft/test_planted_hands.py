"""Faults planted in made pages, ten of each kind from a seed; and clean pages."""

import numpy as np
import pytest

from auditor.craft import harp, keyboards, percussion, strings, timpani
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page

FAMILIES = (strings, harp, timpani, percussion, keyboards)
SEEDS = range(10)
BARS = 16
PARTS = (
    "violin", "violin", "viola", "cello", "double-bass", "harp", "timpani", "marimba",
    "glockenspiel", "snare-drum", "piano", "celesta",
)  # fmt: skip
# A page has a solo violin as well as sections.
SOLO, SECTION, VIOLA, CELLO, BASS, HARP, TIMPANI, MARIMBA, BELLS, SNARE, PIANO, CELESTA = range(
    1, 13
)
# Lowest note each part's plain music takes; chords of C major above it are easy for all.
GROUND = {SOLO: 67, SECTION: 67, VIOLA: 60, CELLO: 48, BASS: 36, HARP: 60, TIMPANI: 43,
          MARIMBA: 60, BELLS: 84, SNARE: 60, PIANO: 60, CELESTA: 72}  # fmt: skip


class Sketch:
    """A page in the making: plain notes in two bars of three, free to be spoiled."""

    def __init__(self, made, seed):
        self.made, self.rng = made, np.random.default_rng(seed)
        self.signs, self.tempo = [], float(self.rng.integers(56, 76))
        self.notes = {part: self.plain(part) for part in range(1, len(PARTS) + 1)}
        self.bar = int(self.rng.integers(3, BARS - 4))

    def plain(self, part):
        steps = (0, 5) if part == TIMPANI else (0, 2, 4, 5, 7, 9, 11)
        return [
            self.made.note(4 * bar + beat, GROUND[part] + int(self.rng.choice(steps)), 1.0)
            for bar in range(BARS)
            if bar % 3
            for beat in range(3)
        ]

    def clear(self, part, before=1, after=1):
        first, last = 4 * (self.bar - before), 4 * (self.bar + 1 + after)
        self.notes[part] = [n for n in self.notes[part] if not first <= n["onset"] < last]

    def put(self, part, *notes):
        self.notes[part] += notes

    def chord(self, part, pitches, **more):
        self.clear(part)
        self.put(part, *self.made.chord(4.0 * self.bar, pitches, **more))

    def among(self, low, high):
        return int(self.rng.integers(low, high + 1))

    def score(self):
        parts = [(key, self.notes[k]) for k, key in enumerate(PARTS, start=1)]
        return self.made.page(
            parts, bars=BARS, tempo=self.tempo, directions=self.signs, players={SOLO: 1}
        )


def same_string(s):
    low = s.among(55, 59)
    s.chord(SOLO, (low, s.among(low + 1, 61)))
    return "stop-not-fingered", SOLO


def non_div(s):
    s.chord(VIOLA, (49, 53))
    onset = 4.0 * s.bar
    s.signs += [(VIOLA, onset, "non div."), (VIOLA, onset + 4, "unis.")]
    return "stop-not-fingered", VIOLA


def two_low(s):
    low = s.among(48, 51)
    s.chord(VIOLA, (low, s.among(low + 1, 54)))
    return "stop-needs-divisi", VIOLA


def ninth_at_the_nut(s):
    low = s.among(56, 58)
    s.chord(SOLO, (low, low + s.among(14, 15)))
    return "wide-stop", SOLO


def soft_chord(s):
    s.chord(SOLO, (55, 62, 71, 79)[: s.among(3, 4)], dynamic=float(s.among(-1, 1)))
    return "soft-broken-chord", SOLO


def no_harmonic(s):
    s.chord(SOLO, (55 + int(s.rng.choice((1, 2, 6))),), techniques=("harmonic",))
    return "harmonic-out-of-reach", SOLO


def harmonic_in_the_clouds(s):
    stopped = s.among(86, 92)
    s.chord(SOLO, (stopped + 24,), written_pitch=stopped, techniques=("harmonic",))
    return "harmonic-very-high", SOLO


def many_divisi(s):
    count = s.among(6, 9)
    s.chord(CELLO, range(50, 50 + 2 * count, 2), techniques=("div",))
    return "divisi-too-many", CELLO


def low_bass(s):
    s.chord(BASS, (s.among(24, 27),))
    return "below-low-string", BASS


def harp_crowd(s):
    s.chord(HARP, sorted(s.rng.choice(DIATONIC, s.among(9, 11), replace=False)))
    return "too-many-notes", HARP


DIATONIC = [12 * octave + step for octave in (4, 5, 6) for step in (0, 2, 4, 5, 7, 9, 11)]


def harp_wide(s):
    # Each of three notes is more than a tenth from the next: one hand must take two.
    low = 12 * s.among(2, 3)
    s.chord(HARP, (low, low + 17, low + 17 + s.among(0, 1) * 12 + 19))
    return "hand-too-wide", HARP


def harp_low(s):
    low = 12 * 2 + int(s.rng.choice((2, 4, 5, 7)))
    s.clear(HARP)
    at = 4.0 * s.bar
    s.put(
        HARP,
        s.made.note(at, low, voice="2.1"),
        s.made.note(at, 36, voice="1.1"),
        s.made.note(at, 38, voice="1.1"),
    )
    return "both-hands-low", HARP


SHARPS = (("C", 60), ("D", 62), ("F", 65), ("G", 67), ("A", 69))


def two_settings(s):
    letter, pitch = SHARPS[s.among(0, 4)]
    s.clear(HARP)
    at = 4.0 * s.bar
    s.put(
        HARP,
        s.made.note(at, pitch, spelling=f"{letter}4"),
        s.made.note(at, pitch + 13, spelling=f"{letter}#5"),
    )
    return "pedal-contradiction", HARP


def quick_sharps(s):
    letter, pitch = SHARPS[s.among(0, 4)]
    s.clear(HARP)
    s.put(
        HARP,
        *(
            s.made.note(
                4.0 * s.bar + 0.125 * k,
                pitch + k % 2,
                0.125,
                spelling=f"{letter}{'#' * (k % 2)}4",
            )
            for k in range(4)
        ),
    )
    return "pedals-impossible", HARP


def hurried_feet(s):
    # Three pedals of the right foot in less than a second and a half.
    s.clear(HARP)
    at, step = 4.0 * s.bar, s.tempo / 60.0
    for k, (letter, pitch) in enumerate((("F", 65), ("G", 67), ("A", 69))):
        s.put(HARP, s.made.note(at + 0.05 * k, pitch, 0.1, spelling=f"{letter}4"))
    for k, (letter, pitch) in enumerate((("F", 66), ("G", 68), ("A", 70))):
        s.put(HARP, s.made.note(at + step + 0.05 * k, pitch, 0.1, spelling=f"{letter}#4"))
    s.put(HARP, s.made.note(at + 3, 60, spelling="C4"))
    return "pedals-hurried", HARP


def bottom_string(s):
    sharp = s.among(0, 1)
    s.chord(HARP, (24 + sharp,), spelling=("C1", "C#1")[sharp])
    s.put(HARP, s.made.note(4.0 * s.bar + 8, 25 - sharp, spelling=("C#1", "C1")[sharp]))
    return "bottom-string", HARP


def no_drum(s):
    s.chord(TIMPANI, (int(s.rng.choice((33, 34, 35, 61, 62, 64))),))
    return "out-of-range", TIMPANI


def small_drum(s):
    s.chord(TIMPANI, (int(s.rng.choice((36, 37, 58, 59, 60))),))
    return "special-drum", TIMPANI


def two_drums(s):
    s.chord(TIMPANI, (43, 43 + int(s.rng.choice((5, 7)))))
    return "drums-together", TIMPANI


def three_drums(s):
    s.chord(TIMPANI, (43, 48, 53)[: s.among(3, 3)])
    return "too-many-drums", TIMPANI


def chromatic_drums(s):
    s.clear(TIMPANI)
    low = s.among(50, 52)
    for k, pitch in enumerate((low, low + 1, low + 2, low + 3) * 2):
        s.put(TIMPANI, s.made.note(4.0 * s.bar + 0.25 * k, pitch, 0.25))
    return "retuning-too-quick", TIMPANI


def moving_drum(s):
    # The lowest drum alone has these notes, and gets two to three seconds between them.
    s.clear(TIMPANI)
    gap = s.tempo / 60.0 * (2.0 + s.rng.random())
    s.put(TIMPANI, s.made.note(4.0 * s.bar, 38, 0.25))
    s.put(TIMPANI, s.made.note(4.0 * s.bar + gap + 0.3, 38 - 1, 0.25))
    return "retuning-quick", TIMPANI


def five_mallets(s):
    s.chord(MARIMBA, sorted(s.rng.choice(DIATONIC, s.among(5, 6), replace=False)))
    return "too-many-mallets", MARIMBA


def wide_mallets(s):
    low = s.among(40, 44)
    s.chord(MARIMBA, (low, low + s.among(13, 15), low + 30, low + 30 + s.among(13, 15)))
    return "mallets-too-wide", MARIMBA


def four_mallets(s):
    s.chord(MARIMBA, (48, 48 + s.among(3, 12), 65, 65 + s.among(3, 12)))
    return "four-mallets", MARIMBA


def below_the_bars(s):
    s.chord(BELLS, (s.among(60, 76),))
    return "out-of-range", BELLS


def three_sticks(s):
    s.clear(SNARE)
    at = 4.0 * s.bar
    s.put(SNARE, *(s.made.note(at, 60, written_pitch=60 + 2 * k) for k in range(s.among(3, 5))))
    return "strokes-at-once", SNARE


def eleven_fingers(s):
    s.chord(PIANO, range(40, 40 + 2 * s.among(11, 13), 2))
    return "too-many-notes", PIANO


def wide_keys(s):
    low = s.among(36, 41)
    s.chord(PIANO, (low, low + 17, low + 17 + s.among(17, 20)))
    return "hand-too-wide", PIANO


def below_the_celesta(s):
    s.chord(CELESTA, (s.among(40, 59),))
    return "out-of-range", CELESTA


FAULTS = (
    same_string, non_div, two_low, ninth_at_the_nut, soft_chord, no_harmonic,
    harmonic_in_the_clouds, many_divisi, low_bass, harp_crowd, harp_wide, harp_low,
    two_settings, quick_sharps, hurried_feet, bottom_string, no_drum, small_drum, two_drums,
    three_drums, chromatic_drums, moving_drum, five_mallets, wide_mallets, four_mallets,
    below_the_bars, three_sticks, eleven_fingers, wide_keys, below_the_celesta,
)  # fmt: skip


def remarks_on(score):
    limits = CraftLimits()
    page = Page(score, limits)
    return [r for family in FAMILIES for r in family.remarks(page, limits)]


@pytest.mark.parametrize("plant", FAULTS, ids=lambda plant: plant.__name__)
def test_planted_faults_are_found_and_little_else(made, plant):
    found, told, beside = 0, 0, []
    for seed in SEEDS:
        sketch = Sketch(made, seed)
        kind, part = plant(sketch)
        remarks = remarks_on(sketch.score())
        near = [
            r for r in remarks
            if r.part == part and r.first_bar <= sketch.bar + 2 and r.last_bar >= sketch.bar
        ]  # fmt: skip
        found += any(r.kind == kind for r in near)
        told += len(remarks)
        beside += [(r.kind, r.part) for r in remarks if r not in near]
    assert found / len(SEEDS) >= 0.95
    assert beside == []
    assert told >= found


@pytest.mark.parametrize("seed", range(20))
def test_clean_pages_draw_no_remark(made, seed):
    assert remarks_on(Sketch(made, 100 + seed).score()) == []
