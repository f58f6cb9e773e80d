"""The records hearing works with: what to listen for, and what was heard.

Figures are arrays with one entry for each thing listened for (a note, a line, a
strand or a layer), so the same record serves all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Register bands of the coverage table, lower edges in Hz: C3, C4, C5, C7 (ISO 16 tuning).
REGISTERS: tuple[str, ...] = ("bass", "tenor", "alto", "treble", "brilliance")
REGISTER_EDGES_HZ: tuple[float, ...] = (130.81, 261.63, 523.25, 2093.0)

STATES: tuple[str, ...] = (
    "clear", "faint", "covered", "blended", "silent", "undecided", "not judged",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Limits:
    """Where the states part on the distinct ratio: a model's limits, not a listening test's."""

    covered: float = 0.05
    clear: float = 0.15


@dataclass(frozen=True, slots=True)
class NoteWindows:
    """When each written note sounds, in the order of the score's notes.

    Parameters
    ----------
    line : ndarray of int, shape (notes,)
        Row of the note's line in the line spectra.
    onset_s, offset_s : ndarray, shape (notes,)
        Seconds; NaN where the note was not played or not aligned.
    pitch : ndarray of int, shape (notes,)
        Sounding MIDI number, 0 if unpitched.
    sustained : ndarray of bool, shape (notes,)
        False for struck and plucked notes, which die away (pizzicato included).
    instrument : tuple of str, length lines
        Instrument key of each line.
    """

    line: NDArray[np.int64]
    onset_s: NDArray[np.float64]
    offset_s: NDArray[np.float64]
    pitch: NDArray[np.int64]
    sustained: NDArray[np.bool_]
    instrument: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Notes of one or more lines heard as one thing: a strand or a layer.

    Parameters
    ----------
    id
        Identifier of the strand or layer it stands for.
    notes : ndarray of int, shape (members,)
        Positions of its notes in the note windows.
    """

    id: str
    notes: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Measures:
    """What was heard of n things, arrays of shape (n,) unless said.

    Parameters
    ----------
    level_db
        dB SPL of the thing alone while it sounds (power mean).
    alone_sone, partial_sone
        Mean loudness alone, and mean partial loudness in the mix, in sone.
    loudness_ratio, distinct_ratio
        Summed partial loudness over summed loudness alone; the distinct ratio counts
        partners that start together in unison or octave as stronger maskers.
    margin_db
        dB above masked threshold, over the best part of its time.
    covered_share
        Share of its time, weighted by loudness alone, below the covered limit.
    covered_by : ndarray of int
        Row of the line that masks most; -1 if nothing does.
    cover_share : ndarray, shape (n, lines)
        Each line's share of the masking, summing to 1 where anything masks.
    register_share : ndarray, shape (n, registers)
        Share of what is lost in each register band, summing to 1.
    ownership
        0 to 1: mean confidence of the line spectra while it sounds.
    """

    level_db: NDArray[np.float64]
    alone_sone: NDArray[np.float64]
    partial_sone: NDArray[np.float64]
    loudness_ratio: NDArray[np.float64]
    distinct_ratio: NDArray[np.float64]
    margin_db: NDArray[np.float64]
    covered_share: NDArray[np.float64]
    covered_by: NDArray[np.int64]
    cover_share: NDArray[np.float64]
    register_share: NDArray[np.float64]
    ownership: NDArray[np.float64]

    def __len__(self) -> int:
        return int(self.level_db.size)


@dataclass(frozen=True, slots=True)
class Evidence:
    """What else is known of each of n things judged, arrays of shape (n,).

    Parameters
    ----------
    fused
        Partners that start together with it in unison or octaves.
    under_mix_db
        How far its level lies under the mix.
    salience
        0 to 1: how much its pitch stands out of the mix; NaN where unknown.
    brightness
        Octaves from its pitch up to the centroid of its spectrum; NaN where unknown.
    attack_s
        Seconds until a struck or plucked note is loudest, 0 for a held one, which may
        swell; NaN where unknown.
    """

    fused: NDArray[np.float64]
    under_mix_db: NDArray[np.float64]
    salience: NDArray[np.float64]
    brightness: NDArray[np.float64]
    attack_s: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Heard:
    """Everything heard of a case.

    Parameters
    ----------
    notes, lines, groups
        Figures per note (score order), per line and per group. Line and group figures
        are the duration-weighted medians of their notes' (levels: power means).
    note_state, line_state, group_state
        State of each.
    note_confidence, line_confidence, group_confidence
        0 to 1: probability that heard (clear or faint) against covered is right.
    frame_sone : ndarray, shape (lines, frames), float32
        Partial loudness over time.
    mix_sone : ndarray, shape (frames,)
        Loudness of the whole.
    note_evidence
        Pitch salience and timbre of each note, which stand beside its loudness.
    """

    notes: Measures
    lines: Measures
    groups: Measures
    note_state: tuple[str, ...]
    line_state: tuple[str, ...]
    group_state: tuple[str, ...]
    note_confidence: NDArray[np.float64]
    line_confidence: NDArray[np.float64]
    group_confidence: NDArray[np.float64]
    frame_sone: NDArray[np.float32]
    mix_sone: NDArray[np.float64]
    note_evidence: Evidence
