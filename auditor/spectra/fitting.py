"""Fits levels and colours of all lines to the mix at once.

The mix's power in segment s and pool f is modelled as the sum over entries e of
``h[e] * W[atom(e), f] * Q[colour(e), f]``: a level, a template, and what this mix's
instrument adds to the template. Fit is measured by the Itakura-Saito divergence; levels
are held together by a tree of normal priors in the log domain (entry, note, line), the
colours by a smooth equaliser per line and a deviation per line and pitch.

References
----------
.. [1] C. Févotte, N. Bertin, J.-L. Durrieu, "Nonnegative matrix factorization with the
       Itakura-Saito divergence", Neural Comput. 21 (2009), 793-830.
.. [2] S. Ewert, B. Pardo, M. Müller, M. D. Plumbley, "Score-informed source separation
       for musical audio recordings", IEEE Signal Process. Mag. 31 (2014), 116-124.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from auditor.sound.spectrum import POOL_HZ
from auditor.spectra.image import TRUST, Stereo, in_halves
from auditor.spectra.problem import PARTIALS, Problem, Settings
from auditor.timbre.templates import AGES
from auditor.units import hz_to_cam

# Natural log of a power nobody hears (-160 dB of full scale); far below it the processor
# falls back to slow arithmetic on denormal numbers.
_QUIETEST = np.log(1e-16)
_NEPER = np.log(10.0) / 10.0  # one dB of power in natural log units

F32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Fitted:
    """What the fit found.

    Parameters
    ----------
    level : ndarray, shape (entries,)
        Power of each entry.
    atoms : ndarray, shape (atoms, pools), float32
        Template power with the colours applied.
    floor : ndarray, shape (segments, pools), float32
        Power that no line owns: too soft beside its surroundings.
    seat : ndarray, shape (lines,)
        Where each line sits in the image: half the difference of left and right against half
        their sum, positive for left. None in mono.
    """

    level: NDArray[np.float64]
    atoms: NDArray[np.float32]
    floor: NDArray[np.float32]
    seat: NDArray[np.float64] | None = None


@numba.njit(cache=True, fastmath=True, nogil=True)
def _pass(  # type: ignore[no-untyped-def]
    power, weight, first, atom, level, atoms, floor, ceiling, low, high, num, den, anum, aden
):
    """Sum share × surprise and share per entry and per atom, of pools `low` to `high`."""
    segments, pools = len(power), high - low
    model = np.empty(pools, np.float32)
    ratio = np.empty(pools, np.float32)
    anum[:, low:high] = 0.0
    aden[:, low:high] = 0.0
    for s in range(segments):
        a, b = first[s], first[s + 1]
        if a == b:
            continue
        model[:] = floor[s, low:high]
        heard = power[s, low:high]
        for e in range(a, b):
            h = np.float32(level[e])
            row = atoms[atom[e], low:high]
            for f in range(pools):
                model[f] += h * row[f]
        w = weight[s]
        for f in range(pools):
            inverse = np.float32(1.0) / model[f]
            ratio[f] = min(heard[f] * inverse, ceiling)
            model[f] = inverse * w
        for e in range(a, b):
            h = np.float32(level[e])
            k = atom[e]
            row, up, down = atoms[k, low:high], anum[k, low:high], aden[k, low:high]
            n = np.float32(0.0)
            d = np.float32(0.0)
            for f in range(pools):
                share = h * row[f] * model[f]
                n += share * ratio[f]
                d += share
                up[f] += share * ratio[f]
                down[f] += share
            num[e] = n
            den[e] = d


@numba.njit(cache=True, fastmath=True)
def _towards(unlike, anum, aden, line, pull, hold):  # type: ignore[no-untyped-def]
    """Add what each line's atoms say for each source to pull (lines, variants) and hold."""
    for k in range(line.size):
        for v in range(len(unlike)):
            one, ask = unlike[v, k], np.float32(0.0)
            for f in range(one.size):
                ask += one[f] * (anum[k, f] - aden[k, f])
            pull[line[k], v] += ask
            for w in range(len(unlike)):
                other, keep = unlike[w, k], np.float32(0.0)
                for f in range(one.size):
                    keep += one[f] * other[f] * aden[k, f]
                hold[line[k], v, w] += keep


