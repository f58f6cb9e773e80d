"""``auditor stems``: whose stem is whose, before anything runs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.commands.options import Verbose
from auditor.commands.terminal import console, log_to_stderr, say, show
from auditor.errors import InputError

if TYPE_CHECKING:
    from auditor.spectra.stem_names import Matched


def stems(
    score: Annotated[
        Path, typer.Argument(metavar="SCORE", readable=False, help="MusicXML score.")
    ],
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Folder with the stems' sound files.")
    ],
    mix: Annotated[
        Path | None,
        typer.Argument(
            metavar="MIX",
            readable=False,
            help="The mix: then places, levels and the sum are checked too.",
        ),
    ] = None,
    verbose: Verbose = False,
) -> None:
    """Show which stem belongs to which part, and how they add up to the mix.

    Example: auditor stems overture.musicxml stems overture.wav
    """
    log_to_stderr(verbose)
    from auditor.score.reading import read_score
    from auditor.spectra.separating import stems_of

    if not folder.is_dir():
        raise InputError(f"{folder} is not a folder; name the one with the stems")
    page = read_score(score)
    matched = stems_of(folder, page)
    names = {part.number: part.name for part in page.parts}
    rows = [
        f"{stem.path.name}\t{', '.join(names[n] for n in stem.parts)}\tby {stem.how}"
        for stem in matched.stems
    ]
    rows += [f"{path.name}\tthe room of all\t" for path in matched.room]
    rows += [f"{path.name}\tno part\tleft aside" for path in matched.spare]
    rows += [f"no stem\t{part.name}\tfrom the mix, if there is one" for part in matched.missing]
    show("\n".join(rows) + "\n")
    if mix is not None:
        _say_sum(matched, mix)
    say(
        "Where this is wrong, write stems.toml beside the stems: "
        '"Winds.wav" = ["Flute", "Oboe 1"], "Hall.wav" = "room", "Click.wav" = "none".'
    )


def _say_sum(matched: Matched, mix: Path) -> None:
    from auditor.sound.reading import read_sound
    from auditor.spectra.buses import lay_out

    with console.status("adding up"):
        desk = lay_out(matched, {}, read_sound(mix).samples)
    for remark in desk.remarks:
        say(remark)
