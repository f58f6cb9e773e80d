"""What a learned library and stems are worth, against the shipped templates, in one run.

    library_bench.py CASE ... [--work FOLDER] [--plain] [--full] [--stems]

CASE are folders made by mixes.py, all of one font or of several. For each font the kit is
made by `auditor kit`, rendered by the made orchestra with that font (dynamics as it plays
them, without mixing), learned by `auditor learn`, and the mixes are judged with it and with
templates that never met the font. With --plain the kit's MIDI files go through fluidsynth
as they are. --stems also judges the cases with all stems, with half of them, and with
groups of them.
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
from audibility_truth import open_made
from mixes_players import BRIGHTER_DB, CHAIRS, PIZZICATO_PROGRAM, power_db
from mixes_sound import colour, velocity

from auditor.learning.learn import learn
from auditor.learning.listing import read_list
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


def render_as_played(kit: Path, font: str, out: Path) -> None:
    """As the made orchestra plays: its velocities, and its brightness with the dynamic."""
    chairs = {_key(name): chair for name, chair in CHAIRS.items() if name != "violin-2"}
    for sheet in read_list(kit):
        plucked = sheet.key.endswith("+pizz")
        chair = chairs[sheet.key.removesuffix("+pizz")]
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
        sound = fonts.play([fonts.Voice(tuple(played))], font, sheet.notes[-1].end_s + 1.0)[0]
        onsets = np.array([n.start_s for n in sheet.notes])
        steps = np.array([n.dynamic for n in sheet.notes], float)
        sound = colour(sound, onsets, steps, BRIGHTER_DB.get(chair.family, 0.3))
        soundfile.write(out / f"{sheet.name}.wav", sound, fonts.RATE_HZ, subtype="FLOAT")


def _key(name: str) -> str:
    chair = CHAIRS[name]
    return "violin-solo" if name == "solo-violin" else chair.instrument


def learned(font: str, work: Path, *, plain: bool) -> Library:
    """Kit, renders and library of a font."""
    kit = work / "kit"
    if not kit.exists():
        make_kit(kit)
    sound = work / (f"plain-{font}" if plain else font)
    if not sound.exists():
        sound.mkdir(parents=True)
        (render_plain if plain else render_as_played)(kit, font, sound)
    started = time.perf_counter()
    lesson = learn(sound, font, work / f"library-{sound.name}", kit=kit)
    seconds = (time.perf_counter() - started) / max(len(lesson.learned), 1)
    print(f"{font}: {len(lesson.learned)} instruments learned in {seconds:.1f} s each, "
          f"{len(lesson.faults)} faults said")  # fmt: skip
    return lesson.library


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


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("cases", type=Path, nargs="+")
    parser.add_argument("--work", type=Path, default=Path("library-bench"))
    parser.add_argument("--plain", action="store_true")
    parser.add_argument("--full", action="store_true", help="read the page and align")
    parser.add_argument("--learned-only", action="store_true")
    given = parser.parse_args()
    given.jitter_ms, given.prior, given.sources = 0.0, False, ()
    by_font: dict[str, list[Path]] = {}
    for case in given.cases:
        by_font.setdefault(open_made(case).font, []).append(case)
    both: dict[str, list[tuple[Pairs, Pairs]]] = {"shipped": [], "learned": []}
    print("| templates | lines | " + " | ".join(SHOWN) + " |")
    for font, cases in by_font.items():
        library = learned(font, given.work, plain=given.plain)
        for kind, chosen in (("shipped", None), ("learned", library)):
            if kind == "shipped" and given.learned_only:
                continue
            given.library = chosen
            results = [r for case in cases if (r := _judged(case, given)) is not None]
            both[kind] += [(r.lines, r.notes) for r in results]
            table(f"{font}, {kind}", joined([r.lines for r in results]))
    for kind, rows in both.items():
        if rows:
            table(f"all, {kind}: lines", joined([lines for lines, _ in rows]))
            table(f"all, {kind}: notes", joined([notes for _, notes in rows]))


if __name__ == "__main__":
    main()
