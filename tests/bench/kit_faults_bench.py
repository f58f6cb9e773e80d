"""Faults of kit renders planted on purpose: how many are said, and what is said without cause.

    kit_faults_bench.py FOLDER --font FONT [--recorded FOLDER ...] [--ways WAY ...]
                        [--only SHEET ...]

The kit of the made orchestra is rendered by fluidsynth, or played from recorded notes, into
FOLDER. Ways:

clean   as rendered; everything said is a false alarm
notes   in each file single notes an octave down, an octave up, two semitones off, clipped,
        silent, and doubled by another pitch at their own level and at -6 dB
files   in each file one thing throughout, in turn: an octave down, a reverb of 3.5 s as loud
        as the sound, most notes missing, the end cut off, a mistaken sample rate
patch   in each file another instrument's patch (fonts only)
"""

from __future__ import annotations

import argparse
import re
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import fonts
import numpy as np
import soundfile
import soxr
from kit_renders import Players, chair_of, make_kit
from mixes_players import CHAIRS
from mixes_recorded import Recordings
from mixes_sound import Samples, in_room, room

from auditor.learning.faults import Fault
from auditor.learning.learn import learn
from auditor.learning.listing import Render, Wanted, read_list
from auditor.learning.notes import INHARMONIC

RATE = fonts.RATE_HZ
WAYS = ("clean", "notes", "files", "patch")
# What is planted, and the words that must be said of it; the pitch that sounds instead.
IN_NOTES = {
    "an octave down": ("octave too low", -12),
    "an octave up": ("octave too high", 12),
    "two semitones off": ("semitones too high", 2),
    "clipped": ("is clipped", 0),
    "silent": ("is silent", 0),
    "a second sound": ("second sound", 6),
    "a second sound at -6 dB": ("second sound", -5),
}
IN_FILES = {
    "an octave down": "wrong octave on",
    "reverb": "rings too long",
    "notes missing": "too few notes|silence on",
    "cut off": "ends early",
    "mistaken rate": "sample rate was mistaken",
}
_CLIPS_AT = 4.0
_ROOM_S, _ROOM_DB = 3.5, 0.0
Planted = dict[tuple[str, str], str]  # what, by file and note (empty for the whole file)


def _slot(sheet: Render, note: Wanted) -> slice:
    """Samples from a note's start to the next one's."""
    later = [n.start_s for n in sheet.notes if n.start_s > note.start_s]
    end = min(later) if later else note.end_s + 1.0
    return slice(round(note.start_s * RATE), round((end - 0.02) * RATE))


def _chosen(sheet: Render, players: Players) -> dict[str, Wanted]:
    """A held, plucked or struck note for each kind of fault; each note once."""
    long = [n for n in players.reach(sheet, sheet.notes) if n.way != "short"]
    loud = [n for n in long if n.dynamic == 5] + [n for n in long if n.dynamic == 3]
    out: dict[str, Wanted] = {}
    lowest, highest = (f(n.pitch for n in long) for f in (min, max))
    for k, (what, (_, move)) in enumerate(IN_NOTES.items()):
        free = [
            n
            for n in loud[k % 3 :: 3]
            if n not in out.values()
            and lowest <= n.pitch + move <= highest + 6
            and players.reach(sheet, [_moved(n, move)])
        ]
        if free:
            out[what] = free[0]
    return out


def _moved(note: Wanted, semitones: int) -> Wanted:
    return replace(note, pitch=note.pitch + semitones)


def _spoilt(sheet: Render, players: Players) -> tuple[Samples, dict[str, str]]:
    """A render with one note of each kind of fault, and what is in which note."""
    chosen = _chosen(sheet, players)
    ways = sorted(
        (_moved(n, IN_NOTES[w][1]) for w, n in chosen.items()), key=lambda n: n.start_s
    )
    sound, other = players.play(sheet, [sheet.notes, ways])
    for what, note in chosen.items():
        place = _slot(sheet, note)
        if what == "silent":
            sound[place] = 0.0
        elif what == "clipped":
            loudest = np.abs(sound[place]).max()
            sound[place] = np.clip(sound[place] * _CLIPS_AT / loudest, -1.0, 1.0)
        elif "second" in what:
            gain = _gain(sound[place], other[place]) * (0.5 if "-6" in what else 1.0)
            sound[place] += np.float32(gain) * other[place]
        else:
            sound[place] = other[place]
    return sound, {note.name: what for what, note in chosen.items()}


def _gain(one: Samples, other: Samples) -> float:
    return float(np.sqrt(np.mean(one**2) / np.mean(other**2)))


