"""The public surface is what it says, and light to import."""

import subprocess
import sys

import auditor


def test_every_public_name_is_there():
    assert auditor.__all__ == sorted(auditor.__all__)
    assert all(callable(getattr(auditor, name)) for name in auditor.__all__)
    assert set(auditor.__all__) <= set(dir(auditor))


def test_importing_costs_nothing_heavy():
    code = "import sys, auditor; print(any(m in sys.modules for m in ('music21', 'librosa')))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"
