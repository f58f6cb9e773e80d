"""Line spectra and note windows made by hand for the hearing tests."""

import tempfile
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis.configuration import set_hypothesis_home_dir

from auditor.hearing.measures import NoteWindows
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB, LineSpectra
from auditor.units import hz_to_cam

# Hypothesis would leave its folder in the checkout, and pytest warns of it ever after.
set_hypothesis_home_dir(Path(tempfile.gettempdir()) / "auditor-hypothesis")

STEP_S = 1024 / 44_100


def band_levels(hz, level_db):
    """Components to dB per half-Cam band, shape (bands,)."""
    power = np.zeros(BAND_CAM.size)
    place = np.floor((hz_to_cam(hz) - BAND_CAM[0]) / 0.5 + 0.5).astype(int)
    inside = (place >= 0) & (place < power.size)
    np.add.at(power, place[inside], 10 ** (np.asarray(level_db, float)[inside] / 10))
    return 10 * np.log10(np.maximum(power, 10 ** (FLOOR_DB / 10)))


def harmonic(hz, level_db, slope_db=-6.0):
    """Make partials to 10 kHz falling by `slope_db` an octave, level in all."""
    partial = np.arange(hz, 10_000.01, hz)
    level = slope_db * np.log2(partial / hz)
    return partial, level + level_db - 10 * np.log10(np.sum(10 ** (level / 10)))


def spectra(lines, *, frames=100, source="stems", confidence=1.0):
    """Spectra from, for each line, (start frame, stop frame, levels per band) entries."""
    level = np.full((len(lines), frames, BAND_CAM.size), FLOOR_DB, dtype=np.float32)
    for row, entries in enumerate(lines):
        for start, stop, bands in entries:
            level[row, start:stop] = np.maximum(level[row, start:stop], bands)
    return LineSpectra(
        level_db=level,
        frame_s=np.arange(frames) * STEP_S,
        band_cam=BAND_CAM,
        confidence=np.full(level.shape[:2], confidence, dtype=np.float32),
        source=source,
    )


def windows(notes, instruments, *, sustained=None):
    """Windows from (line, onset s, offset s, pitch) rows."""
    line, onset, offset, pitch = (np.array(column) for column in zip(*notes, strict=True))
    return NoteWindows(
        line=line.astype(np.int64),
        onset_s=onset.astype(float),
        offset_s=offset.astype(float),
        pitch=pitch.astype(np.int64),
        sustained=np.ones(line.size, bool) if sustained is None else np.array(sustained),
        instrument=tuple(instruments),
    )


@pytest.fixture
def made():
    """Everything above by name: test modules cannot import each other."""
    return SimpleNamespace(
        step_s=STEP_S,
        band_levels=band_levels,
        harmonic=harmonic,
        spectra=spectra,
        windows=windows,
    )
