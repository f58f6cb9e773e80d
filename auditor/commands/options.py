"""Arguments and options that several commands share, worded once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.errors import InputError

ScoreOrCase = Annotated[
    Path,
    typer.Argument(
        metavar="SCORE",
        readable=False,
        help="MusicXML score (.musicxml, .mxl, .xml; MEI, Humdrum, ABC and MIDI files are read "
        "too), or a case folder that holds one.",
    ),
]
Strings = Annotated[
    str,
    typer.Option(
        metavar="BODY",
        help="Strings that will sit there, for the forecast and the sheet: full, medium or "
        "small. Players given in score.toml stay.",
    ),
]
RoomGain = Annotated[
    float,
    typer.Option(
        metavar="DB",
        help="Strength G of the hall that is forecast, -5 to 20 dB; concert halls have about "
        "2 to 6.",
    ),
]
WriteOver = Annotated[bool, typer.Option("--force", help="Write over a file that is there.")]
Verbose = Annotated[
    bool, typer.Option("-v", "--verbose", help="Say more on the way, and where it broke.")
]


def check_hall(strings: str, room_gain_db: float) -> None:
    """Refuse a string body or a hall before anything is read.

    Raises
    ------
    InputError
        If there is no such body, or the room gain is no hall's.
    """
    from auditor.score.string_bodies import BODIES
    from auditor.spectra.forecast import check_room_gain

    check_room_gain(room_gain_db)
    if strings not in BODIES:
        raise InputError(f"--strings is {strings!r}; expected one of {', '.join(BODIES)}")
