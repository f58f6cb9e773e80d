"""Made passages: 8 to 14 bars for 6 to 20 parts with roles, phrases, dynamics and rests.

Only quarters, pitches and dynamic steps here; no sound. The music is our own and made
afresh from a seed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from mixes_players import CHAIRS, Chair

MAJOR, MINOR = (0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10)
# Rhythms of one bar in quarters, by beats in the bar.
TUNES = {
    4: ((1, 1, 1, 1), (2, 1, 1), (1.5, 0.5, 1, 1), (0.5, 0.5, 1, 1, 1), (1, 0.5, 0.5, 2),
        (3, 1), (0.5,) * 8, (0.75, 0.25, 1, 1, 1)),
    3: ((1, 1, 1), (2, 1), (1.5, 0.5, 1), (0.5, 0.5, 1, 1), (3,), (0.5,) * 6),
}  # fmt: skip
SLOW = {4: ((2, 2), (4,), (1, 1, 2), (3, 1)), 3: ((3,), (2, 1), (1, 2))}
BASSES = {
    4: ((4,), (2, 2), (1, 1, 1, 1), (2, 1, 1), (1.5, 0.5, 2)),
    3: ((3,), (2, 1), (1, 1, 1)),
}


@dataclass(frozen=True, slots=True)
class Written:
    """A note on the page, in quarters; the pitch sounds; dynamic in steps."""

    onset: float
    duration: float
    pitch: int
    dynamic: float = 3.0
    pizzicato: bool = False


@dataclass(frozen=True, slots=True)
class MadePart:
    """A part: its chair, its job, whom it doubles at which interval, and its notes.

    `marks` are (bar, dynamic step); `hairpins` are bars that lead to the next mark.
    """

    chair: str
    role: str
    notes: tuple[Written, ...]
    doubles: int | None = None
    interval: int = 0
    marks: tuple[tuple[int, int], ...] = ()
    hairpins: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Passage:
    """A made passage; `root` is the pitch class of its key."""

    seed: int
    tempo: float
    beats: int
    bars: int
    root: int
    minor: bool
    parts: tuple[MadePart, ...]


@dataclass(slots=True)
class _Ground:
    """What the parts of one passage share."""

    rng: np.random.Generator
    beats: int
    bars: int
    root: int
    scale: tuple[int, ...]
    chords: tuple[int, ...]
    phrases: tuple[tuple[int, int], ...]
    lines: dict[str, list[Written]] = field(default_factory=dict)

    def pitch(self, degree: int) -> int:
        return self.root + 12 * (degree // 7) + self.scale[degree % 7]


def _seats(rng: np.random.Generator, count: int) -> list[str]:
    core: list[str] = []
    if rng.random() < 0.85:
        core += ["violin-1", "violin-2", "viola", "cello", "double-bass"]
    if rng.random() < 0.35:
        core += [name for name in CHAIRS if name.endswith("saxophone")]
    others = [
        "piccolo", "flute", "flute", "oboe", "oboe", "english-horn", "clarinet", "clarinet",
        "bassoon", "bassoon", "horn", "horn", "horn", "trumpet", "trumpet", "trombone",
        "trombone", "tuba", "timpani", "harp", "xylophone", "glockenspiel", "solo-violin",
    ]  # fmt: skip
    rng.shuffle(core)
    rng.shuffle(others)
    chosen = core[: max(3, int(count * 0.6))]
    chosen += others[: count - len(chosen)]
    order = list(CHAIRS)
    return sorted(chosen, key=order.index)


def _phrases(rng: np.random.Generator, bars: int) -> tuple[tuple[int, int], ...]:
    out, bar, level = [], 0, int(rng.integers(1, 5))
    while bar < bars:
        out.append((bar, level))
        bar += int(rng.integers(2, 5))
        level = int(np.clip(level + rng.choice([-2, -1, 0, 1, 2]), 0, 5))
    return tuple(out)


def _ground(rng: np.random.Generator) -> _Ground:
    beats = int(rng.choice([4, 4, 4, 3]))
    bars = int(rng.integers(8, 12 if beats == 4 else 15))
    chords = (
        0,
        *(int(rng.choice(6, p=[0.25, 0.12, 0.06, 0.2, 0.25, 0.12])) for _ in range(bars - 1)),
    )
    scale = MINOR if rng.random() < 0.4 else MAJOR
    root = int(rng.integers(0, 12))
    return _Ground(rng, beats, bars, root, scale, chords, _phrases(rng, bars))


def _tune(
    g: _Ground, center: float, rhythms: dict[int, tuple[tuple[float, ...], ...]]
) -> list[Written]:
    """Walk a line that starts each bar on the nearest chord tone and goes on by step."""
    home = 7 * round((center - g.root) / 12)
    at, out = home, []
    for bar in range(g.bars):
        onset = float(bar * g.beats)
        tones = [home + g.chords[bar] + k + 7 * o for k in (0, 2, 4) for o in (-2, -1, 0, 1)]
        for place, length in enumerate(
            rhythms[g.beats][int(g.rng.integers(len(rhythms[g.beats])))]
        ):
            if place == 0:
                at = min(tones, key=lambda tone: abs(tone - at) + g.rng.random())
            else:
                at += int(g.rng.choice([-2, -1, -1, 1, 1, 2]))
            if abs(at - home) > 7:
                at -= 3 * int(np.sign(at - home))
            if g.rng.random() > 0.05:
                out.append(Written(onset, length, g.pitch(at)))
            onset += length
    return out


def _bass(g: _Ground) -> list[Written]:
    out = []
    for bar, chord in enumerate(g.chords):
        onset = float(bar * g.beats)
        rhythm = BASSES[g.beats][int(g.rng.integers(len(BASSES[g.beats])))]
        for place, length in enumerate(rhythm):
            step = 0 if place == 0 else int(g.rng.choice([0, 4, 7]))
            out.append(Written(onset, length, g.pitch(chord + step) + 36))
            onset += length
    return out


def _pad(g: _Ground, chair: Chair) -> list[Written]:
    halves = g.beats == 4 and g.rng.random() < 0.4
    length = g.beats / 2 if halves else float(g.beats)
    near = (chair.low + chair.high) // 2 + int(g.rng.integers(-4, 8))
    out = []
    for bar, chord in enumerate(g.chords):
        tones = [g.pitch(chord + k) + 12 * o for k in (0, 2, 4) for o in range(9)]
        tones = [tone for tone in tones if chair.low <= tone <= chair.high]
        near = min(tones, key=lambda tone: abs(tone - near) + 2 * g.rng.random())
        out += [Written(bar * g.beats + k * length, length, near) for k in range(1 + halves)]
    return out


def _figure(g: _Ground, chair: Chair) -> list[Written]:
    """Broken chords in eighths, off-beats, or plain quarters."""
    kind = int(g.rng.integers(3))
    octave = 12 * round(((chair.low + chair.high) / 2 - g.root) / 12)
    count, first, length = ((2 * g.beats, 0.0, 0.5), (g.beats, 0.5, 0.5), (g.beats, 0.0, 1.0))[
        kind
    ]
    step = g.beats / count
    out = []
    for bar, chord in enumerate(g.chords):
        for k in range(count):
            degree = chord + (0, 2, 4, 7, 4, 2, 0, 2)[k * (2 if kind else 1) % 8]
            out.append(
                Written(bar * g.beats + first + k * step, length, g.pitch(degree) + octave)
            )
    return out


def _timpani(g: _Ground) -> list[Written]:
    out = []
    for bar, chord in enumerate(g.chords):
        if g.rng.random() > 0.7:
            continue
        onset = float(bar * g.beats)
        out.append(Written(onset, 1.0, g.root + 36 + (0 if chord % 2 == 0 else 7)))
        if g.rng.random() < 0.4:
            out += [Written(onset + 2 + k / 2, 0.5, g.root + 43) for k in range(2)]
    return out


def _fold(notes: Sequence[Written], chair: Chair) -> list[Written]:
    """Move notes by octaves into the chair's range."""
    out = []
    for note in notes:
        pitch = note.pitch
        while pitch < chair.low:
            pitch += 12
        while pitch > chair.high:
            pitch -= 12
        if pitch >= chair.low:
            out.append(replace(note, pitch=pitch))
    return out


