"""``auditor align``: where the bars of a score lie in a sound, and nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import Verbose
from auditor.commands.places import named_after
from auditor.commands.terminal import console, log_to_stderr, say, show, tell


def align(
    score: Annotated[
        Path, typer.Argument(metavar="SCORE", readable=False, help="MusicXML score.")
    ],
    mix: Annotated[
        Path,
        typer.Argument(
            metavar="MIX",
            readable=False,
            help="Its rendering: WAV, FLAC, AIFF, CAF, Ogg, Opus or MP3.",
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FOLDER",
            help="Folder for the map, new or empty. Default: the score's name and -map.",
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace the map that the folder holds.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Write when each bar and each onset of a score sounds, as tables and as a picture.

    Example: auditor align overture.musicxml overture.wav -o overture-map
    """
    log_to_stderr(verbose)
    from auditor.alignment.aligning import timeline_of
    from auditor.report.map_results import check_map_place, write_map
    from auditor.score.reading import read_score
    from auditor.sound.features import listen_to
    from auditor.sound.reading import stream_sound

    folder = out if out is not None else named_after(score, "-map")
    check_map_place(folder, force=force)
    with console.status("aligning") as status:
        tell(status, "reading the score")
        page = read_score(score)
        tell(status, "listening")
        sound = stream_sound(mix)
        features = listen_to(sound.blocks)
        tell(status, "finding the score in the sound")
        timeline = timeline_of(page, features)
        write_map(
            page, timeline, folder, sound=sound.name, duration_s=sound.duration_s, force=force
        )
    for remark in sound.remarks:
        say(f"{sound.name}: {remark}")
    doubtful = [b for b in timeline.bars if b.reason]
    show("".join(f"{text}\n" for text in timeline.surprises))
    say(
        f"{len(timeline.bars) - len(doubtful)} of {len(timeline.bars)} bars are sure; "
        f"everything is in {folder}, look at {folder / 'alignment.html'}"
    )
