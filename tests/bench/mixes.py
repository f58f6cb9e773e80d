"""Made mixes with a known answer: score, mix, stems and the truth about them.

    mixes.py OUT --seeds 0 8 --font fluid [--parts N] [--reverb] [--drift-db D] [--jitter-ms J]
             [--rubato R] [--detune-cents C] [--unison same|different] [--natural 0.4]
             [--fader-db 4] [--lowered 0.2] [--eq-db 3] [--recorded FOLDER ...]
             [--seats WIDTH] [--bus]

Each seed makes OUT/FONT-SEED with score.musicxml, mix.flac, stems/NN name.flac (24 bit,
they sum to the mix) and truth.json: parts, and one row a note in the order of the score,
times as rendered. Same seed, same files. --seats makes stereo, 1 for a usual plan and less
for one drawn together; --bus compresses and limits the sum.
"""

from __future__ import annotations

import argparse
import json
import zlib
from dataclasses import dataclass
from pathlib import Path

import fonts
import numpy as np
import soundfile
from mixes_music import MadePart, Passage, Written, compose, force_unison
from mixes_page import part_names, write_page
from mixes_players import BRIGHTER_DB, CHAIRS, PIZZICATO_PROGRAM, power_db
from mixes_seats import places, seated
from mixes_sound import (
    Samples,
    bus_gain,
    colour,
    drifting,
    equaliser,
    in_room,
    level_db,
    room,
    sounding,
    velocity,
)  # fmt: skip
from numpy.typing import NDArray

# How far a role is lifted by the one who mixes, dB.
LIFT_DB = {"melody": 3.0, "forced unison": 3.0, "counter": 1.0, "bass": 0.0}


@dataclass(frozen=True, slots=True)
class Options:
    """How a passage is played and mixed; lengths in ms, levels in dB."""

    font: str = "fluid"
    reverb: bool = False
    drift_db: float = 0.0
    jitter_ms: float = 0.0
    rubato: float = 0.0
    detune_cents: float = 0.0
    natural: float = 0.4
    fader_db: float = 4.0
    lowered: float = 0.2
    eq_db: float = 3.0
    unison: str = ""
    recorded: tuple[str, ...] = ()
    seats: float = 0.0
    bus: bool = False


@dataclass(frozen=True, slots=True)
class Performance:
    """One part as played: times in seconds, arrays of shape (notes,)."""

    part: MadePart
    onsets: NDArray[np.float64]
    offsets: NDArray[np.float64]

    @property
    def dynamics(self) -> NDArray[np.float64]:
        return np.array([note.dynamic for note in self.part.notes])

    @property
    def mask_s(self) -> float:
        """How much of a note its level is taken from: struck tones die away."""
        return 4.0 if CHAIRS[self.part.chair].sustained else 0.5


