"""Small scores and additive tones with a known clock, for the tests beside it."""

from __future__ import annotations

import numpy as np

from auditor.score.notes import Bar, Instrument, Line, Note, Part, Score

NOTE_S = 0.05
_OBOE = Instrument("oboe", "Oboe", "woodwind", "sustained", 58, 91)
_SCALE = (0, 2, 4, 5, 7, 9, 11)
Plan = list[tuple[float, float, int]]


def melody(seed: int, bars: int) -> Plan:
    """Two voices in four-four: (onset, duration, pitch) in quarters."""
    rng = np.random.default_rng(seed)
    key = int(rng.integers(12))
    plan: Plan = []
    for bar in range(bars):
        root = int(rng.integers(7))
        plan.append((4.0 * bar, 4.0, 48 + (key + _SCALE[root]) % 12))
        at = 0.0
        while at < 4:
            long = float(rng.choice([0.5, 1.0, 1.0, 2.0]))
            long = min(long, 4.0 - at)
            step = (root + int(rng.choice([0, 2, 4, 6, 1]))) % 7
            plan.append((4.0 * bar + at, long, 67 + (key + _SCALE[step] - 7) % 12))
            at += long
    return plan


def made_score(
    plan: Plan, *, repeat: tuple[int, int] | None = None, unpitched: bool = False
) -> Score:
    """Lay a plan out; bars of `repeat` (first, one past last) are played twice."""
    count = round(max(o + d for o, d, _ in plan) / 4)
    order = [(b, 1) for b in range(count)]
    if repeat:
        order = [
            *order[: repeat[1]],
            *((b, 2) for b in range(*repeat)),
            *order[repeat[1] :],
        ]
    bars = tuple(
        Bar(k, str(w + 1), w, p, 4.0 * k, 4.0, 100.0) for k, (w, p) in enumerate(order)
    )
    notes = []
    for bar in bars:
        moved = 4.0 * (bar.index - bar.written_index)
        for j, (onset, duration, pitch) in enumerate(plan):
            if onset // 4 == bar.written_index:
                sounding = 0 if unpitched else pitch
                notes.append(
                    Note(
                        f"n{bar.index}.{j}", f"n{j}", 1, 1, bar.index, onset % 4 + 1,
                        onset + moved, duration, sounding, pitch, 3.0, False,
                        unpitched=unpitched,
                    )
                )  # fmt: skip
    notes.sort(key=lambda n: (n.onset, n.line, n.pitch))
    part, line = Part(1, "P1", "Oboe", _OBOE), Line(1, 1, "Oboe", _OBOE)
    return Score("", (part,), (line,), bars, tuple(notes), count)


def played(
    score: Score,
    *,
    seed: int,
    order: list[int] | None = None,
    slower: float = 1.0,
    transpose: int = 0,
    cents: float = 0.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Tones of six partials with 30 ms attacks at a wandering tempo; samples and onsets."""
    rng = np.random.default_rng(seed)
    order = list(range(len(score.bars))) if order is None else order
    beats = 4 * len(order)
    beat_s = (
        0.5 * slower * np.exp(0.15 * np.sin(np.arange(beats) / 7) + rng.normal(0, 0.02, beats))
    )
    clock = 0.5 + np.concatenate([[0.0], np.cumsum(beat_s)])
    truth = np.full(len(score.notes), np.nan)
    out = np.zeros(round((clock[-1] + 1.5) * 44_100))
    for place, bar in enumerate(order):
        for k, note in enumerate(score.notes):
            if note.bar != bar:
                continue
            at = note.onset - score.bars[bar].onset + 4 * place
            start, end = np.interp([at, at + note.duration], np.arange(beats + 1), clock)
            truth[k] = start if np.isnan(truth[k]) else truth[k]
            tone = _tone(
                440 * 2 ** ((note.pitch + transpose + cents / 100 - 69) / 12), end - start
            )
            first = round(start * 44_100)
            out[first : first + tone.size] += tone
    return (0.1 * out).astype(np.float32), truth


def _tone(hz: float, seconds: float) -> np.ndarray:
    t = np.arange(round(seconds * 44_100)) / 44_100
    wave = sum(np.sin(2 * np.pi * hz * k * t) / k**1.5 for k in range(1, 7))
    gate = np.clip(np.minimum(t / 0.03, (seconds - t) / 0.03), 0, 1)
    return wave * gate