@numba.njit(cache=True)
def _leant(out, unlike, leaning):  # type: ignore[no-untyped-def]
    """Add each atom's mixture of sources to its log gain; leaning (atoms, variants)."""
    for k in range(len(out)):
        for v in range(len(unlike)):
            for f in range(out.shape[1]):
                out[k, f] += leaning[k, v] * unlike[v, k, f]


def equaliser_basis(spacing_cam: float = 3.0) -> NDArray[np.float64]:
    """Triangular bumps every `spacing_cam` Cam, shape (bumps, pools)."""
    cam = hz_to_cam(POOL_HZ)
    centres = np.arange(3.0, 38.0, spacing_cam)
    bumps = np.clip(1.0 - np.abs(cam[None] - centres[:, None]) / spacing_cam, 0.0, None)
    bumps[0, cam < centres[0]] = 1.0
    bumps[-1, cam > centres[-1]] = 1.0
    return bumps


def _floor(power: NDArray[np.float32], floor_db: float) -> NDArray[np.float32]:
    """Power too far below its surroundings to be heard, or to tell lines apart.

    Templates of other instruments of the same kind disagree most between the partials;
    there the ear hears nothing but the slopes of the partials themselves.
    """
    cam = hz_to_cam(POOL_HZ)
    apart = cam[None] - cam[:, None]
    slope = np.where(apart > 0, -10.0 * apart, 25.0 * apart)
    spread = (10 ** (slope / 10)).astype(np.float32)
    quiet = 1e-6 * float(power.mean()) + 1e-14
    out: NDArray[np.float32] = (power @ spread * 10 ** (floor_db / 10) + quiet).astype(
        np.float32
    )
    return out


class _Tree:
    """Levels of lines, notes and entries in natural log units, and their priors."""

    def __init__(self, problem: Problem, settings: Settings) -> None:
        self._p, self._s = problem, settings
        ring = problem.age == AGES - 1
        colour = problem.atom_colour[problem.atom]
        entry_db = problem.spread(settings.entry_db, settings.own_entry_db)[colour]
        spread = np.where(ring, settings.ring_db, entry_db) * _NEPER
        self._entry_precision = 1.0 / spread**2
        note_db = np.full(problem.note_line.size, settings.note_db)
        note_db[problem.note] = problem.spread(settings.note_db, settings.own_note_db)[colour]
        self._note_precision = 1.0 / (note_db * _NEPER) ** 2
        self._line_precision = 1.0 / (settings.line_db * _NEPER) ** 2
        lines = int(problem.note_line.max()) + 1
        self._expected = problem.expected_db * _NEPER
        count = np.maximum(np.bincount(problem.note_line, minlength=lines), 1)
        self._line_expected = (
            np.bincount(problem.note_line, self._expected, minlength=lines) / count
        )
        self._offset = self._expected - self._line_expected[problem.note_line]
        self._lines = self.lines = lines
        entries = np.bincount(problem.note_line[problem.note], minlength=lines)
        colours = np.bincount(problem.colour_line, minlength=lines)
        self._distinct = (colours / np.maximum(entries, 1)) ** settings.repetition

    def start(self) -> NDArray[np.float64]:
        """Give the expected levels, moved so that the whole has the mix's power."""
        p = self._p
        x: NDArray[np.float64] = self._expected[p.note]
        total = float(p.power.sum(axis=1) @ np.diff(p.first).astype(bool))
        rows = p.templates.sum(axis=1)[p.atom]
        x += np.log(total / float((np.exp(x - x.max()) * rows).sum())) - x.max()
        return x

    def step(
        self, x: NDArray[np.float64], num: NDArray[np.float32], den: NDArray[np.float32]
    ) -> NDArray[np.float64]:
        """Most probable levels, given what the sound asks of each entry."""
        p, notes = self._p, self._offset.size
        weight = self._s.trust * den + 1e-9
        asked = x + np.log((num + 1e-12) / (den + 1e-12))
        seen = 1.0 / (1.0 / weight + 1.0 / self._entry_precision)
        note_sum = np.bincount(p.note, seen, minlength=notes) + 1e-12
        note_mean = np.bincount(p.note, seen * asked, minlength=notes) / note_sum
        up = 1.0 / (1.0 / note_sum + 1.0 / self._note_precision)
        rows = np.bincount(p.note_line, up, minlength=self._lines) + 1e-12
        pull = up * (note_mean - self._offset)
        line_mean: NDArray[np.float64] = (
            np.bincount(p.note_line, pull, minlength=self._lines) / rows
        )
        rows = rows * self._distinct + 1e-12  # lines without notes have no weight
        common = self._common(line_mean, rows)
        prior = self._line_expected + common
        line = (rows * line_mean + self._line_precision * prior) / (rows + self._line_precision)
        mean = line[p.note_line] + self._offset
        note = (note_sum * note_mean + self._note_precision * mean) / (
            note_sum + self._note_precision
        )
        best: NDArray[np.float64] = (weight * asked + self._entry_precision * note[p.note]) / (
            weight + self._entry_precision
        )
        return best

    def _common(self, line_mean: NDArray[np.float64], rows: NDArray[np.float64]) -> float:
        """Find the one constant between expected and heard levels."""
        sure = 1.0 / (1.0 / rows + 1.0 / self._line_precision)
        return float((sure * (line_mean - self._line_expected)).sum() / sure.sum())