def _doubling(g: _Ground, model: Sequence[Written], chair: Chair) -> tuple[list[Written], int]:
    """Write the model at the interval that fits the chair best, unison preferred."""
    low, high = np.percentile([note.pitch for note in model], [20, 80])
    fits = [k for k in (0, 12, -12, 24, -24) if chair.low <= low + k and high + k <= chair.high]
    if not fits:
        return _fold(model, chair), 0
    shift = fits[0] if g.rng.random() < 0.6 else fits[int(g.rng.integers(len(fits)))]
    return _fold([replace(note, pitch=note.pitch + shift) for note in model], chair), shift


def _jobs(chair: Chair, has: set[str]) -> list[str]:
    """Every role a chair may take, repeated by how often it should come up."""
    struck = not chair.sustained
    weights = {
        "doubling": 3 * ("d" in chair.roles and "melody" in has),
        "bass doubling": 4 * ("b" in chair.roles and "bass" in has),
        "pad": 5 * ("p" in chair.roles),
        "counter": 2 * ("c" in chair.roles),
        "figure": (7 if struck else 2) * ("f" in chair.roles),
        "figure doubling": 4 * ("f" in chair.roles and struck and "figure" in has),
        "timpani": int("t" in chair.roles),
    }
    return [role for role, weight in weights.items() for _ in range(weight)]


