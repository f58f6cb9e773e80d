"""Small TOML files that the user writes: read whole, or refused in one sentence."""

from __future__ import annotations

import stat
import tomllib
from pathlib import Path
from typing import Any

from auditor.errors import InputError

# A thousand times what anybody writes by hand; a device would be read for ever.
_MOST_BYTES = 1 << 20


def read_toml(path: Path, *, hint: str = "mend that place") -> dict[str, Any]:
    """Contents of a settings file; a byte order mark in front does no harm.

    Parameters
    ----------
    path
        The file.
    hint
        What to do when it is not TOML, for the message.

    Raises
    ------
    InputError
        If it is missing, no ordinary file, larger than 1 MB, unreadable or not TOML.
    """
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise InputError(f"{path} is not an ordinary file; name a text file")
        if status.st_size > _MOST_BYTES:
            raise InputError(f"{path} is larger than 1 MB; that is no settings file")
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as err:
        raise InputError(
            f"{path} cannot be read ({err.strerror}); see that it is there"
        ) from err
    except UnicodeDecodeError as err:
        raise InputError(f"{path} is not text in UTF-8; write it with a text editor") from err
    except (tomllib.TOMLDecodeError, RecursionError) as err:
        raise InputError(f"{path} is not valid TOML ({err}); {hint}") from err
