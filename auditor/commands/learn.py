"""``auditor learn``: renders of the kit become a template set."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import Verbose
from auditor.commands.terminal import console, log_to_stderr, say, show, tell


def learn(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Folder with the renders of the kit.")
    ],
    name: Annotated[
        str, typer.Option(metavar="NAME", help="What to call the library: letters and digits.")
    ] = "",
    kit: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Folder with kit.json, if it is another one."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FOLDER",
            help="Write the set there, to be shared; otherwise into your data folder.",
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace an earlier set of that name.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Learn how your library sounds, from its renders of the kit.

    Example: auditor learn kit --name my-strings
    """
    log_to_stderr(verbose)
    from auditor.learning.learn import learn as run
    from auditor.report.results import check_place
    from auditor.timbre.library import ABOUT, check_name, libraries_folder

    check_name(name)
    place = out if out is not None else libraries_folder() / name
    check_place(place, force=force, mark=ABOUT, what="auditor learn")
    with console.status("learning") as status:
        lesson = run(folder, name, place, kit=kit, told=lambda s: tell(status, s))
    rows = [
        f"{file}\t{key}\t{used} of {asked} notes" for file, key, used, asked in lesson.learned
    ]
    show("\n".join(rows) + "\n")
    for fault in lesson.faults:
        say(fault.sentence)
    count = len(lesson.faults)
    said = f"{count} faults, said above" if count else "no faults"
    called = name if out is None else out
    say(f"Library {name} is in {place} ({said}). Use it: --library {called}")
