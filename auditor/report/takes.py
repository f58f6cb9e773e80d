"""Takes of a passage for comparison by ear: as it is, the line forward, alone, uncovered.

From stems that add up to the mix the takes are exact; from the mix alone they are parted
by the decomposition, an approximation. All takes of a page share one gain.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.auditing import Audit
from auditor.findings.finding import Finding
from auditor.report.clips import RATE_HZ, cut, reach
from auditor.report.places import line_of
from auditor.sound.level import calibration_db
from auditor.sound.reading import read_sound
from auditor.sound.spectrum import HOP
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.parting import reweighed, stretch_of
from auditor.units import db_to_power

FORWARD_DB = 6.0
# Mean error of a line's level over five seconds, dB, from a mean confidence of its spectra on:
# 316 passages of five made mixes against their stems (tests/bench/takes_bench.py).
_SURE = ((0.8, 1.0), (0.6, 2.0), (0.45, 3.0), (0.0, 4.0))

Array = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Wanted:
    """A passage somebody wants to hear: a finding and its seconds; `parted` for all takes."""

    finding: Finding
    start_s: float
    end_s: float
    parted: bool = True


@dataclass(frozen=True, slots=True)
class Take:
    """One way to hear a passage.

    Parameters
    ----------
    words
        What it is.
    samples : ndarray, shape (samples,), float32
        At 44.1 kHz.
    exact
        False for what was parted from the mix by estimate.
    sure_db
        By how many dB the estimate of the line's level is off, on average; 0 where exact.
    """

    words: str
    samples: Array
    exact: bool = True
    sure_db: float = 0.0


@dataclass(frozen=True, slots=True)
class _Plan:
    """One take: words, gain in dB by row, and gain of everything else."""

    words: str
    gains_db: tuple[tuple[int, float], ...]
    rest_db: float = 0.0


def takes_of(audit: Audit, wanted: Sequence[Wanted]) -> dict[str, tuple[Take, ...]]:
    """Every take of every passage by finding, none for what cannot be heard.

    Parameters
    ----------
    audit
        Whose mix is cut.
    wanted
        Passages in seconds.

    Returns
    -------
    dict
        By identifier of the finding; the first take is the mix as it is. The gain is such
        that no take is louder than the loudest sample of the mix.
    """
    heard = [w for w in wanted if reach(audit.samples, w.start_s, w.end_s) is not None]
    stems = _stem_pieces(audit, heard)
    made = {w.finding.id: _takes(audit, w, stems) for w in heard}
    loudest = max(
        (float(np.abs(t.samples).max()) for takes in made.values() for t in takes), default=0.0
    )
    allowed = float(np.abs(audit.samples).max(initial=0.0))
    gain = np.float32(min(1.0, allowed / loudest) if loudest > 0 else 1.0)
    for takes in made.values():
        for take in takes:
            np.multiply(take.samples, gain, out=take.samples)  # eighty takes are 200 MB
    return {name: tuple(takes) for name, takes in made.items()}


def _plans(audit: Audit, finding: Finding) -> list[_Plan]:
    """Plan the takes that answer what the finding asks; beside the mix as it is."""
    rows = [number - 1 for number in finding.lines]
    if finding.kind in ("silent", "works"):
        return []
    forward = _Plan(f"line {FORWARD_DB:.0f} dB forward", tuple((r, FORWARD_DB) for r in rows))
    alone = _Plan("line alone", tuple((r, 0.0) for r in rows), -math.inf)
    if finding.kind == "idle-doubling":
        row = rows[0]
        name = line_of(audit.score, row + 1).name
        return [_Plan(f"without {name}", ((row, -math.inf),)), forward, alone]
    chief = next((c.line for c in finding.covers if c.line not in finding.lines), None)
    if chief is None:
        return [forward, alone]
    name = line_of(audit.score, chief).name
    return [forward, alone, _Plan(f"without {name}", ((chief - 1, -math.inf),))]


def _takes(audit: Audit, wanted: Wanted, stems: dict[tuple[str, int], Array]) -> list[Take]:
    span = reach(audit.samples, wanted.start_s, wanted.end_s)
    assert span is not None
    first, last = span
    mix = audit.samples[first:last]
    plans = _plans(audit, wanted.finding) if wanted.parted else []
    rows = sorted({row for plan in plans for row, _ in plan.gains_db})
    exact = all((wanted.finding.id, row) in stems for row in rows)
    sounds = [mix]
    if plans and exact:
        own = {row: stems[wanted.finding.id, row] for row in rows}
        sounds += [_from_stems(mix, own, plan) for plan in plans]
    elif plans and audit.spectra is not None:
        gain = calibration_db(audit.samples, RATE_HZ, playback_db=audit.sounding.playback_db)
        stretch = stretch_of(audit.samples, audit.spectra, rows, span, gain)
        sounds += [reweighed(stretch, dict(p.gains_db), rest_db=p.rest_db) for p in plans]
    lines = [number - 1 for number in wanted.finding.lines]
    off = 0.0 if exact or audit.spectra is None else sure_db(audit.spectra, lines, span)
    words = ["as it is", *(plan.words for plan in plans)]
    return [
        Take(
            said, cut(sound, 0, sound.size), exact or sound is mix, 0.0 if sound is mix else off
        )
        for said, sound in zip(words, sounds, strict=False)
    ]


def sure_db(spectra: LineSpectra, rows: Sequence[int], span: tuple[int, int]) -> float:
    """By how many dB an estimate of some lines' level is off on average.

    Parameters
    ----------
    spectra
        Of the mix, frames `HOP` samples apart.
    rows
        Lines of `spectra`.
    span
        First sample, and the one after the last.
    """
    frames = slice(span[0] // HOP, span[1] // HOP + 1)
    power = db_to_power(spectra.level_db[list(rows), frames]).sum(axis=2)
    weight = power / max(float(power.sum()), 1e-12)
    confidence = float((spectra.confidence[list(rows), frames] * weight).sum())
    return next(error for least, error in _SURE if confidence >= least)


def _from_stems(mix: Array, own: dict[int, Array], plan: _Plan) -> Array:
    rest = 10 ** (plan.rest_db / 20)
    out = mix * np.float32(rest)
    for row, gain_db in plan.gains_db:
        out = out + np.float32(10 ** (gain_db / 20) - rest) * own[row]
    return out


def _stem_pieces(audit: Audit, wanted: Sequence[Wanted]) -> dict[tuple[str, int], Array]:
    """Passages of the stems that takes need; every file is read once, and let go."""
    needed: dict[int, list[Wanted]] = defaultdict(list)
    for w in wanted:
        if w.parted and audit.stems:
            for row in {r for plan in _plans(audit, w.finding) for r, _ in plan.gains_db}:
                needed[row].append(w)
    pieces: dict[tuple[str, int], Array] = {}
    for row, passages in needed.items():
        path = audit.stems[row]
        if path is None:
            continue
        samples = read_sound(path, may_be_silent=True).samples
        samples = np.pad(samples, (0, max(0, audit.samples.size - samples.size)))
        for w in passages:
            span = reach(audit.samples, w.start_s, w.end_s)
            if span is not None:
                pieces[w.finding.id, row] = samples[span[0] : span[1]].copy()
    return pieces
