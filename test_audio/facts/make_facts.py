"""Renders the short stems behind the trade facts of tests/whole/test_trade_facts.py.

    python test_audio/facts/make_facts.py     writes *.ogg and facts.json here

The notes are our own. Each stem is as loud as its players at the written dynamic (powers in
tests/bench/mixes_players.py); nothing is adjusted. A mean square of 1 in a stem, times its
gain, stands for 120 dB re 1 pW. Needs Debian's fluidsynth, fluid-soundfont-gm and
csound-soundfont (both free of conditions on the sounds made with them).
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[1] / "tests" / "bench"))

import fonts  # noqa: E402
from mixes_players import BRIGHTER_DB, CHAIRS, PIZZICATO_PROGRAM, power_db  # noqa: E402
from mixes_sound import colour, level_db, sounding, velocity  # noqa: E402

SECONDS, RATE_HZ = 2.2, 22_050
COMMITTED = ("fluid", "csound")
KEYS = (0, 3)

Tone = tuple[float, float, int]


@dataclass(frozen=True, slots=True)
class Desk:
    """Players of one chair at one dynamic (steps, pp 0 to ff 5)."""

    chair: str
    players: int
    dynamic: int
    tones: tuple[Tone, ...]
    pizzicato: bool = False


@dataclass(frozen=True, slots=True)
class Stem:
    """What sounds from one file."""

    name: str
    desks: tuple[Desk, ...]

    def moved(self, key: int) -> Stem:
        """Transpose the stem by some semitones."""
        desks = (
            replace(d, tones=tuple((on, length, pitch + key) for on, length, pitch in d.tones))
            for d in self.desks
        )
        return Stem(self.name, tuple(desks))


def _run(pitches: Sequence[int], step: float = 0.3, first: float = 0.1) -> tuple[Tone, ...]:
    return tuple((first + k * step, step * 0.95, pitch) for k, pitch in enumerate(pitches))


def _held(*pitches: int, length: float = 1.9) -> tuple[Tone, ...]:
    return tuple((0.1, length, pitch) for pitch in pitches)


def _chords(rows: Sequence[Sequence[int]]) -> list[tuple[Tone, ...]]:
    """One line a voice from three chords."""
    return [_run(row, 0.65) for row in rows]


_LOW = (45, 52, 57, 60, 57, 52)
_HIGH = (69, 76, 72, 81, 76, 72)
_TOP, _INNER = (69, 71, 72), ((64, 67, 67), (60, 62, 64))
_HORNS = _chords([(72, 74, 76), _TOP, *_INNER])
PIZZICATO = Stem(
    "low-pizzicato",
    (
        Desk("cello", 6, 3, _run((45, 52, 57, 52, 57, 52)), True),
        Desk("double-bass", 4, 3, _run((33, 40, 45, 40, 45, 40)), True),
    ),
)
SOFT_STRINGS = Stem(
    "soft-strings",
    (
        Desk("violin-1", 12, 0, _held(72)),
        Desk("violin-2", 10, 0, _held(69)),
        Desk("viola", 8, 0, _held(64)),
        Desk("cello", 6, 0, _held(57)),
    ),
)
_SAXOPHONES = (
    "soprano-saxophone",
    "alto-saxophone",
    "tenor-saxophone",
    "baritone-saxophone",
)


def _quartet(name: str, rows: Sequence[Sequence[int]]) -> Stem:
    voices = zip(_SAXOPHONES, _chords(rows), strict=True)
    return Stem(name, tuple(Desk(chair, 1, 4, tones) for chair, tones in voices))


TUTTI = Stem(
    "tutti",
    (
        Desk("violin-1", 12, 5, _held(84)),
        Desk("violin-2", 10, 5, _held(79)),
        Desk("viola", 8, 5, _held(72)),
        Desk("cello", 6, 5, _held(60)),
        Desk("double-bass", 4, 5, _held(36)),
        Desk("flute", 2, 5, _held(91)),
        Desk("oboe", 2, 5, _held(84)),
        Desk("clarinet", 2, 5, _held(79)),
        Desk("bassoon", 2, 5, _held(48)),
        Desk("horn", 4, 5, _held(64, 67)),
        Desk("trombone", 3, 5, _held(52, 55, 60)),
        Desk("tuba", 1, 5, _held(36)),
    ),
)
_TRUMPET = _run((79, 81, 82), 0.65)
STEMS = (
    Stem("harp-low", (Desk("harp", 1, 3, _run(_LOW)),)),
    PIZZICATO,
    SOFT_STRINGS,
    Stem("harp-high", (Desk("harp", 1, 3, _run(_HIGH)),)),
    Stem("xylophone", (Desk("xylophone", 1, 3, _run(_HIGH)),)),
    _quartet("saxophones-wide", [_TOP, *_INNER, (45, 43, 48)]),
    _quartet("saxophones-close", [_TOP, *_INNER, (57, 59, 60)]),
    Stem("horns-chord", tuple(Desk("horn", 1, 5, tones) for tones in _HORNS)),
    Stem("horns-unison", (Desk("horn", 4, 5, _HORNS[0]),)),
    Stem("trumpets", (Desk("trumpet", 2, 4, _run(_TOP, 0.65)),)),
    Stem("timpani-lower", (Desk("timpani", 1, 4, _run((43, 43, 43), 0.65)),)),
    Stem("timpani-upper", (Desk("timpani", 1, 4, _run((52, 52, 52), 0.65)),)),
    Stem("trumpet-ff", (Desk("trumpet", 1, 5, _TRUMPET),)),
    Stem("trumpet-mf", (Desk("trumpet", 1, 3, _TRUMPET),)),
    TUTTI,
)


def _voice(desk: Desk, cents: float) -> fonts.Voice:
    chair = CHAIRS[desk.chair]
    below = power_db(chair.instrument, desk.dynamic) - power_db(chair.instrument, 5)
    program = PIZZICATO_PROGRAM if desk.pizzicato else chair.program
    notes = (
        fonts.Played(on, on + length, pitch, velocity(below), program)
        for on, length, pitch in desk.tones
    )
    return fonts.Voice(tuple(notes), cents)


def _sections(desk: Desk) -> list[float]:
    """Cents of each rendered player: sections of strings are one sampled section."""
    if desk.players == 1 or CHAIRS[desk.chair].family == "strings":
        return [0.0]
    return [float(c) for c in np.linspace(-6, 6, desk.players)]


def render(stems: Sequence[Stem], font: str) -> NDArray[np.float32]:
    """Stems at natural level, mean square 1 is 120 dB re 1 pW; shape (stems, samples)."""
    desks = [desk for stem in stems for desk in stem.desks]
    voices = [_voice(desk, cents) for desk in desks for cents in _sections(desk)]
    played = iter(fonts.play(voices, font, SECONDS))
    size = int(SECONDS * fonts.RATE_HZ)
    out = np.zeros((len(stems), size), np.float32)
    for k, stem in enumerate(stems):
        for desk in stem.desks:
            raw = sum(next(played) for _ in _sections(desk))
            out[k] += _natural(np.asarray(raw), desk)[:size]
    return out


def _natural(raw: NDArray[np.float32], desk: Desk) -> NDArray[np.float32]:
    chair = CHAIRS[desk.chair]
    on = np.array([tone[0] for tone in desk.tones])
    off = on + np.array([tone[1] for tone in desk.tones])
    bright = BRIGHTER_DB.get(chair.family, 0.3)
    tone = colour(raw, on, np.full(on.size, float(desk.dynamic)), bright)
    held = chair.sustained and not desk.pizzicato
    mask = sounding(on, off, tone.size, 4.0 if held else 0.5)
    power = power_db(
        chair.instrument, desk.dynamic, players=desk.players, pizzicato=desk.pizzicato
    )
    return tone * np.float32(10 ** ((power - 120 - level_db(tone, mask, by_ear=False)) / 20))


def notes_of(stem: Stem) -> list[dict[str, Any]]:
    """Lay out what listening needs to know of the stem's notes."""
    return [
        {"onset_s": on, "offset_s": round(on + length, 3), "pitch": pitch,
         "sustained": CHAIRS[desk.chair].sustained and not desk.pizzicato,
         "instrument": CHAIRS[desk.chair].instrument}
        for desk in stem.desks
        for on, length, pitch in desk.tones
    ]  # fmt: skip


def write() -> None:
    """Write the committed stems and their index."""
    index = []
    for font in COMMITTED:
        for key in KEYS:
            stems = [stem.moved(key) for stem in STEMS]
            for stem, samples in zip(stems, render(stems, font), strict=True):
                small = soxr.resample(samples, fonts.RATE_HZ, RATE_HZ)
                peak = float(np.abs(small).max()) / 0.8
                name = f"{font}-{key}-{stem.name}.ogg"
                soundfile.write(
                    HERE / name, small / peak, RATE_HZ, format="OGG", compression_level=0.8
                )
                index.append(
                    {"file": name, "font": font, "key": key, "stem": stem.name,
                     "gain_db": round(20 * np.log10(peak), 3), "notes": notes_of(stem)}
                )  # fmt: skip
    (HERE / "facts.json").write_text(json.dumps(index), encoding="utf-8")


if __name__ == "__main__":
    write()
