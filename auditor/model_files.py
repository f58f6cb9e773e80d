"""Where the fitted data lies: in the checkout's models/, or in the wheel's copy of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

_PLACES = (Path(__file__).parent / "_models", Path(__file__).parent.parent / "models")


def model_path(name: str) -> Path:
    """Path of a file in the model folder.

    Raises
    ------
    FileNotFoundError
        If the installation lacks it.
    """
    for place in _PLACES:
        if (place / name).exists():
            return place / name
    raise FileNotFoundError(f"the installation lacks models/{name}; install auditor again")


def read_json(name: str) -> Any:
    """Contents of a JSON model file."""
    return json.loads(model_path(name).read_text(encoding="utf-8"))