def _whole(sheet: Render, players: Players, what: str) -> Samples:
    """A render with one fault throughout."""
    if what == "an octave down":
        low = [_moved(n, -12) for n in sheet.notes]
        played: Samples = players.play(sheet, [low])[0]
        return played
    notes = list(sheet.notes)
    if what == "notes missing":
        notes = [n for k, n in enumerate(notes) if k % 5 == 0]
    sound: Samples = players.play(sheet, [notes])[0]
    if what == "reverb":
        rng = np.random.default_rng(3)
        sound = in_room(sound, room(rng, _ROOM_S, _ROOM_DB)) * np.float32(0.5)
    if what == "cut off":
        sound = sound[: round(0.6 * sheet.notes[-1].end_s * RATE)]
    if what == "mistaken rate":
        sound = np.asarray(soxr.resample(sound, 48_000, RATE), np.float32)
    return sound


def _strangers(sheet: Render) -> str:
    """Another chair that can play most of the sheet's notes, the same one every time."""
    own = CHAIRS[chair_of(sheet)]
    pitches = [n.pitch for n in sheet.notes]
    low, high = np.percentile(pitches, [25, 75])
    fits = [
        name
        for name, chair in CHAIRS.items()
        if chair.program != own.program
        and chair.sustained == own.sustained
        and chair.low <= low
        and chair.high >= high
    ]
    return fits[sum(map(ord, sheet.name)) % len(fits)] if fits else ""


def plant(way: str, sheets: Sequence[Render], players: Players, out: Path) -> Planted:
    """Write the renders of one way."""
    out.mkdir(parents=True, exist_ok=True)
    planted: Planted = {}
    turn = list(IN_FILES)
    for k, sheet in enumerate(sheets):
        file = f"{sheet.name}.wav"
        if len(players.reach(sheet, sheet.notes)) < len(sheet.notes) / 2:
            continue
        if way == "notes":
            sound, notes = _spoilt(sheet, players)
            planted |= {(file, name): what for name, what in notes.items()}
        elif way == "files":
            planted[file, ""] = turn[k % len(turn)]
            sound = _whole(sheet, players, turn[k % len(turn)])
        elif way == "patch":
            stranger = "" if sheet.key.endswith("+pizz") else _strangers(sheet)
            if not stranger:
                continue
            planted[file, ""] = stranger
            sound = players.play(sheet, [sheet.notes], stranger)[0]
        else:
            sound = players.play(sheet, [sheet.notes])[0]
        soundfile.write(out / file, sound, RATE, subtype="FLOAT")
    return planted


def _words(way: str, what: str) -> str:
    if way == "notes":
        return IN_NOTES[what][0]
    return "more like|dies away|holds where|wrong" if way == "patch" else IN_FILES[what]


def judge(way: str, planted: Planted, faults: Sequence[Fault], files: int) -> None:
    """Print how many of each kind were said, and what was said without cause."""
    right, all_ = Counter(), Counter()
    missed, used = [], set()
    for (file, note), what in planted.items():
        kind = "another patch" if way == "patch" else what
        all_[kind] += 1
        said = [f for f in faults if f.file == file and (f.note == note or not note)]
        used |= {id(f) for f in said}
        if any(re.search(_words(way, what), f.what) for f in said):
            right[kind] += 1
        else:
            missed.append(f"{file} {note}: {what}, said: {'; '.join(f.what for f in said)}")
    for kind, count in all_.items():
        print(f"| {way} | {kind} | {right[kind]} of {count} |")
    spurious = [f for f in faults if id(f) not in used and "no render" not in f.what]
    print(f"| {way} | said without cause | {len(spurious)} in {files} files |", flush=True)
    for text in (*missed, *(f"without cause: {f.sentence}" for f in spurious)):
        print(f"    {text}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--font", default="timgm", choices=list(fonts.FONTS))
    parser.add_argument("--recorded", type=Path, nargs="+", default=[])
    parser.add_argument("--only", nargs="+", default=[], help="names of sheets: kit-flute")
    parser.add_argument("--ways", nargs="+", default=WAYS, choices=WAYS)
    given = parser.parse_args()
    players = Players(given.font, Recordings(given.recorded) if given.recorded else None)
    kit = given.folder / "kit"
    if not kit.exists():
        make_kit(kit)
    # Inharmonic ones have no period: only level, place and colour are checked there.
    sheets = [s for s in read_list(kit) if s.key not in INHARMONIC]
    sheets = [s for s in sheets if not given.only or s.name in given.only]
    for way in given.ways:
        out = given.folder / f"{'recorded' if given.recorded else given.font}-{way}"
        planted = plant(way, sheets, players, out)
        started = time.process_time()
        lesson = learn(out, "tried", given.folder / "library", kit=kit)
        spent = (time.process_time() - started) / len(lesson.learned)
        print(f"{out.name}: {len(lesson.learned)} files, {spent:.1f} s of processor time each")
        judge(way, planted, lesson.faults, len(lesson.learned))


if __name__ == "__main__":
    main()
