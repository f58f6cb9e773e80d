"""Arguments and options that several commands share, worded once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

ScoreOrCase = Annotated[
    Path,
    typer.Argument(
        metavar="SCORE",
        readable=False,
        help="MusicXML score (.musicxml, .mxl, .xml; MEI, Humdrum, ABC and MIDI files are read "
        "too), or a case folder that holds one.",
    ),
]
Verbose = Annotated[
    bool, typer.Option("-v", "--verbose", help="Say more on the way, and where it broke.")
]
