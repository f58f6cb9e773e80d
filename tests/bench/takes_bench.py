"""Takes parted from the mix, against their stems: is 6 dB forward six, is alone alone.

    python tests/bench/takes_bench.py CASE ...

CASE is a folder made by `mixes.py`. For every line the passage of six seconds in which it
sounds most is made 6 dB forward and alone from the mix, templates from other sounds than the
mix's. Printed by the line's level under the mix: how far forward it is by the power added,
and by the gains of the line and of all others that fit the take best; how far a line alone
stands out of the rest; and the error of the line's level by its confidence.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from audibility_estimate import estimated, fair_sources, full_windows, page_of
from audibility_truth import Made, open_made, stems_of
from numpy.typing import NDArray

from auditor.hearing.measures import NoteWindows
from auditor.sound.spectrum import HOP, RATE_HZ
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.parting import reweighed, stretch_of

PASSAGE_S, WINDOW_S, FORWARD_DB, SOFTEST_DB = 6.0, 5.0, 6.0, -40.0
SIZE = 4096
Samples = NDArray[np.float32]


def level(x: Samples) -> float:
    """Mean square in dB."""
    return float(10 * np.log10(max(np.mean(np.square(x, dtype=np.float64)), 1e-20)))


def transform(x: Samples) -> NDArray[np.complex128]:
    frames = np.lib.stride_tricks.sliding_window_view(x, SIZE)[:: SIZE // 4]
    return np.fft.rfft(frames * np.hanning(SIZE), axis=1).T


def gains_db(take: Samples, line: Samples, others: Samples) -> tuple[float, float]:
    """Gains of a line and of the others that explain a take best, each band as loud."""
    made, own, rest = (transform(x) for x in (take, line, others))
    hz = np.fft.rfftfreq(SIZE, 1 / RATE_HZ)
    band = np.digitize(hz, np.geomspace(60, 16000, 40))
    weight = np.zeros(hz.size)
    for k in np.unique(band):
        bins = band == k
        power = np.mean(np.abs(own[bins]) ** 2)
        weight[bins] = power**0.3 / (power + np.mean(np.abs(rest[bins]) ** 2) + 1e-20)
    root = np.sqrt(weight)[:, None]
    sides = np.stack([(root * own).ravel(), (root * rest).ravel()], axis=1)
    wanted = (root * made).ravel()
    found = np.linalg.lstsq(
        np.concatenate([sides.real, sides.imag]), np.concatenate([wanted.real, wanted.imag]),
        rcond=None,
    )[0]  # fmt: skip
    one, other = 20 * np.log10(np.maximum(np.abs(found), 1e-3))
    return float(one), float(other)


def fullest(windows: NoteWindows, row: int, last_s: float) -> float:
    """Second at which the passage begins that the line fills most."""
    own = windows.line == row
    on, off = windows.onset_s[own], windows.offset_s[own]
    starts = np.minimum(on, max(0.0, last_s - PASSAGE_S))
    filled = [
        np.clip(np.minimum(off, s + PASSAGE_S) - np.maximum(on, s), 0, None).sum()
        for s in starts
    ]
    return float(starts[int(np.argmax(filled))])


def one_line(
    made: Made, spectra: LineSpectra, stem: Samples, row: int, span: tuple[int, int]
) -> tuple[float, ...] | None:
    mix, line = made.mix[slice(*span)], stem[slice(*span)]
    under = level(line) - level(mix)
    if under < SOFTEST_DB:
        return None
    stretch = stretch_of(made.mix, spectra, [row], span, made.calibration_db)
    forward = reweighed(stretch, {row: FORWARD_DB})
    added = 10 ** (level(forward) / 10) - 10 ** (level(mix) / 10)
    power = max(10 ** (level(line) / 10) + added, 1e-20)
    alone = reweighed(stretch, {row: 0.0}, rest_db=-np.inf)
    own, rest = gains_db(alone, line, mix - line)
    return (under, 10 * np.log10(power) - level(line), *gains_db(forward, line, mix - line),
            own - rest)  # fmt: skip


def level_errors(
    made: Made, spectra: LineSpectra, stems: NDArray[np.float32], windows: NoteWindows
) -> list[tuple[float, float]]:
    """Mean confidence and error of the level, dB, of every line in every window it fills."""
    found = []
    for start in np.arange(0, made.mix.size / RATE_HZ - WINDOW_S, WINDOW_S / 2):
        first, last = int(start * RATE_HZ), int((start + WINDOW_S) * RATE_HZ)
        frames = slice(first // HOP, last // HOP)
        for row, stem in enumerate(stems):
            own = windows.line == row
            end = np.minimum(windows.offset_s[own], start + WINDOW_S)
            filled = np.clip(end - np.maximum(windows.onset_s[own], start), 0, None).sum()
            true = level(stem[first:last])
            if filled < 1.5 or true - level(made.mix[first:last]) < SOFTEST_DB - 5:
                continue
            power = (10 ** (spectra.level_db[row, frames] / 10)).sum(axis=1)
            error = 10 * np.log10(power.mean()) - made.calibration_db - true
            weight = power / power.sum()
            found.append((float((spectra.confidence[row, frames] * weight).sum()), error))
    return found


def main() -> None:
    """Print both tables."""
    rows: list[tuple[float, ...]] = []
    errors: list[tuple[float, float]] = []
    for name in sys.argv[1:]:
        made = open_made(Path(name))
        score = page_of(made)
        windows = full_windows(made, score)
        spectra = estimated(made, score, windows, fair_sources(made))
        stems = stems_of(made)
        errors += level_errors(made, spectra, stems, windows)
        for row, stem in enumerate(stems):
            start = fullest(windows, row, made.mix.size / RATE_HZ)
            span = (
                int(start * RATE_HZ),
                min(int((start + PASSAGE_S) * RATE_HZ), made.mix.size),
            )
            found = one_line(made, spectra, stem, row, span)
            rows += [found] if found else []
    table, error = np.array(rows), np.array(errors)
    for low, high in ((-6, 9), (-12, -6), (-20, -12), (SOFTEST_DB, -20)):
        own = table[(table[:, 0] >= low) & (table[:, 0] < high)]
        if own.size:
            six = np.mean(np.abs(own[:, 1] - FORWARD_DB) <= 1.5)
            power, line, rest, out = np.median(own[:, 1:], axis=0)
            print(f"{low} to {high} dB, {len(own)} lines: forward by power {power:.1f} dB, "
                  f"within 1.5 dB {six:.2f}; line {line:.1f}, others {rest:.2f}; "
                  f"alone {out:.1f} dB out")  # fmt: skip
    for low, high in ((0.0, 0.45), (0.45, 0.6), (0.6, 0.8), (0.8, 1.01)):
        own = error[(error[:, 0] >= low) & (error[:, 0] < high), 1]
        if own.size:
            print(f"confidence {low} to {high}, {own.size} passages: mean {own.mean():+.1f}, "
                  f"off by {np.abs(own).mean():.1f} dB")  # fmt: skip


if __name__ == "__main__":
    main()
