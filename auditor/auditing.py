"""The audit of a case: every stage once, in order; knows no output."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.timeline import Timeline
from auditor.findings.finding import Finding
from auditor.hearing.measures import Heard, Limits, NoteWindows
from auditor.intent.roles import Intent
from auditor.score.notes import Score


@dataclass(frozen=True, slots=True)
class Sounding:
    """What is said about the sound at the head of a report.

    Parameters
    ----------
    name
        File name.
    duration_s, rate_hz, channels
        As in the file.
    loudness_lufs
        Integrated loudness after ITU-R BS.1770.
    playback_db
        Assumed level of the music at the listener, dB SPL.
    remarks
        One sentence for each thing noticed: clipping, DC, truncation ...
    """

    name: str
    duration_s: float
    rate_hz: int
    channels: int
    loudness_lufs: float
    playback_db: float
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Audit:
    """The frozen whole of one audit.

    Parameters
    ----------
    score, sounding, timeline, windows, intent, heard, limits
        What each stage found.
    findings
        Heaviest first.
    cautions
        Said with every result.
    samples : ndarray, shape (samples,), float32
        The mix in mono at 44.1 kHz, for clips.
    hashes
        SHA-256 of each input file, by name.
    source
        ``mix`` or ``stems``.
    """

    score: Score
    sounding: Sounding
    timeline: Timeline
    windows: NoteWindows
    intent: Intent
    heard: Heard
    limits: Limits
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    samples: NDArray[np.float32]
    hashes: tuple[tuple[str, str], ...]
    source: str = "mix"
