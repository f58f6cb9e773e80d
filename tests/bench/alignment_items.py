"""Performances with a known clock: real scores, played with free tempo.

The tempo wanders and jitters by the beat, holds and fermatas stretch it, the end slows
down, players are not together, and there is noise-free time before and after. Truth is
the time of each note-on, exact to a millisecond. A seed gives the same item again.

Scores come from the music21 corpus, or, called ``orchestra/NAME``, from
``NAME/score.mxl`` in the folder that ``AUDITOR_BENCH_ORCHESTRA`` names; where an
``alignment.csv`` lies beside it (columns qstamp and ..._tstamp), a performer's own tempo
curve is taken from it.
"""

from __future__ import annotations

import csv
import os
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from alignment_sound import Playing, Sounding, named, programs, render
from music21 import corpus
from numpy.typing import NDArray

from auditor.score.instruments import table
from auditor.score.notes import Line, Note, Part, Score
from auditor.score.reading import read_score
from auditor.sound.reading import Sound, read_sound

F64 = NDArray[np.float64]
CHANGES = ("", "detuned", "muted", "wrong", "wet", "percussion")


@dataclass(frozen=True, slots=True)
class Item:
    """How a performance is made.

    Parameters
    ----------
    work
        Name in the corpus.
    seed
        Of tempo, jitter, balance and palette.
    font
        Key of `fonts.FONTS`, or ``recorded``.
    palette
        Key of `alignment_sound.PALETTES`, or ``written`` for the score's own instruments.
    shape
        ``straight``; ``once`` (no repeat taken); ``again`` (eight bars once too often);
        ``cut`` (starts and ends inside); ``skip`` (nine bars left out in the middle);
        ``late`` (starts at the ninth bar); ``early`` (the last third is missing);
        ``loop`` (four bars three times).
    bars
        At most so many bars of the played axis are kept.
    change
        One of `CHANGES`: 35 to 60 cents off; a part silent; 3 % wrong notes; 2.6 s of
        reverberation at dry energy; drums, timpani rolls and held notes as tremolo.
    named
        True: the score names the instruments that play; False: it keeps its own.
    first
        First bar kept, on the played axis.
    """

    work: str
    seed: int
    font: str
    palette: str = "written"
    shape: str = "straight"
    bars: int = 160
    change: str = ""
    named: bool = False
    first: int = 0

    @property
    def name(self) -> str:
        more = f"-{self.change}" if self.change else ""
        work = self.work.replace("/", "-")
        return f"{work}-{self.palette}-{self.font}-{self.seed}-{self.shape}{more}"


@dataclass(frozen=True, slots=True)
class Performance:
    """A score, how it sounds, and when it truly does.

    Parameters
    ----------
    onset_s : ndarray, shape (notes,)
        First start of each note; NaN: not played.
    bars
        Bars of the played axis in the order they are played.
    barlines_s : ndarray, shape (len(bars) + 1,)
        When each of these begins, and when the last ends.
    """

    score: Score
    sound: Sound
    onset_s: F64
    bars: tuple[int, ...]
    barlines_s: F64


def excerpt(score: Score, bars: int, first: int = 0) -> Score:
    """Keep some bars of the played axis, counted from its start again."""
    if first:
        start = score.bars[first].onset
        score = replace(
            score,
            bars=tuple(
                replace(b, index=b.index - first, onset=b.onset - start)
                for b in score.bars[first:]
            ),
            notes=tuple(
                replace(n, bar=n.bar - first, onset=n.onset - start)
                for n in score.notes
                if n.bar >= first
            ),
        )
    if len(score.bars) <= bars:
        return score
    end = score.bars[bars].onset
    kept = tuple(n for n in score.notes if n.bar < bars and (n.grace or n.onset < end - 1e-3))
    kept = tuple(
        n if n.grace or n.onset + n.duration <= end else replace(n, duration=end - n.onset)
        for n in kept
    )
    return replace(score, bars=score.bars[:bars], notes=kept)


def read_work(work: str) -> Score:
    """Read a score of the corpus or of the orchestra folder."""
    if work.startswith("orchestra/"):
        return read_score(_orchestra(work) / "score.mxl")
    found = corpus.getWork(work)
    every = [Path(p) for p in (found if isinstance(found, list) else [found])]
    return read_score(next(p for p in every if p.suffix in (".mxl", ".xml", ".musicxml")))