class _Colours:
    """What a line's instrument adds to the templates, in natural log units.

    A leaning towards one source or another and an equaliser per line, a deviation per
    line and pitch.
    """

    def __init__(self, problem: Problem, settings: Settings) -> None:
        self._p, self._s = problem, settings
        self._basis = equaliser_basis()
        self._lines = int(problem.colour_line.max()) + 1
        self._atom_line = problem.colour_line[problem.atom_colour]
        self._of_atoms = _sums(problem.atom_colour, problem.colour_line.size)
        self._of_colours = _sums(problem.colour_line, self._lines)
        self._leaning = np.zeros((self._lines, len(problem.unlike)))
        self._partials = np.zeros((self._lines, PARTIALS))
        self._equaliser = np.zeros((self._lines, len(self._basis)))
        self._deviation = np.zeros((problem.colour_line.size, POOL_HZ.size))
        deviation_db = problem.spread(settings.deviation_db, settings.own_deviation_db)
        # A line of several timbres is as free as its freest.
        partial_db = np.full(self._lines, 1e-3)
        np.maximum.at(
            partial_db,
            problem.colour_line,
            problem.spread(settings.partial_db, settings.own_partial_db),
        )
        self._partial_db = partial_db[:, None]
        self._deviation_db = deviation_db[:, None]

    def log_gain(self) -> NDArray[np.float32]:
        """Natural log gain, shape (atoms, pools)."""
        p = self._p
        smooth = (self._equaliser @ self._basis)[p.colour_line] + self._deviation
        smooth += self._partials[p.colour_line[:, None], p.partial]
        out: NDArray[np.float32] = smooth.astype(np.float32)[p.atom_colour]
        _leant(out, p.unlike, self._leaning.astype(np.float32)[self._atom_line])
        return out

    def lean(
        self, anum: NDArray[np.float32], aden: NDArray[np.float32], damping: float
    ) -> None:
        """Move each line's mixture of sources towards what the sound asks."""
        s, unlike = self._s, self._p.unlike
        pull = np.zeros((self._lines, len(unlike)))
        hold = np.zeros((*pull.shape, len(unlike)))
        _towards(unlike, anum, aden, self._atom_line, pull, hold)
        prior = 1.0 / s.leaning**2
        pull = s.trust * pull - prior * self._leaning
        step = np.linalg.solve(s.trust * hold + prior * np.eye(len(unlike)), pull[..., None])
        self._leaning += damping * np.clip(step[..., 0], -0.5, 0.5)

    def step(
        self, anum: NDArray[np.float32], aden: NDArray[np.float32], damping: float
    ) -> None:
        """Move the colours towards what the sound asks of each atom."""
        p = self._p
        num, den = self._of_atoms @ anum, self._of_atoms @ aden
        line_num, line_den = self._of_colours @ num, self._of_colours @ den
        bumps = (line_num @ self._basis.T, line_den @ self._basis.T)
        cell = (p.colour_line[:, None] * PARTIALS + p.partial).ravel()
        shape, size = self._partials.shape, self._partials.size
        partials = tuple(
            np.bincount(cell, part.ravel(), minlength=size).reshape(shape)
            for part in (num, den)
        )
        for now, (up, down), spread_db in (
            (self._equaliser, bumps, self._s.equaliser_db),
            (self._partials, partials, self._partial_db),
            (self._deviation, (num, den), self._deviation_db),
        ):
            asked = now + np.log((up + 1e-9) / (down + 1e-9))
            weight = self._s.trust * down
            best = weight * asked / (weight + 1.0 / (spread_db * _NEPER) ** 2)
            now += damping * (best - now)
        self._partials[:, 0] = 0.0


