"""``auditor library``: the sets learned so far, one of them as a file, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import Verbose, WriteOver
from auditor.commands.places import check_target, write_whole
from auditor.commands.terminal import log_to_stderr, say, show

library = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


@library.command("list", short_help="Say which libraries were learned.")
def _list(verbose: Verbose = False) -> None:
    """Say which libraries were learned: name, fingerprint, instruments.

    Example: auditor library list
    """
    log_to_stderr(verbose)
    from auditor.errors import InputError
    from auditor.timbre.library import find_library, known_libraries, open_library

    names = known_libraries()
    if not names:
        say("no library was learned yet; make one with auditor kit and auditor learn")
    for name in names:
        try:
            found = open_library(find_library(name))
        except InputError as err:
            say(str(err))
            continue
        keys = sorted(key for key in found.voices if not key.endswith("+short"))
        show(f"{name}\t{found.digest[:12]}\t{', '.join(keys)}\n")


@library.command("export", short_help="Write a library as one file to pass on.")
def _export(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Its name, or its folder.")],
    out: Annotated[
        Path | None,
        typer.Option(
            "-o", "--out", metavar="FILE", help="Otherwise NAME.auditor-library here."
        ),
    ] = None,
    force: WriteOver = False,
    verbose: Verbose = False,
) -> None:
    """Write a library as one file to pass on: numbers and text, no sound, no code.

    Example: auditor library export my-orchestra
    """
    log_to_stderr(verbose)
    from auditor.learning.exchange import SUFFIX, as_file
    from auditor.timbre.library import find_library

    folder = find_library(name)
    target = out or Path(f"{folder.resolve().name}{SUFFIX}")
    check_target(target, force=force, example=f"{folder.resolve().name}{SUFFIX}")
    write_whole(target, as_file(folder))
    show(f"{target}\n")
    say("Whether its maker's licence lets you pass on measurements of it is for you to check.")


@library.command("import", short_help="Take in a library from a file.")
def _import(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="Made by auditor library export.")
    ],
    name: Annotated[
        str, typer.Option(metavar="NAME", help="What to call it; otherwise as its maker did.")
    ] = "",
    force: Annotated[
        bool, typer.Option("--force", help="Replace an earlier library of that name.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Take in a library from a file, after checking that it is whole.

    Example: auditor library import my-orchestra.auditor-library
    """
    log_to_stderr(verbose)
    from auditor.learning.exchange import name_in, take_in
    from auditor.report.results import check_place
    from auditor.timbre.library import ABOUT, check_name, libraries_folder

    called = check_name(name or name_in(file))
    place = libraries_folder() / called
    check_place(place, force=force, mark=ABOUT, what="auditor learn")
    found = take_in(file, place)
    show(f"{called}\t{found.digest[:12]}\n")
    say(f"Use it: --library {called}")
