"""A printed score through a sound font at natural levels: one stem a part, in a room."""

from __future__ import annotations

from dataclasses import dataclass

import fonts
import numpy as np
from mixes_players import BRIGHTER_DB, PIZZICATO_PROGRAM, power_db
from mixes_sound import Samples, colour, in_room, level_db, room, sounding, velocity
from numpy.typing import NDArray

from auditor.score.instruments import table
from auditor.score.notes import Note, Part, Score

STRING_SECTION, TREMOLO_SECTION = 48, 44
_DRUMS = {"bass-drum": 36, "snare-drum": 38, "cymbals": 49, "triangle": 81, "tambourine": 54}
# Sounding length of a grace note; the player takes it from the note before.
_GRACE_S = 0.08
# Published figures for ff are the loudest players gave; beyond it there is little left.
LOUDEST = 5.5
# Signs that stress an attack, and the step the note falls back to where they say it.
ACCENTS: dict[str, int | None] = {
    "sf": None, "sfz": None, "fz": None, "rf": None, "rfz": None, "sffz": None,
    "fp": 1, "sfp": 1, "ffp": 1, "sfpp": 0, "fpp": 0, "pf": None,
}  # fmt: skip
# Steps the reading of the page adds for a stressed attack; how long it holds, how it falls.
STRESS, ATTACK_S, FALL_S = 2.0, 0.15, 0.25


@dataclass(frozen=True, slots=True)
class Clock:
    """Tempo of each bar made into time: quarters and seconds at every bar line."""

    quarters: NDArray[np.float64]
    seconds: NDArray[np.float64]

    def at(self, quarters: float) -> float:
        return float(np.interp(quarters, self.quarters, self.seconds))


def clock(score: Score, fallback_tempo: float = 96.0) -> Clock:
    """Seconds of every bar line, after the page's tempo where it gives one."""
    seconds = [0.5]
    for bar in score.bars:
        seconds.append(seconds[-1] + bar.duration * 60 / (bar.tempo or fallback_tempo))
    lines = [bar.onset for bar in score.bars] + [score.duration]
    return Clock(np.array(lines), np.array(seconds))


def _program(part: Part, note: Note) -> int:
    instrument = part.instrument
    if instrument.family == "strings" and "pizz" in note.techniques:
        return PIZZICATO_PROGRAM
    if instrument.family == "strings" and part.players > 1:
        return TREMOLO_SECTION if "tremolo" in note.techniques else STRING_SECTION
    programs = {entry.instrument.key: entry.program for entry in table()}
    return max(programs.get(instrument.key, 1) - 1, 0)


def note_power(part: Part, note: Note, dynamic: float | None = None) -> float:
    """Natural power of a note, dB re 1 pW, at its own or another dynamic."""
    instrument = part.instrument
    plucked = instrument.family == "strings" and "pizz" in note.techniques
    steps = note.dynamic if dynamic is None else dynamic
    return power_db(
        instrument.key, min(steps, LOUDEST), players=note.players, pizzicato=plucked,
        family=instrument.family,
    )  # fmt: skip


def settled(score: Score) -> dict[str, float]:
    """Dynamic to which each note marked sf, fp and the like falls back, by note id.

    An accent is an attack; the rest of the note has the level around it, and a player
    whose last mark is from before a long rest accents within what the others play.
    """
    marked = {
        (d.part, round(d.onset, 3)): d.text
        for d in score.directions
        if d.kind == "dynamic" and d.text in ACCENTS
    }
    plain: dict[int, list[float]] = {}
    for n in score.notes:
        if (n.part, round(n.onset, 3)) not in marked:
            plain.setdefault(n.bar, []).append(n.dynamic)
    out: dict[str, float] = {}
    for n in score.notes:
        sign = marked.get((n.part, round(n.onset, 3)))
        if sign is None:
            continue
        base = n.dynamic - STRESS if ACCENTS[sign] is None else float(ACCENTS[sign] or 0)
        near = plain.get(n.bar) or plain.get(n.bar - 1, []) + plain.get(n.bar + 1, [])
        if near and ACCENTS[sign] is None:
            base = min(base, float(np.median(near)))
        out[n.id] = min(base, n.dynamic)
    return out


def _dipped(
    tone: Samples, part: Part, notes: list[Note], when: Clock, base: dict[str, float]
) -> Samples:
    """Let accented notes fall to the level around them after their attack."""
    gain = np.zeros(tone.size)
    seconds = np.arange(tone.size) / fonts.RATE_HZ
    for n in notes:
        if n.id not in base or n.grace:
            continue
        start, stop = when.at(n.onset), when.at(n.onset + n.duration)
        fall = note_power(part, n, base[n.id]) - note_power(part, n)
        a, z = np.searchsorted(seconds, (start, stop))
        ramp = np.clip((seconds[a:z] - start - ATTACK_S) / FALL_S, 0.0, 1.0)
        gain[a:z] = np.minimum(gain[a:z], fall * ramp)
    return tone * np.asarray(10 ** (gain / 20), np.float32)


def _played(part: Part, note: Note, when: Clock, loudest: float) -> fonts.Played:
    start = when.at(note.onset) - (_GRACE_S if note.grace else 0.0)
    held = 0.5 if "staccato" in note.techniques else 0.95
    stop = when.at(note.onset + note.duration * held) if not note.grace else start + _GRACE_S
    drum = note.unpitched
    pitch = _DRUMS.get(part.instrument.key, 38) if drum else note.pitch
    loud = velocity(note_power(part, note) - loudest)
    return fonts.Played(max(start, 0.0), stop, pitch, loud, _program(part, note), drum)


def _finished(
    raw: Samples, part: Part, notes: list[Note], played: list[fonts.Played]
) -> Samples:
    """Colour by dynamics, natural level while playing; mean square 1 is 120 dB re 1 pW."""
    on = np.array([p.onset_s for p in played])
    off = np.array([p.offset_s for p in played])
    steps = np.array([n.dynamic for n in notes])
    tone = colour(raw, on, steps, BRIGHTER_DB.get(part.instrument.family, 0.3))
    held = part.instrument.kind == "sustained"
    mask = sounding(on, off, tone.size, 4.0 if held else 0.5)
    wanted = np.array([note_power(part, n) for n in notes])
    length = np.maximum(off - on, 0.05)
    power = 10 * np.log10(np.average(10 ** (wanted / 10), weights=length))
    return tone * np.float32(10 ** ((power - 120 - level_db(tone, mask, by_ear=False)) / 20))


def play_score(
    score: Score, font: str, seed: int = 0
) -> tuple[list[Part], NDArray[np.float32]]:
    """Render every part that has notes.

    Returns
    -------
    list of Part
        Parts in the order of the stems.
    ndarray, shape (parts, samples)
        In a room, at natural levels: mean square 1 is 120 dB re 1 pW.
    """
    when = clock(score)
    sheets = [(p, [n for n in score.notes if n.part == p.number]) for p in score.parts]
    sheets = [(part, notes) for part, notes in sheets if notes]
    played = []
    for part, notes in sheets:
        loudest = max(note_power(part, n) for n in notes)
        played.append([_played(part, n, when, loudest) for n in notes])
    raw = fonts.play([fonts.Voice(tuple(p)) for p in played], font, float(when.seconds[-1]))
    response, base = room(np.random.default_rng(seed)), settled(score)
    for k, (part, notes) in enumerate(sheets):
        tone = _dipped(_finished(raw[k], part, notes, played[k]), part, notes, when, base)
        raw[k] = in_room(tone, response)
    return [part for part, _ in sheets], raw
