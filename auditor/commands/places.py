"""Where a command writes: the name it chooses, and one file written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from auditor.errors import InputError


def named_after(given: Path, ending: str) -> Path:
    """Name of a result in the working folder: that of what was given, and an ending."""
    # Unlike Path.resolve this stands links that lead in a circle; the reader refuses those.
    return Path(f"{Path(os.path.realpath(given)).stem}{ending}")


def check_target(target: Path, *, force: bool, example: str) -> None:
    """Refuse a file that is there already, or a folder, before any work is done.

    Parameters
    ----------
    target
        File to be written.
    force
        Whether a file that is there may be written over.
    example
        Name of a file, for the message about a folder.

    Raises
    ------
    InputError
        If it cannot be written there.
    """
    if target.is_dir():
        raise InputError(f"{target} is a folder; name a file, for instance {target / example}")
    if target.exists() and not force:
        raise InputError(f"{target} is there already; name another with -o, or use --force")


def write_whole(target: Path, content: str | bytes) -> None:
    """Write a file beside its place and move it there, so that nothing is ever half written.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    beside = target.with_name(f".{target.name}.part")
    try:
        beside.write_bytes(content.encode() if isinstance(content, str) else content)
        beside.replace(target)
    except OSError as err:
        beside.unlink(missing_ok=True)
        raise InputError(f"{target} cannot be written ({err.strerror}); name another") from err