_MODEL = {"doubling": "melody", "bass doubling": "bass", "figure doubling": "figure"}


def _write(g: _Ground, chair: Chair, role: str) -> tuple[list[Written], int]:
    if role in _MODEL:
        return _doubling(g, g.lines[_MODEL[role]], chair)
    if role == "timpani":
        return _fold(_timpani(g), chair), 0
    if role == "counter":
        return _fold(g.lines.setdefault("counter", _tune(g, 60, SLOW)), chair), 0
    notes = _fold(_pad(g, chair) if role == "pad" else _figure(g, chair), chair)
    return notes, 0


def _rests(g: _Ground, notes: Sequence[Written]) -> list[Written]:
    """Keep about 60 % of the two-bar blocks, two at least."""
    blocks = (g.bars + 1) // 2
    plays = g.rng.random(blocks) < 0.6
    if plays.sum() < 2:
        plays[g.rng.choice(blocks, 2, replace=False)] = True
    return [note for note in notes if plays[int(note.onset // g.beats) // 2]]


def _dynamics(g: _Ground, part: MadePart, offset: int) -> MadePart:
    marks = tuple((bar, int(np.clip(level + offset, 0, 5))) for bar, level in g.phrases)
    hairpins = []
    for (bar, level), (following, after) in pairwise(marks):
        if level != after and following - bar > 1 and g.rng.random() < 0.3:
            hairpins.append(following - 1)
    bars = [bar for bar, _ in marks]
    notes = []
    for note in part.notes:
        place = note.onset / g.beats
        k = int(np.searchsorted(bars, place, "right")) - 1
        level = float(marks[k][1])
        if k + 1 < len(marks) and int(place) in hairpins:
            level += (marks[k + 1][1] - level) * (place - int(place))
        notes.append(replace(note, dynamic=round(level, 3)))
    return replace(part, notes=tuple(notes), marks=marks, hairpins=tuple(hairpins))


def _pizzicato(g: _Ground, part: MadePart) -> MadePart:
    """Strings in figures and basses are often plucked, some from a bar in the middle on."""
    if CHAIRS[part.chair].family != "strings" or part.chair == "solo-violin":
        return part
    chance = {"figure": 0.7, "bass": 0.3, "bass doubling": 0.4}.get(part.role, 0.0)
    if g.rng.random() >= chance:
        return part
    start = 0 if g.rng.random() < 0.7 else g.beats * int(g.rng.integers(2, g.bars - 2))
    notes = tuple(replace(n, pizzicato=n.onset >= start) for n in part.notes)
    return replace(part, notes=notes)


def _leader(g: _Ground, seats: Sequence[str], letter: str) -> int | None:
    able = [k for k, name in enumerate(seats) if letter in CHAIRS[name].roles]
    return int(g.rng.choice(able)) if able else None


def compose(seed: int, count: int | None = None) -> Passage:
    """Make the passage of a seed; `count` asks for a number of parts (some may fall silent)."""
    rng = np.random.default_rng(seed)
    number = count or int(rng.triangular(6, 9, 20.99))
    seats = _seats(rng, number)
    g = _ground(rng)
    tempo = float(round(rng.uniform(76, 138)))
    leaders = {"melody": _leader(g, seats, "m"), "bass": _leader(g, seats, "b")}
    if leaders["melody"] is not None:
        chair = CHAIRS[seats[leaders["melody"]]]
        g.lines["melody"] = _fold(_tune(g, (chair.low + chair.high) / 2 + 4, TUNES), chair)
    if leaders["bass"] is not None and leaders["bass"] != leaders["melody"]:
        g.lines["bass"] = _fold(_bass(g), CHAIRS[seats[leaders["bass"]]])
    parts = _parts(g, seats, leaders)
    return Passage(seed, tempo, g.beats, g.bars, g.root, g.scale is MINOR, tuple(parts))


def _parts(g: _Ground, seats: Sequence[str], leaders: dict[str, int | None]) -> list[MadePart]:
    drafts: list[tuple[int, MadePart]] = []
    seat_of = {role: seat for role, seat in leaders.items() if role in g.lines}
    for seat, name in enumerate(seats):
        chair = CHAIRS[name]
        role = next((r for r, s in seat_of.items() if s == seat and r != "figure"), None)
        interval = 0
        if role:
            notes = list(g.lines[role])
        else:
            jobs = _jobs(chair, set(g.lines))
            if not jobs:
                continue
            role = str(g.rng.choice(jobs))
            notes, interval = _write(g, chair, role)
            if role == "figure" and "figure" not in g.lines:
                g.lines["figure"], seat_of["figure"] = notes, seat
            notes = _rests(g, notes)
        if notes:
            model = seat_of.get(_MODEL.get(role, ""))
            drafts.append((seat, MadePart(name, role, tuple(notes), model, interval)))
    places = {seat: k for k, (seat, _) in enumerate(drafts)}
    out = []
    for _, draft in drafts:
        doubles = None if draft.doubles is None else places.get(draft.doubles)
        base = {"melody": 1, "doubling": 0, "bass": 0, "counter": 0}.get(draft.role, -1)
        offset = base + int(g.rng.choice([-1, 0, 0, 0, 1]))
        out.append(_pizzicato(g, _dynamics(g, replace(draft, doubles=doubles), offset)))
    return out


def force_unison(passage: Passage, same: bool) -> Passage:
    """Drop every doubling; the same or another instrument doubles the melody throughout."""
    rng = np.random.default_rng([passage.seed, 99])
    parts = [part for part in passage.parts if part.doubles is None]
    lead = next(k for k, part in enumerate(parts) if part.role == "melody")
    pitches = [note.pitch for note in parts[lead].notes]
    own = CHAIRS[parts[lead].chair]
    able = [
        name
        for name, chair in CHAIRS.items()
        if chair.low <= min(pitches) and max(pitches) <= chair.high
        and chair.sustained == own.sustained and chair.program != own.program
    ]  # fmt: skip
    name = parts[lead].chair if same or not able else str(rng.choice(able))
    parts.append(replace(parts[lead], chair=name, role="forced unison", doubles=lead))
    return replace(passage, parts=tuple(parts))
