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


def note_power(part: Part, note: Note) -> float:
    """Natural power of a note, dB re 1 pW."""
    instrument = part.instrument
    plucked = instrument.family == "strings" and "pizz" in note.techniques
    return power_db(
        instrument.key, note.dynamic, players=note.players, pizzicato=plucked,
        family=instrument.family,
    )  # fmt: skip


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
    response = room(np.random.default_rng(seed))
    for k, (part, notes) in enumerate(sheets):
        raw[k] = in_room(_finished(raw[k], part, notes, played[k]), response)
    return [part for part, _ in sheets], raw
