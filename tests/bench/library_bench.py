"""What a learned library is worth, against the shipped templates, in one run.

    library_bench.py CASE ... [--work FOLDER] [--plain] [--full] [--learned-only] [--room]
                     [--recorded FOLDER ...]

CASE are folders made by mixes.py, all of one font or of several. For each font the kit is
made by `auditor kit`, rendered by the made orchestra with that font (dynamics as it plays
them, without mixing), learned by `auditor learn`, and the mixes are judged with it and with
templates that never met the font. Cases of recorded notes need the folders they were made
from: their kit is played from the same notes, and what these do not reach by the font. With
--plain the kit's MIDI files go through fluidsynth as they are; with --room the kit is
rendered in a room such as mixes.py puts around its mixes.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from pathlib import Path

import fonts
import numpy as np
import soundfile
from audibility_bench import run
from audibility_kept import Result
from audibility_metrics import Pairs, figures, intervals, joined
from audibility_truth import Made, open_made
from mixes import Performance
from mixes_music import MadePart, Written
from mixes_players import BRIGHTER_DB, CHAIRS, PIZZICATO_PROGRAM, power_db
from mixes_recorded import Recordings
from mixes_sound import Samples, colour, in_room, room, velocity

from auditor.learning.learn import learn
from auditor.learning.listing import Render, Wanted, read_list
from auditor.timbre.library import Library

SHOWN = (
    "AUC",
    "F1 covered",
    "F1 audible",
    "gross",
    "level MAE dB",
    "level median dB",
    "coverer",
)
KIT_NAMES = ", ".join(
    dict.fromkeys(
        "solo violin" if name == "solo-violin" else chair.instrument.replace("-", " ")
        for name, chair in CHAIRS.items()
    )
)


def make_kit(folder: Path) -> None:
    """By the program's own command, for every chair of the made orchestra."""
    command = [sys.executable, "-m", "auditor", "kit", "--instruments", KIT_NAMES]
    subprocess.run([*command, "-o", str(folder), "--force"], check=True, capture_output=True)


def render_plain(kit: Path, font: str, out: Path) -> None:
    """The kit's MIDI files as they are."""
    for midi in sorted(kit.glob("*.mid")):
        command = ["fluidsynth", "-ni", "-q", "-g", "0.4", "-r", "44100", "-R", "0", "-C", "0"]
        command += ["-O", "float", "-T", "wav", "-F", str(out / f"{midi.stem}.wav")]
        command += [str(fonts.require(font)), str(midi)]
        subprocess.run(command, check=True, capture_output=True)


def render_as_played(
    kit: Path, font: str, out: Path, folders: list[Path], *, wet: bool
) -> None:
    """As the made orchestra plays: its velocities, and its brightness with the dynamic.

    From recorded notes, if there are folders of them, what they reach; else from the font.
    """
    recordings = Recordings(folders) if folders else None
    response = room(np.random.default_rng(1)) if wet else None
    for sheet in read_list(kit):
        notes = tuple(
            n for n in sheet.notes if recordings is None or _in_reach(recordings, n, sheet)
        )
        if recordings is not None and len(notes) < len(sheet.notes) / 2:
            continue
        show = _performance(sheet, notes)
        if recordings is None:
            sound = _from_font(sheet, font)
        else:
            size = round((sheet.notes[-1].end_s + 3.0) * fonts.RATE_HZ)
            played = recordings.play(show, size, np.random.default_rng(2))
            assert played is not None
            sound = played / np.abs(played).max() * np.float32(0.7)
        family = CHAIRS[show.part.chair].family
        sound = colour(sound, show.onsets, show.dynamics, BRIGHTER_DB.get(family, 0.3))
        sound = sound if response is None else in_room(sound, response)
        soundfile.write(out / f"{sheet.name}.wav", sound, fonts.RATE_HZ, subtype="FLOAT")


def _chair(sheet: Render) -> str:
    plain = sheet.key.removesuffix("+pizz")
    return next(name for name in CHAIRS if _key(name) == plain)


def _performance(sheet: Render, notes: tuple[Wanted, ...]) -> Performance:
    """The sheet as a part of the made orchestra."""
    plucked = sheet.key.endswith("+pizz")
    written = [
        Written(n.start_s, n.end_s - n.start_s, n.pitch, n.dynamic, plucked) for n in notes
    ]
    return Performance(
        MadePart(_chair(sheet), "melody", tuple(written)),
        np.array([n.start_s for n in notes]),
        np.array([n.end_s for n in notes]),
    )


