"""``auditor kit``: short files to be rendered with the user's own library."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import Verbose
from auditor.commands.terminal import log_to_stderr, say, show
from auditor.errors import InputError


def kit(
    score: Annotated[
        Path | None,
        typer.Argument(
            metavar="SCORE",
            readable=False,
            help="MusicXML score, or a case folder that holds one: the kit holds what it asks "
            "for, over the range it uses.",
        ),
    ] = None,
    out: Annotated[
        Path,
        typer.Option("-o", "--out", metavar="FOLDER", help="Folder for the kit."),
    ] = Path("kit"),
    instruments: Annotated[
        str,
        typer.Option(
            metavar="NAMES",
            help='Instead of a score: "flute, solo violin, Pauken"; whole ranges.',
        ),
    ] = "",
    controller: Annotated[
        int | None,
        typer.Option(
            min=0,
            max=119,
            metavar="NUMBER",
            help="MIDI controller that carries the dynamic as well as the velocity does; many "
            "libraries take it from 1 or 11 for held notes. MIDI files only.",
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace the kit that the folder holds.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Write short files for each instrument, to be rendered with your own library.

    Example: auditor kit overture.musicxml -o kit
    """
    log_to_stderr(verbose)
    from auditor.case import score_of
    from auditor.learning.kit import kit_for_names, kit_for_score
    from auditor.learning.listing import LIST, write_kit
    from auditor.report.results import check_place
    from auditor.score.reading import read_score

    if (score is None) == (not instruments):
        raise InputError("name a score, or instruments with --instruments, one of the two")
    check_place(out, force=force, mark=LIST, what="auditor kit")
    sheets = (
        kit_for_names(instruments)
        if score is None
        else kit_for_score(read_score(score_of(score)))
    )
    write_kit(sheets, out, controller)
    rows = [f"{s.name}\t{s.seconds:.0f} s\t{len(s.notes)} notes\t{s.title}" for s in sheets]
    show("\n".join(rows) + "\n")
    say(
        f"Render each file in {out} alone at its tempo, put the sounds beside them under the "
        f"same names, then: auditor learn {out} --name NAME"
    )