def _orchestra(work: str) -> Path:
    folder = os.environ.get("AUDITOR_BENCH_ORCHESTRA", "")
    if not folder:
        raise SystemExit("set AUDITOR_BENCH_ORCHESTRA to a folder of orchestral scores")
    return Path(folder, work.removeprefix("orchestra/"))


def perform(item: Item, folder: Path) -> Performance:
    """Make an item, or take it from the folder if it was made before."""
    score = excerpt(read_work(item.work), item.bars, item.first)
    if item.change == "percussion":
        score = with_percussion(score)
    rng = np.random.default_rng(item.seed)
    order = _order(score, item.shape)
    onset_s, notes, barlines_s = _times(item, score, order, rng)
    end_s = max(off for _, _, off in notes) + rng.uniform(1.5, 4.0)
    # What the score reader makes of the page may change; the sound must follow.
    stamp_of_notes = zlib.crc32(
        repr([(k, on, off, score.notes[k].pitch) for k, on, off in notes]).encode()
    )
    wave = folder / f"{item.name}-{stamp_of_notes:08x}.wav"
    drawn = programs(score, item.palette, rng)
    gains = rng.uniform(-14, 6, len(score.lines))
    if item.named:
        score = named(score, drawn)
    other = np.random.default_rng(item.seed + 7000)
    muted = _muted(score, other) if item.change == "muted" else 0
    wrong = other.random(len(score.notes)) < (0.03 if item.change == "wrong" else 0.0)
    step = other.choice([-3, -2, -1, 1, 2, 4], len(score.notes))
    silent = np.array([n.line == muted for n in score.notes])
    if not wave.exists():
        sounding = [
            Sounding(k, on, off, score.notes[k].pitch + int(step[k] * wrong[k]))
            for k, on, off in notes
            if not silent[k]
        ]
        cents = float(other.choice([-60, -45, 35, 45, 60])) if item.change == "detuned" else 0.0
        wet = item.change == "wet"
        playing = Playing(score, sounding, drawn, gains, end_s, cents, wet)
        render(playing, item.font, rng, wave)
    onset_s[silent] = np.nan
    return Performance(score, read_sound(wave), onset_s, order, barlines_s)


def _muted(score: Score, rng: np.random.Generator) -> int:
    """Draw a line that has its share of the notes."""
    count = np.bincount([n.line for n in score.notes], minlength=len(score.lines) + 1)
    return int(rng.choice(np.flatnonzero(count > 0.5 * len(score.notes) / len(score.lines))))


def with_percussion(score: Score) -> Score:
    """Add snare drum in quavers and timpani rolls on the bar, and make held notes shake."""
    keys = {entry.instrument.key: entry.instrument for entry in table()}
    parts, lines = list(score.parts), list(score.lines)
    for key, name in (("snare-drum", "Snare Drum"), ("timpani", "Timpani")):
        parts.append(Part(len(parts) + 1, f"X{key}", name, keys[key]))
        lines.append(Line(len(lines) + 1, len(parts), name, keys[key]))
    notes = [
        replace(n, techniques=(*n.techniques, "tremolo")) if n.duration >= 1 else n
        for n in score.notes
    ]
    for bar in score.bars:
        beats = np.arange(0, bar.duration - 1e-6, 0.5)
        notes += [_added(score, bar.index, float(b), 0.25, len(lines) - 1, 0) for b in beats]
        if bar.index % 2 == 0:
            notes.append(_added(score, bar.index, 0.0, bar.duration, len(lines), 45))
    notes.sort(key=lambda n: (n.onset, n.line, n.pitch))
    return replace(score, parts=tuple(parts), lines=tuple(lines), notes=tuple(notes))


def _added(score: Score, bar: int, beat: float, length: float, line: int, pitch: int) -> Note:
    roll = ("tremolo",) if pitch else ()
    return Note(
        f"x{bar}.{line}.{beat}", "", line, line, bar, beat + 1, score.bars[bar].onset + beat,
        length, pitch, pitch, 3.0, False, techniques=roll, unpitched=not pitch,
    )  # fmt: skip