def _in_reach(recordings: Recordings, note: Wanted, sheet: Render) -> bool:
    return recordings.takes_for(_performance(sheet, (note,))) is not None


def _from_font(sheet: Render, font: str) -> Samples:
    plucked = sheet.key.endswith("+pizz")
    chair = CHAIRS[_chair(sheet)]
    loudest = power_db(chair.instrument, 5, players=chair.players)
    played = [
        fonts.Played(
            n.start_s, n.end_s, n.pitch,
            velocity(power_db(chair.instrument, n.dynamic, players=chair.players,
                              pizzicato=plucked) - loudest),
            PIZZICATO_PROGRAM if plucked else chair.program,
        )
        for n in sheet.notes
    ]  # fmt: skip
    return fonts.play([fonts.Voice(tuple(played))], font, sheet.notes[-1].end_s + 1.0)[0]


def _key(name: str) -> str:
    chair = CHAIRS[name]
    return "violin-solo" if name == "solo-violin" else chair.instrument


def learned(font: str, given: argparse.Namespace, folders: list[Path]) -> Library:
    """Kit, renders and library of a font, or of recorded notes."""
    work, kit = given.work, given.work / "kit"
    if not kit.exists():
        make_kit(kit)
    name = "recorded" if folders else font
    name = ("plain-" if given.plain else "room-" if given.room else "") + name
    sound = work / name
    if not sound.exists():
        sound.mkdir(parents=True)
        if given.plain and not folders:
            render_plain(kit, font, sound)
        else:
            render_as_played(kit, font, sound, folders, wet=given.room)
    started = time.perf_counter()
    lesson = learn(sound, name, work / f"library-{name}", kit=kit)
    seconds = (time.perf_counter() - started) / max(len(lesson.learned), 1)
    print(f"{name}: {len(lesson.learned)} instruments learned in {seconds:.1f} s each, "
          f"{len(lesson.faults)} faults said")  # fmt: skip
    return lesson.library


def of_case(made: Made, font: Library, recorded: Library | None) -> Library:
    """The sounds of a case: recorded notes where its parts have them, else the font's."""
    if recorded is None or not any(p["source"] == "recorded" for p in made.parts):
        return font
    keys = {_key(p["chair"]) for p in made.parts if p["source"] == "recorded"}
    own = {k: v for k, v in recorded.voices.items() if k.partition("+")[0] in keys}
    return Library("both", recorded.digest, {**font.voices, **own})


def table(title: str, pairs: Pairs) -> None:
    own, spread = figures(pairs), intervals(pairs)
    cells = [f"{own[n]:.3f} ± {spread.get(n, np.nan):.3f}" for n in SHOWN]
    print("| " + " | ".join([title, str(pairs.truth.size), *cells]) + " |", flush=True)


def _judged(case: Path, given: argparse.Namespace) -> Result | None:
    """One case; one whose page is read otherwise than it was written is said and left out."""
    try:
        return run(case, given)
    except SystemExit as err:
        print(err, file=sys.stderr)
        return None


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("cases", type=Path, nargs="+")
    parser.add_argument("--work", type=Path, default=Path("library-bench"))
    parser.add_argument("--plain", action="store_true")
    parser.add_argument("--full", action="store_true", help="read the page and align")
    parser.add_argument("--learned-only", action="store_true")
    parser.add_argument("--room", action="store_true", help="render the kit in a room")
    parser.add_argument("--recorded", type=Path, nargs="+", default=[])
    return parser


def main() -> None:
    given = _parser().parse_args()
    given.jitter_ms, given.prior, given.sources = 0.0, False, ()
    cases = [open_made(case) for case in given.cases]
    recorded = learned("", given, given.recorded) if given.recorded else None
    libraries = {font: learned(font, given, []) for font in {made.font for made in cases}}
    both: dict[str, list[Result]] = {"shipped": [], "learned": []}
    for made in cases:
        for kind in ("shipped", "learned")[given.learned_only :]:
            own = of_case(made, libraries[made.font], recorded)
            given.library = own if kind == "learned" else None
            result = _judged(made.folder, given)
            both[kind] += [] if result is None else [result]
    print("| templates | lines | " + " | ".join(SHOWN) + " |")
    for kind, results in both.items():
        names = [r.case.rpartition("-")[0] for r in results]
        for name in sorted(set(names)):
            some = [r.lines for r, own in zip(results, names, strict=True) if own == name]
            table(f"{name}, {kind}", joined(some))
        if results:
            table(f"all, {kind}: lines", joined([r.lines for r in results]))
            table(f"all, {kind}: notes", joined([r.notes for r in results]))


if __name__ == "__main__":
    main()
