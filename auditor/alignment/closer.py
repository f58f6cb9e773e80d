"""The order of bars once the tempo is roughly known: bars are told by their very notes.

A first reading says how fast the bars are taken and how strong each bin of the sound is
against what the page lets one expect. With both put right, the whole pitch (85 semitone
bins instead of twelve classes) tells places of the page apart that chroma confuses.
"""

from __future__ import annotations

import logging

import numpy as np
import scipy.ndimage
from numpy.typing import NDArray

from auditor.alignment.expected import Events
from auditor.alignment.page import Page
from auditor.alignment.path import unit_rows
from auditor.alignment.search import Heard, Prices, quiet, reading, search
from auditor.alignment.visits import Order

_log = logging.getLogger(__name__)

# A bar is taken as fast as those around it: middle of so many, then mean of so many.
_MIDDLE, _SMOOTH = 9, 5
# Strengths of bins are compared over this many semitones (standard deviation).
_COLOUR = 4.0
# A jump must explain so many seconds that would otherwise be anywhere in the piece.
_JUMP_S = 3.0
# A walk straight through is believed unless another order is cheaper by so many seconds
# that would otherwise be anywhere, for each place where it leaves the page's order.
_DEPARTURE_S = 0.5
# Foreign music costs this share of the way from the right place to any place.
_FOREIGN = 0.6
# And so does a repeat the page asks for, and each step off one frame of the page a frame.
_LOOP, _UNEVEN = 1.0, 0.4
_LAPS = 8

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I64 = NDArray[np.int64]


def closer(page: Page, notes: Events, sound: Heard, first: Order) -> Order:
    """Search the order once more, from a first reading; its cost and share are kept."""
    if not first.visits:
        return first
    fitted = _Fitted(page, notes, sound, first)
    right, anywhere, _ = fitted.costs(first)
    wrong = max(anywhere - right, 0.02)
    unit = sound.fps * wrong
    prices = Prices(
        _JUMP_S * unit,
        0.5 * _JUMP_S * unit,
        _LOOP * wrong,
        _UNEVEN * wrong,
        sound.filler(right + _FOREIGN * wrong),
    )
    walks = [
        search(
            page,
            sound,
            fitted.profile,
            fitted.expected,
            fitted.edges,
            prices,
            straight=straight,
        )
        for straight in (True, False)
    ]
    straight, free = (reading(page, sound, walk) for walk in walks)
    gain = walks[0].price - walks[1].price - _DEPARTURE_S * unit * free.departures
    _log.debug(
        "closer: right %.3f anywhere %.3f gain %.1f s, %d departures",
        right, anywhere, gain / unit, free.departures,
    )  # fmt: skip
    chosen = free if gain > 0 else straight
    return chosen if chosen.visits else first


def contrast(page: Page, notes: Events, sound: Heard, order: Order) -> float:
    """How much better the sound fits its places than others, against what the page promises.

    About 1 if other places of the piece are as unlike the sound as they are unlike the
    places themselves on the page; about 0 if the sound is no more like one than the other.
    """
    if not order.visits:
        return 0.0
    right, anywhere, promised = _Fitted(page, notes, sound, order).costs(order)
    return (anywhere - right) / max(promised, 0.02)


class _Fitted:
    """The page laid out at the tempo of a reading, in the colour of the sound."""

    def __init__(self, page: Page, notes: Events, sound: Heard, order: Order) -> None:
        self._sound = sound
        bar_s = page.even_s * np.exp2(_slowness(page, order))
        self.edges, pitch = page.laid_out(notes, bar_s, sound.fps)
        self.profile = unit_rows(sound.pitch, 0.0)
        at, place = self._pairs(order)
        if at.size:
            plain = unit_rows(pitch[place], quiet(pitch))
            pitch *= _colour(self.profile[at], plain)
        self.expected = unit_rows(pitch, quiet(pitch))

    def costs(self, order: Order) -> tuple[float, float, float]:
        """Mean cost of a frame in its place and in others, and of places against others."""
        at, place = self._pairs(order)
        if not at.size:
            return 1.0, 1.0, 1.0
        heard, expected = self.profile[at], self.expected[place]
        laps = [round(k * at.size / _LAPS) for k in range(1, _LAPS)]
        moved = [np.roll(expected, lap, axis=0) for lap in laps]
        return (
            _unlike(heard, expected),
            float(np.mean([_unlike(heard, other) for other in moved])),
            float(np.mean([_unlike(expected, other) for other in moved])),
        )

    def _pairs(self, order: Order) -> tuple[I64, I64]:
        """Frames of the sound, and of the played axis, that a reading puts together."""
        sound, heard, place = self._sound, [], []
        for visit in order.visits:
            at = np.arange(round(visit.start_s * sound.fps), round(visit.end_s * sound.fps))
            size = self.edges[visit.bar + 1] - self.edges[visit.bar]
            heard.append(at)
            place.append(self.edges[visit.bar] + (np.arange(at.size) * size) // max(at.size, 1))
        at, to = np.concatenate(heard), np.concatenate(place)
        sounding = ~sound.silent[at] & sound.pitch[at].any(axis=1)
        return at[sounding], to[sounding]


def _unlike(heard: F32, expected: F32) -> float:
    return 1.0 - float(np.einsum("ij,ij->i", heard, expected).mean())


def _slowness(page: Page, order: Order) -> F64:
    """Octaves by which each bar of the played axis is slower than at an even tempo."""
    # Mirrored, so that one bar at an end that drags does not become the middle.
    slow = scipy.ndimage.median_filter(page.slowness(order), _MIDDLE, mode="mirror")
    slow = scipy.ndimage.uniform_filter1d(slow, _SMOOTH, mode="nearest")
    rows = np.array([page.of(bar) for bar in order.bars])
    count = np.bincount(rows, minlength=page.first.size)
    known = np.flatnonzero(count)
    mean = np.bincount(rows, slow, minlength=page.first.size)[known] / count[known]
    every = np.interp(np.arange(page.first.size), known, mean)
    return np.asarray(every[[page.of(k) for k in range(page.written.size)]])


def _colour(heard: F32, expected: F32) -> F32:
    """Strength of each bin of the sound against what is expected, shape (85,)."""
    mean = [scipy.ndimage.gaussian_filter1d(r.mean(axis=0), _COLOUR) for r in (heard, expected)]
    return np.asarray((mean[0] + 1e-3) / (mean[1] + 1e-3), np.float32)
