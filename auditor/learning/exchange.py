"""A template set as one file to pass on, and back into a folder.

The file is a ZIP archive (PKWARE APPNOTE 6.3) of the set's two files and nothing else;
the same set always gives the same bytes.
"""

from __future__ import annotations

import io
import json
import tempfile
import zipfile
from pathlib import Path

from auditor.errors import InputError
from auditor.report.results import fill_folder
from auditor.timbre.library import ABOUT, SET_FILES, Library, open_library

SUFFIX = ".auditor-library"
# A set of the whole instrument table takes some 10 MB; more is no set.
_MOST_BYTES = 300_000_000
# The earliest time that the format knows: no clock in the file.
_NO_TIME = (1980, 1, 1, 0, 0, 0)


def as_file(folder: Path) -> bytes:
    """A set as the bytes of one file.

    Raises
    ------
    InputError
        If the set is damaged.
    """
    open_library(folder)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name in SET_FILES:
            archive.writestr(zipfile.ZipInfo(name, _NO_TIME), (folder / name).read_bytes())
    return out.getvalue()


def name_in(file: Path) -> str:
    """Name of the set in a file, as its maker called it.

    Raises
    ------
    InputError
        As `take_in`.
    """
    about = json.loads(_contents(file)[ABOUT])
    return str(about.get("name", "")) if isinstance(about, dict) else ""


def take_in(file: Path, folder: Path) -> Library:
    """Put the set of a file into a folder, whole or not at all.

    Parameters
    ----------
    file
        Made by `as_file`.
    folder
        Made if it is missing; an earlier set in it is replaced.

    Raises
    ------
    InputError
        If the file is damaged, is no set or one of another version, or the folder cannot
        be written.
    """
    contents = _contents(file)

    def fill(fresh: Path) -> None:
        for name, data in contents.items():
            (fresh / name).write_bytes(data)

    with tempfile.TemporaryDirectory(prefix="auditor-library-") as name:
        tried = Path(name)
        fill(tried)
        try:
            open_library(tried)
        except InputError as err:
            said = str(err).replace(str(tried), str(file))
            raise InputError(said.replace("learn it again", "ask for it again")) from err
    fill_folder(folder, fill, ours=SET_FILES)
    return open_library(folder)


def _contents(file: Path) -> dict[str, bytes]:
    """The set's files by name."""
    try:
        with zipfile.ZipFile(file) as archive:
            rows = archive.infolist()
            if sorted(row.filename for row in rows) != sorted(SET_FILES):
                raise InputError(f"{file} is no library; give a file of auditor library export")
            if sum(row.file_size for row in rows) > _MOST_BYTES:
                raise InputError(f"{file} is larger than any library can be; ask for it again")
            found = {row.filename: archive.read(row) for row in rows}
        json.loads(found[ABOUT])
    except OSError as err:
        raise InputError(f"{file} cannot be read ({err.strerror}); name a file") from err
    # A damaged archive shows itself in any of these ways.
    except (zipfile.BadZipFile, ValueError, EOFError, NotImplementedError, RuntimeError) as err:
        raise InputError(
            f"{file} is damaged or no library ({' '.join(str(err).split())}); ask for it again"
        ) from err
    return found
