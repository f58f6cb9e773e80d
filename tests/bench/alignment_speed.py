"""Seconds and errors beside synctoolbox, one thread, the same sounds, in one run.

    PYTHONPATH=... python tests/bench/alignment_speed.py FOLDER [ITEMS]

Not a part of the project: synctoolbox (Müller et al., JOSS 2021) must be importable. Its
pipeline is the one of its own documentation: tuning, quantised chroma and decaying
onset features at 50 frames a second, multi-scale warping, a strictly monotone path. Compiled
code is warmed up on a short item first; reading files is not counted.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import soxr
from alignment_bench import HEAD, figures, row
from alignment_items import Performance, perform
from alignment_sets import FITTING, FRESH_STRAIGHT
from numpy.typing import NDArray
from synctoolbox.dtw.mrmsdtw import sync_via_mrmsdtw
from synctoolbox.dtw.utils import make_path_strictly_monotonic
from synctoolbox.feature.chroma import pitch_to_chroma, quantize_chroma
from synctoolbox.feature.csv_tools import df_to_pitch_features, df_to_pitch_onset_features
from synctoolbox.feature.dlnco import pitch_onset_features_to_DLNCO
from synctoolbox.feature.pitch import audio_to_pitch_features
from synctoolbox.feature.pitch_onset import audio_to_pitch_onset_features
from synctoolbox.feature.utils import estimate_tuning

from auditor.alignment.aligning import timeline_of
from auditor.sound.features import listen

RATE_HZ, FPS = 22_050, 50
WEIGHTS = np.array([1.5, 1.5, 2.0])


def theirs(one: Performance) -> NDArray[np.float64]:
    """Onsets by synctoolbox."""
    x = soxr.resample(one.sound.samples, 44_100, RATE_HZ)
    quarter_s = one.sound.duration_s / one.score.duration
    notes = [n for n in one.score.notes if not n.grace and not n.unpitched]
    frame = pd.DataFrame(
        {
            "start": [n.onset * quarter_s for n in notes],
            "duration": [n.duration * quarter_s for n in notes],
            "pitch": [n.pitch for n in notes],
            "velocity": [80] * len(notes),
            "instrument": ["piano"] * len(notes),
        }
    )
    frame["end"] = frame["start"] + frame["duration"]
    tuning = estimate_tuning(x, RATE_HZ)
    pitch = audio_to_pitch_features(
        f_audio=x, Fs=RATE_HZ, tuning_offset=tuning, feature_rate=FPS, verbose=False
    )
    peaks = audio_to_pitch_onset_features(
        f_audio=x, Fs=RATE_HZ, tuning_offset=tuning, verbose=False
    )
    heard = quantize_chroma(pitch_to_chroma(pitch))
    rises = pitch_onset_features_to_DLNCO(
        f_peaks=peaks, feature_rate=FPS, feature_sequence_length=heard.shape[1], visualize=False
    )
    expected = quantize_chroma(pitch_to_chroma(df_to_pitch_features(frame, feature_rate=FPS)))
    written = pitch_onset_features_to_DLNCO(
        f_peaks=df_to_pitch_onset_features(frame), feature_rate=FPS,
        feature_sequence_length=expected.shape[1], visualize=False,
    )  # fmt: skip
    path = sync_via_mrmsdtw(
        f_chroma1=heard, f_onset1=rises, f_chroma2=expected, f_onset2=written,
        input_feature_rate=FPS, step_weights=WEIGHTS, threshold_rec=10**6, verbose=False,
    )  # fmt: skip
    path = make_path_strictly_monotonic(path)
    at = np.array([n.onset for n in one.score.notes]) * quarter_s * FPS
    seconds: NDArray[np.float64] = np.interp(at, path[1], path[0]) / FPS
    return seconds


def main() -> None:
    folder = Path(sys.argv[1])
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 4
    warm = perform(FITTING[8], folder)
    timeline_of(warm.score, listen(warm.sound.samples))
    theirs(warm)
    print(HEAD)
    ratios = []
    for item in FRESH_STRAIGHT[:count]:
        one = perform(item, folder)
        start = time.perf_counter()
        timeline = timeline_of(one.score, listen(one.sound.samples))
        ours = time.perf_counter() - start
        placed = timeline.seconds([n.onset for n in one.score.notes])
        print(row(item.name, figures(one.score, one.onset_s, placed), ours), flush=True)
        start = time.perf_counter()
        other = theirs(one)
        spent = time.perf_counter() - start
        print(row("    synctoolbox", figures(one.score, one.onset_s, other), spent), flush=True)
        ratios.append(spent / ours)
    print(f"times as fast: {np.round(ratios, 1).tolist()}, middle {np.median(ratios):.1f}")


if __name__ == "__main__":
    main()