def _order(score: Score, shape: str) -> tuple[int, ...]:
    every = tuple(b.index for b in score.bars)
    if shape == "once":
        return tuple(b.index for b in score.bars if b.pass_number == 1)
    if shape == "cut":
        return every[8 : len(every) - 5]
    if shape == "again":
        third = len(every) // 3
        return every[: third + 8] + every[third:]
    if shape == "late":
        return every[8:]
    if shape == "early":
        return every[: 2 * len(every) // 3]
    if shape == "loop":
        third = len(every) // 3
        return every[: third + 4] + 2 * every[third : third + 4] + every[third + 4 :]
    if shape == "skip":
        third = len(every) // 3
        return every[:third] + every[third + 9 :]
    return every


def _curve(item: Item, score: Score, order: tuple[int, ...]) -> F64 | None:
    """Seconds a beat in a public recording, where one was aligned with the score."""
    path = _orchestra(item.work) / "alignment.csv" if "orchestra/" in item.work else Path()
    if not path.is_file() or item.first or item.shape != "straight":
        return None
    with path.open(encoding="utf-8") as rows:
        read = list(csv.DictReader(rows))
    stamp = next(name for name in read[0] if name.endswith("_tstamp"))
    at = np.array([[float(r["qstamp"]), float(r[stamp])] for r in read if r[stamp]])
    total = int(np.ceil(score.duration)) + 1
    if at[-1, 0] < total:
        return None
    seconds: F64 = np.maximum(
        np.diff(np.interp(np.arange(total + 1.0), at[:, 0], at[:, 1])), 0.15
    )
    return seconds


def _beats(
    item: Item, score: Score, order: tuple[int, ...], rng: np.random.Generator
) -> tuple[F64, F64]:
    """Draw a free tempo: performed quarters and their seconds, a lead before the first."""
    real = _curve(item, score, order)
    if real is not None:
        lead = rng.uniform(0, 3)
        return np.arange(real.size + 1.0), lead + np.concatenate([[0.0], np.cumsum(real)])
    total = int(np.ceil(sum(score.bars[k].duration for k in order))) + 1
    walk = np.zeros(total)
    for k in range(1, total):
        walk[k] = 0.97 * walk[k - 1] + rng.normal(0, 0.022)
    jitter = np.clip(rng.normal(0, 0.03, total), -0.08, 0.08)
    tempo = rng.uniform(66, 126) * np.exp(np.clip(walk, -0.2, 0.2)) * (1 + jitter)
    seconds = 60.0 / tempo
    seconds[int(rng.integers(total // 4, total - 2))] *= 2.0
    last = min(8, total // 4)
    seconds[-last:] /= np.linspace(1.0, 0.55, last)
    lead = rng.uniform(0, 3)
    return np.arange(total + 1.0), lead + np.concatenate([[0.0], np.cumsum(seconds)])


def _times(
    item: Item, score: Score, order: tuple[int, ...], rng: np.random.Generator
) -> tuple[F64, list[tuple[int, float, float]], F64]:
    """First onset of each note, every sounding note (index, on, off), and the barlines."""
    beats, seconds = _beats(item, score, order, rng)
    fermatas = [n for n in score.notes if "fermata" in n.techniques]
    by_bar: dict[int, list[int]] = {}
    for k, note in enumerate(score.notes):
        by_bar.setdefault(note.bar, []).append(k)
    starts, at = [], 0.0
    for bar in order:
        starts.append(at)
        at += score.bars[bar].duration
    held = {
        int(starts[order.index(n.bar)] + n.onset - score.bars[n.bar].onset + n.duration - 1e-3)
        for n in fermatas
        if n.bar in order
    }
    for beat in held:
        seconds[beat + 1 :] += 0.8 * (seconds[beat + 1] - seconds[beat])
    spread = rng.normal(0, 0.004, len(score.lines))
    first = np.full(len(score.notes), np.nan)
    out = []
    for bar, start in zip(order, starts, strict=True):
        shift = start - score.bars[bar].onset
        for k in by_bar.get(bar, ()):
            note = score.notes[k]
            late = spread[note.line - 1] + np.clip(rng.normal(0, 0.008), -0.02, 0.02)
            on, off = np.interp(
                [note.onset + shift, note.onset + shift + note.duration], beats, seconds
            )
            on = max(0.0, float(on + late) - (0.08 if note.grace else 0.0))
            short = 0.5 if "staccato" in note.techniques else 0.95
            off = on + 0.075 if note.grace else on + max(0.05, short * (off - on))
            out.append((k, round(on, 3), float(off)))
            if not np.isfinite(first[k]):
                first[k] = round(on, 3)
    return first, out, np.interp([*starts, at], beats, seconds)
