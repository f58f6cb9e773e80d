"""The result folder: written whole beside its place, then moved there."""

from __future__ import annotations

import logging
import os
import shutil
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from auditor.auditing import Audit
from auditor.errors import InputError, ScoreError
from auditor.report.annotated import annotated
from auditor.report.craft_list import craft_table
from auditor.report.markdown import findings_markdown
from auditor.report.page import Page
from auditor.report.record import as_record, to_json
from auditor.report.sheet import compose_sheet
from auditor.report.tables import all_tables, to_csv

logger = logging.getLogger(__name__)

FILES = (
    "audit.json", "notes.csv", "lines.csv", "strands.csv", "bars.csv", "findings.csv",
    "craft.csv", "findings.md", "report.html", "sheet.html",
)  # fmt: skip
# Only where the score can be written into, and where a PDF was asked for.
EXTRA_FILES = ("annotated.musicxml", "annotated.mxl", "report.pdf")


def write_results(
    audit: Audit,
    folder: Path,
    *,
    page: Page | None = None,
    score: Path | None = None,
    pdf: bytes | None = None,
    force: bool = False,
) -> None:
    """Write every file of the result, all or none.

    Parameters
    ----------
    audit
        What to write.
    folder
        Where; made if it is missing. An empty folder is filled.
    page
        The report page; without one no ``report.html`` is written.
    score
        The MusicXML that was audited, to be annotated; a score in another format, or one
        that cannot be written into, is left out.
    pdf
        The page on paper, if it was asked for.
    force
        Replace the result that `folder` holds. Files that are not ours stay.

    Raises
    ------
    InputError
        If `folder` holds a result and `force` is not set, holds other things than a
        result, is a file, or cannot be written.
    """

    def fill(fresh: Path) -> None:
        _fill(fresh, audit, page)
        _fill_extra(fresh, audit, score, pdf)

    check_place(folder, force=force)
    fill_folder(folder, fill, ours=(*FILES, *EXTRA_FILES))


def fill_folder(folder: Path, fill: Callable[[Path], None], *, ours: Sequence[str]) -> None:
    """Fill a folder whole or not at all: beside its place, then moved there.

    Parameters
    ----------
    folder
        Where; made if it is missing.
    fill
        Called with an empty folder to write into.
    ours
        Names that are replaced in a folder that is there; other files stay.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as err:
        raise InputError(
            f"{folder.parent} cannot be written ({err.strerror}); name another place"
        ) from err
    try:
        fresh.chmod(0o755)  # mkdtemp makes it private; a result is as public as its parent
        fill(fresh)
        _move_into_place(fresh, folder, ours)
    except OSError as err:
        raise InputError(
            f"{folder} could not be written ({err.strerror}); nothing there was changed"
        ) from err
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    logger.info("wrote %s", folder)


def check_place(
    folder: Path, *, force: bool, mark: str = "audit.json", what: str = "an audit"
) -> None:
    """Refuse a place where results cannot go, before any work is done.

    A folder that holds the file `mark` is taken for a result of `what`.

    Raises
    ------
    InputError
        As `write_results`.
    """
    check_folder(folder)
    if not folder.exists():
        return
    if folder.samefile(Path.cwd()):
        raise InputError(
            f"{folder} is the folder you are in; give the results one of their own"
        )
    if not any(folder.iterdir()):
        return
    if not (folder / mark).is_file():
        raise InputError(
            f"{folder} holds files that are not a result of {what}; name a new folder"
        )
    if not force:
        raise InputError(
            f"{folder} already holds a result; name another folder or use --force to replace it"
        )


def check_folder(folder: Path) -> None:
    """Refuse what can be no folder to write into.

    Raises
    ------
    InputError
        If it is a file or lies in one, or where nothing may be written.
    """
    if os.path.lexists(folder) and not folder.is_dir():
        raise InputError(f"{folder} is a file; name a folder for the results")
    parents = Path(os.path.realpath(folder)).parents
    # Path.exists raises where a folder above may not be looked into.
    there = next(path for path in parents if os.path.exists(path))  # noqa: PTH110
    if not there.is_dir():
        raise InputError(f"{there} is a file; name a folder for the results elsewhere")
    if not os.access(there, os.W_OK | os.X_OK):
        raise InputError(f"{there} cannot be written (permission denied); name another place")


def _fill(folder: Path, audit: Audit, page: Page | None) -> None:
    """Write the files into a folder of our own."""
    texts = {f"{table.name}.csv": to_csv(table) for table in all_tables(audit)}
    texts["craft.csv"] = to_csv(craft_table(audit.score, audit.craft))
    texts["audit.json"] = to_json(audit)
    texts["findings.md"] = findings_markdown(audit)
    texts["sheet.html"] = compose_sheet(as_record(audit))
    if page is not None:
        texts["report.html"] = page.html
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


def _fill_extra(folder: Path, audit: Audit, score: Path | None, pdf: bytes | None) -> None:
    if pdf is not None:
        (folder / "report.pdf").write_bytes(pdf)
    if score is None:
        return
    try:
        name, data = annotated(audit, score)
    except ScoreError as err:
        logger.info("no annotated score: %s", err)
        return
    (folder / name).write_bytes(data)


def _move_into_place(fresh: Path, folder: Path, ours: Sequence[str]) -> None:
    """Put the new folder where the old one stood; what is not ours in the old one stays."""
    if not folder.exists():
        fresh.rename(folder)
        return
    old = fresh.with_name(fresh.name + "-old")
    folder.rename(old)
    try:
        fresh.rename(folder)
    except OSError:
        old.rename(folder)
        raise
    for path in old.iterdir():
        if path.name not in ours:
            path.rename(folder / path.name)
    shutil.rmtree(old, ignore_errors=True)