def _sums(of: NDArray[np.int64], groups: int) -> csr_array:
    """Matrix that adds up rows by their group, shape (groups, rows)."""
    ones, rows = np.ones(of.size), np.arange(of.size)
    return csr_array((ones, (of, rows)), shape=(groups, of.size))


def _stereo(problem: Problem, settings: Settings, lines: int, floor: F32) -> Stereo | None:
    """Lay out the passes over a stereo mix; None in mono."""
    if problem.image is None or problem.image_tails is None:
        return None
    beside = problem.image_tails.copy()
    beside[:, 0] += floor
    beside[:, 2] += _floor(problem.image[:, 2], settings.floor_db)
    entries = (problem.first, problem.atom, problem.note_line[problem.note])
    return Stereo(
        problem.image, beside, problem.weight, entries, lines, settings.trust, settings.ceiling
    )


def fit(problem: Problem, settings: Settings) -> Fitted:
    """Fit levels and colours, and in stereo where lines sit; deterministic."""
    if problem.image is not None:
        settings = replace(settings, trust=settings.trust * TRUST)
    tree, colours = _Tree(problem, settings), _Colours(problem, settings)
    x: NDArray[np.float64] = tree.start()
    floor = _floor(problem.power, settings.floor_db)
    if problem.known is not None:
        floor = floor + problem.known
    beside = floor + problem.tails
    found = np.zeros((2, 2, x.size), np.float32)  # of each half of the pools: num and den
    anum, aden = np.zeros((2, *problem.templates.shape), np.float32)
    atoms = problem.templates.copy()
    stereo = _stereo(problem, settings, tree.lines, floor)

    def half(k: int, low: int, high: int) -> None:
        _pass(  # type: ignore[call-arg]
            problem.power, problem.weight, problem.first, problem.atom, np.exp(x), atoms,
            beside, np.float32(settings.ceiling), low, high, *found[k], anum, aden,
        )  # fmt: skip

    for k in range(settings.iterations):
        if stereo is not None:
            stereo.step(np.exp(x), atoms, found, (anum, aden), still=k < 2)
        else:
            in_halves(half, POOL_HZ.size)
        num, den = found.sum(axis=0)
        step = np.clip(0.7 * (tree.step(x, num, den) - x), -2.0, 2.0)
        np.maximum(x + step, _QUIETEST, out=x)
        if k >= 5:
            colours.lean(anum, aden, 0.5)
            colours.step(anum, aden, 0.5)
            gain = colours.log_gain()
            np.multiply(problem.templates, np.exp(gain, out=gain), out=atoms)
    return Fitted(np.exp(x), atoms, floor, None if stereo is None else stereo.seat)