def clock(
    passage: Passage, rng: np.random.Generator, rubato: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Quarters and seconds at every half beat; tempo swings by ± `rubato` (0.1 = 10 %)."""
    quarters = np.arange(0, passage.bars * passage.beats + 0.5, 0.5)
    swing = np.sin(2 * np.pi * quarters / rng.uniform(10, 30) + rng.uniform(0, 2 * np.pi))
    pace = 60 / passage.tempo * (1 + rubato * swing)
    return quarters, np.concatenate([[0.0], np.cumsum(0.5 * pace[:-1])]) + 0.1


def perform(passage: Passage, options: Options, rng: np.random.Generator) -> list[Performance]:
    """Seconds for every note: held tones stop a little early, players scatter by the jitter."""
    quarters, seconds = clock(passage, rng, options.rubato)
    out = []
    for part in passage.parts:
        held = 0.93 if CHAIRS[part.chair].sustained else 0.98
        starts = np.array([note.onset for note in part.notes])
        ends = starts + held * np.array([note.duration for note in part.notes])
        late = rng.normal(0, options.jitter_ms / 1000, starts.size)
        onsets = np.maximum(np.interp(starts, quarters, seconds) + late, 0.0)
        offsets = np.maximum(np.interp(ends, quarters, seconds) + late, onsets + 0.04)
        out.append(Performance(part, onsets, offsets))
    return out


def _line_power(part: MadePart) -> float:
    """Mean natural power of a part over its notes, dB re 1 pW."""
    powers = [note_power(part, note) for note in part.notes]
    return float(10 * np.log10(np.mean(10 ** (np.array(powers) / 10))))


def note_power(part: MadePart, note: Written) -> float:
    """Natural power of one note of a part, dB re 1 pW."""
    chair = CHAIRS[part.chair]
    return power_db(
        chair.instrument, note.dynamic, players=chair.players, pizzicato=note.pizzicato
    )


def voice(show: Performance, rng: np.random.Generator, detune_cents: float) -> fonts.Voice:
    """Hand the part to a font: velocity follows the natural dynamic range."""
    chair = CHAIRS[show.part.chair]
    loudest = power_db(chair.instrument, 5, players=chair.players)
    played = []
    for note, on, off in zip(show.part.notes, show.onsets, show.offsets, strict=True):
        plucked = note.pizzicato
        below = note_power(show.part, note) - loudest + rng.normal(0, 1.0)
        program = PIZZICATO_PROGRAM if plucked else chair.program
        played.append(fonts.Played(on, off, note.pitch, velocity(below), program))
    cents = rng.normal(0, detune_cents) if detune_cents else 0.0
    return fonts.Voice(tuple(played), cents)


def _fader(rng: np.random.Generator, options: Options) -> tuple[float, float]:
    """Draw the fader in dB, and by how much more the line was lowered."""
    lower = float(rng.uniform(6, 16)) if rng.random() < options.lowered else 0.0
    return float(rng.normal(0, options.fader_db)), lower


def stems_of(
    passage: Passage, shows: list[Performance], options: Options, rng: np.random.Generator
) -> tuple[NDArray[np.float32], list[str]]:
    """Raw stems, and where the sound of each came from."""
    seconds = max(float(show.offsets.max()) for show in shows)
    voices = [voice(show, rng, options.detune_cents) for show in shows]
    stems = fonts.play(voices, options.font, seconds)
    sources = [options.font] * len(shows)
    if options.recorded:
        from mixes_recorded import Recordings

        recordings = Recordings([Path(folder) for folder in options.recorded])
        for k, show in enumerate(shows):
            part = recordings.play(show, stems.shape[1], rng)
            if part is not None:
                stems[k], sources[k] = part, "recorded"
    return stems, sources


def mix_down(
    stems: NDArray[np.float32],
    shows: list[Performance],
    options: Options,
    rng: np.random.Generator,
) -> tuple[NDArray[np.float32], list[dict[str, object]]]:
    """Colour, balance and room; the mix peaks at 0.9.

    Returns
    -------
    ndarray, shape (parts, samples), or (parts, 2, samples) with seats
        Stems as they stand in the mix.
    list of dict
        What was done to each.
    """
    natural = [_line_power(show.part) for show in shows]
    response = room(rng) if options.reverb and not options.seats else None
    done: list[dict[str, object]] = []
    faders: list[float] = []
    for k, show in enumerate(shows):
        part = show.part
        fader, lower = _fader(rng, options)
        if part.role == "forced unison" and part.doubles is not None:
            fader, lower = faders[part.doubles] + float(rng.uniform(-14, 6)), 0.0
        faders.append(fader - lower)
        target = np.mean(natural) + options.natural * (natural[k] - np.mean(natural))
        target += LIFT_DB.get(part.role, -1.0) + fader - lower
        stems[k] = finish(stems[k], show, float(target) - 120, options, rng, response)
        done.append(
            {"fader_db": round(fader, 2), "lowered_db": round(lower, 2),
             "natural_db": round(natural[k], 2)}
        )  # fmt: skip
    if options.seats:
        apart = np.random.default_rng(
            [int(1000 * options.seats), *rng.integers(1 << 30, size=2)]
        )
        pans = places([show.part.chair for show in shows], apart, options.seats)
        done = [row | {"pan": pan} for row, pan in zip(done, pans, strict=True)]
        stems = seated(stems, pans, apart, options.reverb)
    if options.bus:
        stems *= bus_gain(stems.sum(axis=0))
    stems *= 0.9 / np.abs(stems.sum(axis=0)).max()
    return stems, done


def finish(
    stem: Samples, show: Performance, target_db: float, options: Options,
    rng: np.random.Generator, response: Samples | None,
) -> Samples:  # fmt: skip
    """One stem from the player to the mix bus at `target_db` (by ear, while it plays)."""
    brighter = BRIGHTER_DB.get(CHAIRS[show.part.chair].family, 0.3)
    curve = equaliser(rng, options.eq_db) if options.eq_db else None
    stem = colour(stem, show.onsets, show.dynamics, brighter, curve)
    mask = sounding(show.onsets, show.offsets, stem.size, show.mask_s)
    stem = stem * np.float32(10 ** ((target_db - level_db(stem, mask, by_ear=True)) / 20))
    if options.drift_db:
        stem = drifting(stem, rng, options.drift_db)
    return stem if response is None else in_room(stem, response)


def note_rows(shows: list[Performance]) -> list[dict[str, float | bool]]:
    """One row a note, sorted as the score's notes are: onset, part, pitch."""
    rows = [
        {"part": k + 1, "onset_s": round(float(on), 4), "offset_s": round(float(off), 4),
         "pitch": note.pitch, "dynamic": note.dynamic, "pizzicato": note.pizzicato,
         "onset_quarters": note.onset, "duration_quarters": note.duration}
        for k, show in enumerate(shows)
        for note, on, off in zip(show.part.notes, show.onsets, show.offsets, strict=True)
    ]  # fmt: skip
    return sorted(rows, key=lambda r: (r["onset_quarters"], r["part"], r["pitch"]))


def part_rows(
    passage: Passage, done: list[dict[str, object]], sources: list[str]
) -> list[dict[str, object]]:
    """One row a part; `doubles` is the number of the doubled part or null."""
    rows: list[dict[str, object]] = []
    for k, (part, name) in enumerate(zip(passage.parts, part_names(passage), strict=True)):
        chair = CHAIRS[part.chair]
        plucked = float(np.mean([note.pizzicato for note in part.notes]))
        rows.append(
            {"number": k + 1, "name": name, "instrument": chair.instrument,
             "chair": part.chair, "family": chair.family, "sustained": chair.sustained,
             "pizzicato": plucked > 0.5, "players": chair.players, "role": part.role,
             "doubles": None if part.doubles is None else part.doubles + 1,
             "interval": part.interval, "source": sources[k], **done[k]}
        )  # fmt: skip
    return rows


def make(folder: Path, seed: int, options: Options, count: int | None = None) -> None:
    """Make one case folder."""
    passage = compose(seed, count)
    if options.unison:
        passage = force_unison(passage, options.unison == "same")
    rng = np.random.default_rng([seed, zlib.crc32(options.font.encode())])
    shows = perform(passage, options, rng)
    raw, sources = stems_of(passage, shows, options, rng)
    stems, done = mix_down(raw, shows, options, rng)
    truth = {
        "seed": seed, "font": options.font, "rate_hz": fonts.RATE_HZ, "tempo": passage.tempo,
        "beats": passage.beats, "bars": passage.bars,
        "parts": part_rows(passage, done, sources), "notes": note_rows(shows),
    }  # fmt: skip
    (folder / "stems").mkdir(parents=True, exist_ok=True)
    for k, name in enumerate(part_names(passage)):
        path = folder / "stems" / f"{k + 1:02d} {name}.flac"
        soundfile.write(path, stems[k].T, fonts.RATE_HZ, subtype="PCM_24")
    soundfile.write(folder / "mix.flac", stems.sum(axis=0).T, fonts.RATE_HZ, subtype="PCM_24")
    write_page(passage, folder / "score.musicxml")
    (folder / "truth.json").write_text(json.dumps(truth), encoding="utf-8")


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("out", type=Path)
    parser.add_argument(
        "--seeds", type=int, nargs=2, default=(0, 8), help="first, one past last"
    )
    parser.add_argument("--parts", type=int)
    parser.add_argument("--font", default="fluid", choices=list(fonts.FONTS))
    parser.add_argument("--reverb", action="store_true")
    parser.add_argument("--bus", action="store_true", help="compress and limit the sum")
    parser.add_argument("--unison", default="", choices=["same", "different"])
    parser.add_argument("--recorded", nargs="+", default=(), help="folders of single notes")
    for name, default in (
        ("drift_db", 0.0), ("jitter_ms", 0.0), ("rubato", 0.0), ("detune_cents", 0.0),
        ("natural", 0.4), ("fader_db", 4.0), ("lowered", 0.2), ("eq_db", 3.0),
        ("seats", 0.0),
    ):  # fmt: skip
        parser.add_argument("--" + name.replace("_", "-"), type=float, default=default)
    return parser


def main() -> None:
    given = vars(_parser().parse_args())
    out, seeds, count = given.pop("out"), given.pop("seeds"), given.pop("parts")
    options = Options(**{**given, "recorded": tuple(given["recorded"])})
    for seed in range(*seeds):
        kind = "recorded" if options.recorded else options.font
        make(out / f"{kind}-{seed:04d}", seed, options, count)
        print(f"{kind}-{seed:04d}", flush=True)


if __name__ == "__main__":
    main()
