"""``auditor brief``: a first brief from the score, for the composer to mend."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import ScoreOrCase, Verbose, WriteOver
from auditor.commands.places import check_target, write_whole
from auditor.commands.terminal import log_to_stderr, say


def brief(
    score: ScoreOrCase,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o", "--out", metavar="FILE", help="Where to write. Default: brief.toml beside it."
        ),
    ] = None,
    force: WriteOver = False,
    verbose: Verbose = False,
) -> None:
    """Write which lines the score seems to rely on, to be mended and kept beside it.

    Example: auditor brief overture.musicxml -o brief.toml
    """
    log_to_stderr(verbose)
    from auditor.case import BRIEF, score_of
    from auditor.intent.drafting import draft
    from auditor.intent.reliance import read_intent
    from auditor.score.reading import read_score

    page = score_of(score)
    target = page.parent / BRIEF if out is None else out
    check_target(target, force=force, example=BRIEF)
    read = read_score(page)
    text = draft(read, read_intent(read))
    write_whole(target, text)
    told = text.count("\n[[passage]]")
    say(f"{told} passages written to {target}; mend them and keep the file beside the score")
