"""Every error this package raises on purpose.

AuditError
├── InputError        what was handed over cannot be used          exit 2
│   ├── ScoreError    the score cannot be read, or has no notes    exit 3
│   └── AudioError    the audio cannot be decoded, or is silent    exit 3
└── AlignmentError    audio and score do not follow each other     exit 4
"""


class AuditError(Exception):
    """Anything the user can mend; its message is one sentence that says how."""

    exit_code = 70


class InputError(AuditError, ValueError):
    """What was handed over cannot be used."""

    exit_code = 2


class ScoreError(InputError):
    """The score cannot be read, or has no notes."""

    exit_code = 3


class AudioError(InputError):
    """The audio cannot be decoded, or is silent."""

    exit_code = 3


class AlignmentError(AuditError):
    """The audio does not follow the score closely enough to judge it."""

    exit_code = 4

    # A default, because worker processes pickle errors and rebuild them from args alone.
    def __init__(self, message: str, *, bars: tuple[int, int] | None = None) -> None:
        super().__init__(message)
        self.bars = bars
